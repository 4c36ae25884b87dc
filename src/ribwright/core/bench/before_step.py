"""Before a step that can't be undone: what must be so before a stage of one operation begins.

A hole, a dimple, a set rivet and cured sealant stay. So before each of these stages stands a short list,
from the tray and the marks on the parts; before a stage that closes a space, the closing list is added.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ribwright.core.bench.closing import (
    closing_list,
    closing_stage,
    discrepancy_lines,
    finish_lines,
    hand_lines,
    revision_line,
)
from ribwright.core.bench.standing import Line, Said, Thing, last_reading, stage_done

KEPT = ("drill", "dimple and countersink", "rivet", "seal", "bend", "roll", "bolt", "close")
"""Stages that leave something behind which can't be taken back."""


def step_list(
    operation: Thing, stage: str, things: Iterable[Thing], said: Sequence[Said], *, today: str = ""
) -> tuple[Line, ...]:
    """The lines before a stage begins; those of the closing list too, when the stage closes a space.

    Args:
        operation: whose stage it is.
        stage: its name.
        things: everything of its assembly, and the stock that its fasteners and materials name.
        said: standing entries about these, in the order of the record.
        today: the day, ``YYYY-MM-DD``.
    """
    known = list(things)
    by_ref = {thing.ref: thing for thing in known}
    about: dict[str, list[Said]] = {}
    for one in said:
        about.setdefault(one.about, []).append(one)
    own = about.get(operation.ref, [])
    parts = [by_ref[ref] for ref in operation.data.get("parts", ()) if ref in by_ref]
    lines = [_earlier(operation, stage, own)] if stage in KEPT else []
    if stage in KEPT:
        lines.append(revision_line(operation))
        lines += hand_lines(parts, operation.hand, about)
        lines += discrepancy_lines([operation, *parts], said)
    if stage == "dimple and countersink" and operation.data.get("head_side"):
        lines.append(_agrees("dimple", operation, own, "head side marked", str(operation.data["head_side"])))
    if stage == "rivet" and operation.data.get("fasteners"):
        lines += _rivet(operation, own, today)
    if stage == "seal":
        lines.append(_sealant(operation, own, by_ref, today))
    if stage and stage == closing_stage(operation):
        there = {(line.key, line.about) for line in lines}
        lines += [
            line
            for line in closing_list(operation, known, said, today=today)
            if (line.key, line.about) not in there
        ]
    return tuple(lines)


def _earlier(operation: Thing, stage: str, own: Sequence[Said]) -> Line:
    names = [str(one.get("name", "")) for one in operation.data.get("stages", ())]
    undone = (
        [name for name in names[: names.index(stage)] if stage_done(own, name) is None]
        if stage in names
        else [stage]
    )
    return Line(
        "order", operation.ref, "the stages before it are done", not undone, f"open: {', '.join(undone)}" if undone else "done",
        f"Finish {undone[0]} first." if undone else "",
    )  # fmt: skip


def _rivet(operation: Thing, own: Sequence[Said], today: str) -> list[Line]:
    lines = finish_lines(operation, own, today)
    wanted = [str(one["part_number"]) for one in operation.data["fasteners"]]
    taken = [one.text("item") for one in own if one.kind == "material" and one.stage == "rivet"]
    wrong = [item for item in taken if item not in wanted]
    lacking = [number for number in wanted if number not in taken]
    found = (
        f"{wrong[0]} lies in the tray"
        if wrong
        else f"{lacking[0]} is not in the tray"
        if lacking
        else "as drawn"
    )
    lines.append(
        Line(
            "tray", operation.ref, f"in the tray: {', '.join(wanted)}, by head mark and length", not wrong and not lacking, found,
            "Look at the head mark, measure the length, and enter the bag that you took; put a wrong one back.",
        )
    )  # fmt: skip
    if operation.data.get("calculation") == "seam" and operation.data.get("head_side", "").startswith(
        "outside"
    ):
        lines.append(_agrees("dimple", operation, own, "dimples as made", str(operation.data["head_side"])))
    stay = open_holes(operation)
    if stay:
        lines.append(_agrees("open holes", operation, own, "holes marked to stay open", ", ".join(stay)))
    if operation.data.get("calculation"):
        lines.append(_trial(operation, own, today))
    return lines


def open_holes(operation: Thing) -> list[str]:
    """Numbers of the holes that the drawing leaves open."""
    inputs = operation.data.get("inputs", {})
    rows = inputs.get("exceptions", ()) if isinstance(inputs, Mapping) else ()
    return [str(one["hole"]) for one in rows if one.get("what") == "left open"]


def _trial(operation: Thing, own: Sequence[Said], today: str) -> Line:
    made = [
        one
        for one in own
        if one.kind == "finding" and one.stage == "rivet" and one.text("where").startswith("trial")
    ]
    fresh = [one for one in made if not today or not one.day or one.day == today]
    newest: dict[str, Said] = {one.requirement: one for one in fresh}
    bad = [one for one in newest.values() if one.text("verdict") != "within limits"]
    found = (
        f"{bad[0].requirement}: {bad[0].text('verdict')}" if bad
        else "within limits" if newest else "made on another day" if made else "none yet"
    )  # fmt: skip
    return Line(
        "trial", operation.ref, "a trial piece of this set-up, of today, within limits", bool(newest) and not bad, found,
        "Set five rivets in scrap of the same stack and enter what you measure, with “trial” as the place.",
    )  # fmt: skip


def _agrees(key: str, operation: Thing, own: Sequence[Said], name: str, wanted: str) -> Line:
    seen = last_reading(own, name)
    value = seen.text("value") if seen is not None else ""
    return Line(
        key, operation.ref, f"{name}: {wanted}", value == wanted, value or "not looked at yet", f"Look at the part and the drawing, and enter “{name}”."
    )  # fmt: skip


def _sealant(operation: Thing, own: Sequence[Said], by_ref: Mapping[str, Thing], today: str) -> Line:
    used = [one for one in own if one.kind == "material" and one.stage == "seal"]
    item = used[-1].text("item") if used else ""
    stock = by_ref.get(item)
    expires = (used[-1].text("expires") if used else "") or (
        str(stock.data.get("expires", "")) if stock else ""
    )
    day = today or (used[-1].day if used else "")
    late = bool(expires and day and day > expires)
    found = f"{item} expired on {expires}" if late else item or "none taken yet"
    return Line(
        "sealing",
        operation.ref,
        "sealant in date",
        bool(used) and not late,
        found,
        "Take a tin that is in date, and enter it with its lot.",
    )
