"""Before you close it: the list that must be empty of open lines before an operation ends access to a space.

The list is made from what the drawing data say of the space and of the work inside it, and from what
stands in the record. Nothing in it is ticked for its own sake: a line is done when the record shows it.

What answers a line, by what is entered about it (``about`` the operation where nothing else is said):

    work        every stage of each operation inside, marked as finished
    heads       a reading ``heads looked at`` with as many as the row has rivets, and no head finding still bad
    nut plates  a reading ``nut plates`` with as many as are drawn, entered before the space is closed
    finish      each ``finish`` stage done and a ``material`` entry of primer on it, not past its date
    sealing     the sealing done and a ``material`` entry of sealant, not past its date on the day of use
    film        a reading ``protective film left`` about the space: 0
    hardware    a reading ``loose hardware missing`` about the space: 0
    twist       a finding ``twist`` about the space, within limits, after the last riveting inside it
    photo       a photo of each bay about the space, called by the bay's name
    discrepancy none open on the space or on anything in it
    second      a ``visit`` about the space by somebody who did not rivet it
    hand        each part of the hand that the assembly has; ``hand as made`` readings agree
    revision    drawings and parts not changed since the operation was made
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from ribwright.core.bench.standing import Line, Said, Thing, last_reading, stage_done

BY_EYE = "formed head by eye"
LOOKED, PLATES, FILM, HARDWARE, TWIST = (
    "heads looked at", "nut plates", "protective film left", "loose hardware missing", "twist",
)  # fmt: skip
SOLID = ("seam", "wedge-row")


def closing_stage(operation: Thing) -> str:
    """The stage that ends the access: ``close`` where there is one, else ``rivet``, else the last; "" for none."""
    if not operation.data.get("closes"):
        return ""
    names = [str(stage.get("name", "")) for stage in operation.data.get("stages", ())]
    return next((name for name in ("close", "rivet") if name in names), names[-1] if names else "")


def closing_list(
    operation: Thing, things: Iterable[Thing], said: Sequence[Said], *, today: str = ""
) -> tuple[Line, ...]:
    """The list before an operation closes its space; empty for an operation that closes nothing.

    Args:
        operation: the one that closes.
        things: everything of its assembly: the space, parts and operations.
        said: standing entries about these, in the order of the record.
        today: the day, ``YYYY-MM-DD``, for what has a date; "" when it doesn't matter.
    """
    closes = str(operation.data.get("closes") or "")
    if not closes:
        return ()
    by_ref = {thing.ref: thing for thing in things}
    space = by_ref.get(closes)
    if space is None:
        return (
            Line("space", closes, "the space is described", False, f"{closes} is not in the breakdown", "Enter the space."),
        )  # fmt: skip
    inside = [one for one in by_ref.values() if one.noun == "operation" and one.data.get("space") == closes]
    inside.sort(key=lambda one: one.ref)
    held = [by_ref[ref] for ref in space.data.get("holds", ()) if ref in by_ref]
    missing = [ref for ref in space.data.get("holds", ()) if ref not in by_ref]
    about: dict[str, list[Said]] = {}
    for entry in said:
        about.setdefault(entry.about, []).append(entry)
    lines: list[Line] = [
        Line(
            "part",
            ref,
            f"{ref} is in its place",
            False,
            "it is not in the breakdown",
            "Enter the part, or correct the space.",
        )
        for ref in missing
    ]
    for one in (*inside, operation):
        lines += _work(one, operation, about.get(one.ref, ()))
    for one in inside:
        lines += _of_operation(one, about.get(one.ref, ()), today)
    lines += finish_lines(operation, about.get(operation.ref, ()), today)
    lines += _hands(space, held, by_ref, about)
    lines += [revision_line(one) for one in (*inside, operation) if one.outdated]
    lines += _of_space(space, operation, inside, about)
    lines += discrepancy_lines([space, operation, *inside, *held], said)
    return tuple(lines)


def fastener_count(operation: Thing) -> int:
    """Fasteners of the row's first kind."""
    first = next(iter(operation.data.get("fasteners", ())), None)
    return int(first["count"]) if first else 0


def finish_lines(one: Thing, said: Sequence[Said], today: str) -> list[Line]:
    """A finish stage is done with a primer that was in date."""
    if not _has_stage(one, "finish"):
        return []
    done = stage_done(said, "finish")
    used = [entry for entry in said if entry.kind == "material" and entry.stage == "finish"]
    if done is None:
        found, good = "the finish is not done", False
    elif not used:
        found, good = "finished, but no primer is entered", False
    else:
        found, good = _in_date(used[-1], used[-1].day or today)
    return [
        Line("finish", one.ref, f"{one.title}: edges and mating faces primed", good, found, "Prime it while it can be reached, and enter primer and lot.")
    ]  # fmt: skip


def discrepancy_lines(things: Iterable[Thing], said: Iterable[Said]) -> list[Line]:
    """Every discrepancy on these that is not closed; one done line when there is none."""
    known = {thing.ref: thing for thing in things}
    unsettled = [
        one
        for one in said
        if one.kind == "discrepancy" and one.about in known and one.text("state") != "closed"
    ]
    if not unsettled:
        return [Line("discrepancy", "", "no discrepancy is open", True, "none")]
    return [
        Line("discrepancy", one.about, f"discrepancy {one.text('ref')} on {one.about} is settled", False, one.text("what") or one.text("state"), "Settle it first: rework, repair, use as is, or replace.")
        for one in unsettled
    ]  # fmt: skip


def revision_line(one: Thing) -> Line:
    """Something is made to an earlier revision."""
    return Line(
        "revision", one.ref, f"{one.title}: made to the drawing as it is now", not one.outdated,
        "made to an earlier revision" if one.outdated else "as drawn", "Compare both revisions; enter the operation again when it still holds.",
    )  # fmt: skip


def hand_lines(parts: Iterable[Thing], hand: str, about: Mapping[str, Sequence[Said]]) -> list[Line]:
    """Parts of the other hand, by the breakdown or by what was found on the bench."""
    lines = []
    for part in parts:
        wrong = (
            part.hand
            if hand in ("left", "right") and part.hand in ("left", "right") and part.hand != hand
            else ""
        )
        seen = last_reading(about.get(part.ref, ()), "hand as made")
        if seen is not None and part.hand in ("left", "right") and seen.text("value") != part.hand:
            wrong = seen.text("value") or "not said"
        if wrong:
            lines.append(
                Line("hand", part.ref, f"{part.title}: of the {hand if hand != 'none' else part.hand} hand", False, f"it is {wrong}", "Make the part for this side; two of one hand don't make a pair.")
            )  # fmt: skip
    return lines


def _work(one: Thing, closing: Thing, said: Sequence[Said]) -> list[Line]:
    last = closing_stage(closing) if one.ref == closing.ref else ""
    names = [str(stage.get("name", "")) for stage in one.data.get("stages", ())]
    if last:
        names = names[: names.index(last)]
    undone = [name for name in names if stage_done(said, name) is None]
    if not names:
        return []
    return [
        Line(
            "work", one.ref, f"{one.title}: all its stages are done", not undone, f"open: {', '.join(undone)}" if undone else "done",
            f"Finish {undone[0]} of {one.ref} first." if undone else "",
        )
    ]  # fmt: skip


def _of_operation(one: Thing, said: Sequence[Said], today: str) -> list[Line]:
    lines = finish_lines(one, said, today)
    kind = str(one.data.get("kind", ""))
    if one.data.get("calculation") in SOLID and _has_stage(one, "rivet"):
        lines.append(_heads(one, said))
    if kind == "nut plates":
        wanted = str(one.data.get("nut_plates", "0"))
        lines.append(
            _counted(
                "nut plates",
                one,
                said,
                PLATES,
                wanted,
                f"{one.title}: {wanted} nut plates are in, each tried with its screw",
            )
        )
    if kind == "sealing":
        used = [entry for entry in said if entry.kind == "material" and entry.stage == "seal"]
        if stage_done(said, "seal") is None:
            found, good = "not sealed yet", False
        elif not used:
            found, good = "sealed, but no sealant is entered", False
        else:
            found, good = _in_date(used[-1], used[-1].day or today)
        lines.append(
            Line("sealing", one.ref, f"{one.title}: sealed, with sealant in date", good, found, "Seal it while it can be reached; old sealant comes out again.")
        )  # fmt: skip
    return lines


def _heads(one: Thing, said: Sequence[Said]) -> Line:
    wanted = fastener_count(one)
    line = _counted("heads", one, said, LOOKED, str(wanted), f"{one.title}: each of {wanted} heads looked at")
    bad: dict[tuple[str, str], Said] = {}
    for entry in said:
        if (
            entry.kind == "finding"
            and entry.requirement.startswith("formed head")
            and entry.text("where") != "trial"
        ):
            bad[entry.requirement, entry.text("where")] = entry
    # nothing wrong seen by eye is what every head is that was looked at; only a measured one that is undecided stays open
    still = [
        entry
        for entry in bad.values()
        if entry.text("verdict") == "rework"
        or (entry.text("verdict") == "undecided" and entry.requirement != BY_EYE)
    ]
    if line.done and still:
        first = still[0]
        return Line(
            "heads", one.ref, line.text, False, f"{first.requirement} {first.text('where')}: {first.text('verdict')}".replace("  ", " "),
            "Replace or measure these rivets, and enter the new reading for the same hole.",
        )  # fmt: skip
    return line


def _counted(key: str, one: Thing, said: Sequence[Said], name: str, wanted: str, text: str) -> Line:
    seen = last_reading(said, name)
    value = seen.text("value") if seen is not None else ""
    # a row set again after the look has to be looked at again
    later = seen is not None and any(
        entry.kind == "work" and entry.stage == "rivet" and entry.seq > seen.seq for entry in said
    )
    found = (
        "not counted yet"
        if not value
        else f"{value} of {wanted}" + (", but riveted after that" if later else "")
    )
    return Line(
        key,
        one.ref,
        text,
        value == wanted and not later,
        found,
        f"Look at each and enter “{name}”: {wanted}.",
    )


def _hands(
    space: Thing, held: Sequence[Thing], by_ref: Mapping[str, Thing], about: Mapping[str, Sequence[Said]]
) -> list[Line]:
    above = by_ref.get(space.parent)
    hand = above.hand if above is not None else space.hand
    lines = hand_lines(held, hand, about)
    return lines or [
        Line("hand", space.ref, "every part is of this hand", True, hand if hand != "none" else "no hand")
    ]


def _of_space(
    space: Thing, operation: Thing, inside: Sequence[Thing], about: Mapping[str, Sequence[Said]]
) -> list[Line]:
    said = about.get(space.ref, ())
    lines = []
    if space.data.get("film") == "yes":
        lines.append(_nought("film", space, said, FILM, "no protective film or tape is left inside"))
    if space.data.get("loose_hardware") == "yes":
        lines.append(
            _nought("hardware", space, said, HARDWARE, "loose hardware and tools counted: none is missing")
        )
    if space.data.get("twist") == "yes":
        lines.append(_twist(space, inside, said, about))
    # a bay's photo is named by its caption; older entries say it in their position
    photos = {entry.text(name) for entry in said if entry.kind == "photo" for name in ("caption", "position")}
    for bay in space.data.get("bays", ()):
        lines.append(
            Line("photo", space.ref, f"photo of {bay}", bay in photos, "there" if bay in photos else "none", f"Take it now, and call it “{bay}”.")
        )  # fmt: skip
    if space.data.get("second_person") == "yes":
        lines.append(_second(space, operation, inside, said, about))
    return lines


def _nought(key: str, space: Thing, said: Sequence[Said], name: str, text: str) -> Line:
    seen = last_reading(said, name)
    value = seen.text("value") if seen is not None else ""
    return Line(
        key,
        space.ref,
        text,
        value == "0",
        value or "not looked at yet",
        f"Look, take it out, and enter “{name}”: 0.",
    )


def _twist(
    space: Thing, inside: Sequence[Thing], said: Sequence[Said], about: Mapping[str, Sequence[Said]]
) -> Line:
    seen = last_reading(said, TWIST, "finding")
    riveted = max(
        (e.seq for one in inside for e in about.get(one.ref, ()) if e.kind == "work" and e.stage == "rivet"),
        default=0,
    )
    if seen is None:
        found, good = "not measured", False
    elif seen.text("verdict") != "within limits":
        found, good = f"{seen.text('verdict')}: {seen.text('reason')}", False
    elif seen.seq < riveted:
        found, good = "measured before the last rivets went in", False
    else:
        found, good = "within limits", True
    return Line(
        "twist",
        space.ref,
        "twist measured, within limits",
        good,
        found,
        "Measure it on the level table; after this row it stays as it is.",
    )


def _same_person(name: str) -> str:
    """A name as it is compared: "The builder" and "builder" are one person."""
    return " ".join(name.split()).casefold().removeprefix("the ")


def _second(
    space: Thing,
    operation: Thing,
    inside: Sequence[Thing],
    said: Sequence[Said],
    about: Mapping[str, Sequence[Said]],
) -> Line:
    builders = {
        _same_person(e.text("person") or e.by)
        for one in (*inside, operation)
        for e in about.get(one.ref, ())
        if e.kind == "work"
    }
    looked = [e.text("who") or e.by for e in said if e.kind == "visit"]
    others = [name for name in looked if _same_person(name) not in builders]
    found = (
        f"{others[-1]} looked in"
        if others
        else f"only {looked[-1]}, who worked on it"
        if looked
        else "nobody yet"
    )
    return Line(
        "second",
        space.ref,
        "somebody else has looked in",
        bool(others),
        found,
        "Ask a person who did not rivet it to look in, and enter the visit.",
    )


def _in_date(used: Said, day: str) -> tuple[str, bool]:
    expires = used.text("expires")
    if expires and day and day > expires:
        return f"{used.text('item')} lot {used.text('lot') or '-'} had expired on {expires}", False
    return f"{used.text('item')} lot {used.text('lot') or '-'}", True


def _has_stage(one: Thing, name: str) -> bool:
    return any(stage.get("name") == name for stage in one.data.get("stages", ()))
