"""Photos on a gauge sheet: measured, compared, kept with reading, finding and overlay."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ribwright.core.record.entry import Entry
from ribwright.errors import ConflictError, MissingError, UnreadablePhotoError
from ribwright.services.entering import NewEntry, add_entries, add_entry
from ribwright.services.gauge import Sheet, keep_on_sheet
from ribwright.services.passing import passing_folder
from ribwright.services.photo_next import (
    holes_next,
    largest_of,
    profile_next,
    profile_said,
    row_next,
    straightness_said,
)
from ribwright.services.photos import OVERLAY, add_photo
from ribwright.services.project import Actor, Project
from ribwright.services.rolled import plan_at

PROFILE = "profile, by photo"
TRACED = {
    "profile": "target, traced edge, deviation enlarged", "row": "rims as traced, how sure, findings",
    "straightness": "straight line, edge as traced, departure enlarged",
}  # fmt: skip
IN_ROW = {"formed heads": "formed head", "flush heads": "flush head", "holes": "hole", "dimples": "dimple"}


@dataclass(frozen=True, slots=True)
class Measured:
    """What photos on a sheet said; ``answer`` is the same mapping as the command line's."""

    answer: Mapping[str, Any]
    next: str
    pictures: tuple[bytes, ...] = ()

    @property
    def said(self) -> str:
        """What was measured, in numbers; empty for a row, whose heads are a table."""
        if self.answer["status"] != "measured" or "u95_mm" not in self.answer:
            return ""
        if "bow_mm" in self.answer:
            return straightness_said(self.answer)
        return profile_said(self.answer)


def measure_on_sheet(
    project: Project, sheet: Sheet, contents: Sequence[bytes], *, typed: Mapping[str, Any]
) -> Measured:
    """Measure one or two photos on a sheet; nothing is entered.

    Raises:
        MissingError: no photo.
        InputError: typed values that can't be used, a file that is no photo.
    """
    if not contents:
        raise MissingError("photo", mend="Take one of the whole sheet, better two.")
    with passing_folder() as folder:
        paths = []
        for number, content in enumerate(contents[:2]):
            path = folder / f"photo {number + 1}"
            path.write_bytes(content)
            paths.append(path)
        return (
            _profile(project, sheet, paths, typed) if sheet.kind == "profile" else _row(sheet, paths, typed)
        )


def _profile(project: Project, sheet: Sheet, paths: list[Path], typed: Mapping[str, Any]) -> Measured:
    import numpy as np

    from ribwright.core.metrology.two_photos import together
    from ribwright.services.photo_measure import profile_reading
    from ribwright.services.photo_overlay import profile_jpeg

    def measured(path: Path) -> tuple[dict[str, Any], bytes | None]:
        answer, reading, taken = profile_reading(path, layout=sheet.layout, typed=typed)
        if reading is None or taken is None:
            return answer, None
        return answer, profile_jpeg(reading, taken, tolerance_mm=float(typed["tolerance_mm"]))

    with ThreadPoolExecutor(max_workers=2) as pool:  # most of the work is done outside the interpreter's lock
        done = list(pool.map(measured, paths))
    made = [answer for answer, _ in done]
    pictures = [picture for _, picture in done if picture is not None]
    first = dict(made[0])
    refused = next((one for one in made if one["status"] != "measured"), None)
    if refused is not None:
        return Measured(dict(refused), f"Take it again: {refused['reason']}", tuple(pictures))
    if len(made) == 2:
        pairs = [
            (np.array(one["deviation_bestfit_mm"], dtype=float), np.array(one["u95_mm"], dtype=float))
            for one in made
        ]
        both = together(pairs[0], pairs[1])
        if not both.agree:
            return Measured(
                {**first, "status": "retake", "reason": both.reason, "finding": "undecided"},
                f"Take both again: {both.reason}",
                tuple(pictures),
            )
        first |= _judged(both.deviation_mm, both.u95_mm, float(typed["tolerance_mm"]))
        first["notes"] = [*first["notes"], f"Two photos agree to {both.largest_difference_mm:.2f} mm."]
    else:
        first["notes"] = [
            *first["notes"],
            "One photo only: a second one from further away shows whether the end lay flush.",
        ]
    said = profile_next(
        first,
        float(typed["tolerance_mm"]),
        layout=sheet.layout,
        plan=plan_at(project, sheet.about, sheet.place),
    )
    return Measured(first, said, tuple(pictures))


def _judged(deviation: Any, u95: Any, tolerance: float) -> dict[str, Any]:
    import numpy as np

    from ribwright.core.metrology.profile import decide

    seen = np.isfinite(deviation)
    rows = [None if not ok else round(float(v), 4) for v, ok in zip(deviation, seen, strict=True)]
    limits = [None if not ok else round(float(v), 4) for v, ok in zip(u95, seen, strict=True)]
    return {
        "deviation_bestfit_mm": rows,
        "u95_mm": limits,
        "max_abs_bestfit_mm": round(float(np.abs(deviation[seen]).max()), 4),
        "finding": decide(deviation, u95, tolerance),
    }


def _row(sheet: Sheet, paths: list[Path], typed: Mapping[str, Any]) -> Measured:
    from ribwright.services.photo_measure import row_reading
    from ribwright.services.photo_overlay import row_jpeg

    if sheet.kind == "straightness":
        from ribwright.services.photo_straight import straightness_photo

        edge, drawn = straightness_photo(paths[0], layout=sheet.layout, typed=typed)
        if edge["status"] != "measured":
            return Measured(edge, f"Take it again: {edge['reason']}")
        return Measured(edge, edge["next"], () if drawn is None else (drawn,))
    answer, reading, taken = row_reading(paths[0], layout=sheet.layout, typed=typed)
    picture = None if reading is None or taken is None else row_jpeg(reading, taken)
    pictures = () if picture is None else (picture,)
    if answer["status"] != "measured":
        return Measured(answer, f"Take it again: {answer['reason']}", pictures)
    if typed.get("what") in ("holes", "dimples"):
        return Measured(answer, holes_next(answer, str(typed["what"])), pictures)
    return Measured(answer, row_next(answer, typed), pictures)


def check_known_size(
    project: Project,
    sheet: Sheet,
    photo: tuple[str, bytes],
    *,
    actor: Actor,
    request_id: str,
    typed: Mapping[str, Any],
) -> Mapping[str, Any]:
    """A thing of known size on the sheet measured; the photo, and what it says of phone and printer, are kept with the
    operation.

    Args:
        photo: name and content.

    Raises:
        InputError: typed values that can't be used, a file that is no photo.
    """
    from ribwright.services.photo_check import known_size_photo

    with passing_folder() as folder:
        path = folder / "photo"
        path.write_bytes(photo[1])
        answer = known_size_photo(path, layout=sheet.layout, typed=typed)
    measured = answer["status"] == "measured"
    caption = f"on {sheet.ref}, a thing of known size" + (
        "" if measured else f", not measured: {answer['reason']}"
    )
    keep_on_sheet(
        project, actor=actor, request_id=f"{request_id}-p0", sheet=sheet, photo=photo, caption=caption
    )
    if measured:
        add_entry(
            project, actor=actor, request_id=request_id, kind="note", about=sheet.about,
            body={"words": f"{sheet.ref}, a thing of known size photographed. {answer['words']}"},
        )  # fmt: skip
    return answer


def enter_measured(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    sheet: Sheet,
    stage: str = "",
    photos: Sequence[tuple[str, bytes]],
    typed: Mapping[str, Any],
) -> tuple[Measured, tuple[Entry, ...]]:
    """Keep the photos, measure them, and enter reading, finding and overlay; a photo that can't be measured is
    kept with its refusal, one that can't even be opened as it was sent.

    Args:
        photos: name and content of one or two.

    Raises:
        As ``measure_on_sheet``: then the photo was no photo, and nothing is kept.
    """
    got = measure_on_sheet(project, sheet, [content for _, content in photos], typed=typed)
    measured = got.answer["status"] == "measured"
    caption = f"on {sheet.ref}" + ("" if measured else f", not measured: {got.answer['reason']}")
    made = [
        keep_on_sheet(
            project, actor=actor, request_id=f"{request_id}-p{number}", sheet=sheet, stage=stage, photo=one, caption=caption
        )
        for number, one in enumerate(photos[:2])
    ]  # fmt: skip
    for number, picture in enumerate(got.pictures if measured else ()):
        made.append(
            add_photo(
                project,
                actor=actor,
                request_id=f"{request_id}-o{number}",
                content=picture,
                about=sheet.about,
                name=OVERLAY,
                caption=f"{sheet.ref}: {TRACED[sheet.kind]}",
                stage=stage,
            )
        )
    if measured:
        made += add_entries(
            project, actor=actor, request_id=f"{request_id}-r", items=_entries(sheet, got, stage, typed, made)
        )
    return got, tuple(made)


def keep_refused(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    sheet: Sheet,
    photos: Sequence[tuple[str, bytes]],
    reason: str,
    stage: str = "",
) -> tuple[str, ...]:
    """Keep photos that could not be measured for what was typed beside them, with the reason.

    Returns:
        The mark of each, by which it can be measured once that is mended; "" for what is no photo.
    """
    marks = []
    for number, photo in enumerate(photos[:2]):
        try:
            kept = keep_on_sheet(
                project, actor=actor, request_id=f"{request_id}-p{number}", sheet=sheet, stage=stage, photo=photo,
                caption=f"on {sheet.ref}, not measured: {reason}",
            )  # fmt: skip
        except UnreadablePhotoError:
            marks.append("")
        else:
            marks.append(str(kept.body["digest"]))
    return tuple(marks)


def _entries(
    sheet: Sheet, got: Measured, stage: str, typed: Mapping[str, Any], kept: Sequence[Entry]
) -> list[NewEntry]:
    answer = got.answer
    marks = [str(entry.body["digest"])[:12] for entry in kept]
    common = {
        "stage": stage,
        "instrument": f"photo on {sheet.ref}",
        "photos": marks,
        "typed": json.dumps(typed),
    }
    if sheet.kind == "row":
        return _head_entries(sheet, answer, common, IN_ROW[str(typed.get("what") or "formed heads")])
    if sheet.kind == "profile":
        largest, sure = largest_of(answer)
        reading = {
            "requirement": PROFILE, "value": f"{largest:.2f}", "unit": "mm", "u": f"{sure:.2f}",
            "deviation": json.dumps(answer["deviation_bestfit_mm"]), "limits": json.dumps(answer["u95_mm"]),
        }  # fmt: skip
        verdict, reason = (
            str(answer["finding"]),
            f"largest deviation {largest:.2f} mm against ± {float(typed['tolerance_mm']):.2f} mm",
        )
    else:
        reading = {
            "requirement": "straightness, by photo",
            "value": f"{answer['bow_mm']:.2f}",
            "unit": "mm",
            "u": f"{answer['u95_mm']:.2f}",
        }
        verdict, reason = str(answer["finding"]), got.said
    finding = {
        "requirement": reading["requirement"],
        "verdict": verdict,
        "reason": reason,
        "next": got.next,
        "stage": stage,
    }
    return [
        NewEntry("reading", {k: v for k, v in {**common, **reading}.items() if v}, sheet.about),
        NewEntry("finding", {k: v for k, v in finding.items() if v}, sheet.about),
    ]


def _head_entries(
    sheet: Sheet, answer: Mapping[str, Any], common: Mapping[str, Any], one: str
) -> list[NewEntry]:
    # nothing wrong seen from above is not within limits: height, gap and cracks are for a gauge
    verdicts = {"reject": "rework", "undecided": "undecided", "nothing wrong seen": "undecided"}
    open_ones = one in (IN_ROW["holes"], IN_ROW["dimples"])
    then = {
        "reject": "",
        "undecided": "try it with the drill's shank or a pin" if open_ones else "put the gauge on it",
        "nothing wrong seen": "try a sample with a pin" if open_ones else "put the gauge on a sample",
    }
    unsaid = {"undecided": "the photo can't tell", "nothing wrong seen": "nothing wrong seen from above"}
    items = []
    for number, head in enumerate(answer["heads"], start=1):
        where = f"number {number} from the left"
        reading = {
            **common, "requirement": f"{one}, by photo", "value": f"{head['d_max']:.2f}", "unit": "mm", "u": f"{head['u95_mm']:.2f}", "where": where,
            "smallest": f"{head['d_min']:.2f}",
        }  # fmt: skip
        finding = {
            "requirement": f"{one}, by photo", "verdict": verdicts[head["finding"]], "where": where, "stage": common["stage"],
            "reason": "; ".join(head["reasons"]) or unsaid.get(head["finding"], ""), "next": then[head["finding"]],
        }  # fmt: skip
        items += [
            NewEntry("reading", {k: v for k, v in reading.items() if v}, sheet.about),
            NewEntry("finding", {k: v for k, v in finding.items() if v}, sheet.about),
        ]
    if not items:
        raise ConflictError("photo", because=f"no {one} was found on it", mend="Take it again.")
    return items
