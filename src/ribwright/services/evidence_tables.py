"""Tables of the evidence pack that look over the whole aeroplane: spaces, lots, major portion."""

from __future__ import annotations

import json
from typing import Any

from ribwright.core.scene import Block, Heading, PageBreak, Paragraph, Table
from ribwright.services.closing import spaces
from ribwright.services.lots import LotIn, lots_in
from ribwright.services.portion import ClaimLine, portion_view
from ribwright.services.project import Project
from ribwright.services.record import (
    HistoryLine,
    discrepancies,
    findings,
    objects,
    photos,
    readings,
    recent,
    work,
)

MOST = 10_000
_COUNTS = ("protective film left", "loose hardware missing", "twist")


def closed_spaces(project: Project) -> list[Block]:
    """Every space: whether it is closed, who looked in before, what was counted, and what was wrong inside."""
    every = spaces(project)
    blocks: list[Block] = [Heading("Spaces closed, and who looked in before", 1)]
    if not every:
        return [*blocks, Paragraph("No space is entered.")]
    visits: dict[str, list[HistoryLine]] = {}
    for line in reversed(recent(project, kinds=("visit",), limit=MOST)):
        if line.stands:
            visits.setdefault(line.entry.about, []).append(line)
    log: dict[str, list[dict[str, Any]]] = {}
    for row in work(project):
        log.setdefault(row["about"], []).append(row)
    pictures: dict[str, int] = {}
    for photo in photos(project):
        pictures[photo["about"]] = pictures.get(photo["about"], 0) + 1
    inside = _inside(project)
    wrong: dict[str, list[dict[str, Any]]] = {}
    for row in discrepancies(project):
        wrong.setdefault(row["about"], []).append(row)
    counts = _counts(project)
    shut, rows = 0, []
    for space, closer, closed in every:
        seen = visits.get(space.ref, [])
        if not closed and not seen:
            continue
        ends = [row for row in log.get(closer, ()) if row["done"] == "yes"]
        end = ends[-1] if closed and ends else None
        shut += closed
        before = [line for line in seen if end is None or line.entry.seq < end["seq"]]
        looked = "; ".join(
            f"{line.entry.body.get('who') or line.entry.by}, {line.entry.at[:10]}: {line.entry.body.get('words', '')}"
            for line in before
        )
        mine = [
            row
            for ref in (space.ref, closer, *inside.get(space.ref, ()), *space.data.get("holds", ()))
            for row in wrong.get(ref, ())
        ]
        rows.append(
            (
                f"{space.ref} {space.title}", f"{end['day']} by {end['person']}, {closer}" if end else "still open", looked or "nobody is noted",
                "; ".join([*counts.get(space.ref, ()), f"{pictures.get(space.ref, 0)} photos"]),
                "; ".join(f"{row['ref']} on {row['about']}: {row['what']}" for row in mine) or "nothing noted",
            )
        )  # fmt: skip
    blocks.append(
        Paragraph(
            f"{shut} of {len(every)} spaces are closed. What became of each discrepancy stands in the next table, under its number."
        )
    )
    if rows:
        blocks.append(
            Table(("space", "closed", "who looked in before", "counted, measured", "what was wrong inside"), tuple(rows), widths=(0.2, 0.16, 0.26, 0.16, 0.22))
        )  # fmt: skip
    return blocks


def _inside(project: Project) -> dict[str, list[str]]:
    made: dict[str, list[str]] = {}
    for one in objects(project, noun="operation"):
        if one.data.get("space"):
            made.setdefault(str(one.data["space"]), []).append(one.ref)
    return made


def _counts(project: Project) -> dict[str, list[str]]:
    """The newest count of film, hardware and twist of each space."""
    newest: dict[str, dict[str, str]] = {}
    for row in readings(project):
        if row["requirement"] in _COUNTS:
            newest.setdefault(row["about"], {})[row["requirement"]] = (
                f"{row['requirement']} {row['value']} {row['unit']}".strip()
            )
    for row in findings(project):
        if row["requirement"] == "twist":
            newest.setdefault(row["about"], {})["twist"] = f"twist {row['verdict']} ({row['reason']})"
    return {ref: list(said.values()) for ref, said in newest.items()}


def materials_and_lots(project: Project) -> list[Block]:
    """Which lot of what went where, and how that is known."""
    groups: dict[tuple[str, str, str, str, str], list[LotIn]] = {}
    for one in lots_in(project):
        groups.setdefault((one.item, one.title, one.lot, one.from_where, one.known), []).append(one)
    blocks: list[Block] = [Heading("Materials and lots", 1)]
    if not groups:
        return [*blocks, Paragraph("Nothing is booked yet.")]
    rows = tuple(
        (
            f"{item}\n{title}" if title != item else item,
            lot or "-",
            known,
            origin or "opening stock",
            ", ".join(dict.fromkeys(one.operation for one in of)),
        )
        for (item, title, lot, origin, known), of in sorted(groups.items())
    )
    return [
        *blocks,
        Paragraph(
            "A lot is noted at the bench; where it was not and only one lot was in the store, it is that one, and the table says so."
        ),
        Table(
            ("what", "lot", "how known", "came from", "in operations"),
            rows,
            widths=(0.24, 0.1, 0.14, 0.2, 0.32),
        ),
    ]


def major_portion(project: Project) -> list[Block]:
    """The builder's tenths, the running total, and what stands behind each claim."""
    view = portion_view(project)
    listed, total = view.listed, view.total
    claimed = [line for line in view.lines if line.claim is not None]
    blocks: list[Block] = [PageBreak(), Heading("Major portion: the builder's tenths", 1)]
    if not claimed:
        return [*blocks, Paragraph("No task is claimed yet.")]
    share = "-" if total.share is None else f"{total.share:.1f} %"
    against = (
        f" Against the list's least share: {total.finding.verdict.value}, {total.finding.reason}"
        if total.finding
        else ""
    )
    blocks += [
        Paragraph(f"List: {listed.country}. Rule: {listed.rule}. Words of the tasks: {listed.rung}; least share: {listed.least_rung}."),
        Paragraph(
            f"The builder's share so far: {share} of {total.claimed} tasks claimed; {total.left_out} left out as not applying, {total.open} are not claimed yet. "
            f"If all of those went to others it would be {total.least:.1f} %, if to the builder {total.most:.1f} %.{against}"
        ),
        Table(
            ("column", "", "counts for the builder", "points"),
            tuple((one.key, one.title, "yes" if one.builder else "no", one.points) for one in total.columns),
            widths=(0.1, 0.5, 0.25, 0.15), numeric=(3,),
        ),
    ]  # fmt: skip
    keys = [column.key for column in listed.columns]
    rows = tuple(
        (
            line.task.key,
            f"{line.task.section}: {line.task.title}",
            *(line.points(key) for key in keys),
            _behind(line),
            "; ".join(line.weak) or "-",
        )
        for line in claimed
    )
    share_of = 0.2 / len(keys)
    widths = (0.08, 0.26, *(share_of for _ in keys), 0.26, 0.2)
    blocks.append(
        Table(
            ("task", "what", *keys, "evidence", "weak"),
            rows,
            widths=widths,
            numeric=tuple(range(2, 2 + len(keys))),
        )
    )
    return blocks


def _behind(line: ClaimLine) -> str:
    claim, proof = line.claim, line.evidence
    if claim is None or not claim.applies:
        return f"does not apply: {claim.words}" if claim else ""
    said = f"{', '.join(claim.evidence) or 'none named'}; {proof.entries} entries, builder {proof.builder_hours:.1f} h, others {proof.other_hours:.1f} h"
    return f"{said}; {proof.photos} photos, {proof.builder_photos} with the builder" + (
        f". {claim.words}" if claim.words else ""
    )


def departures(project: Project) -> list[Block]:
    """What was built otherwise than drawn, and notices that were taken up; with who decided it."""
    used = [row for row in discrepancies(project) if row["decision"] in ("use as is", "repair")]
    lines = [line for line in recent(project, kinds=("departure", "notice"), limit=MOST) if line.stands]
    decided = {
        str(line.entry.body.get("discrepancy")): line.entry.at[:10]
        for line in recent(project, kinds=("disposition",), limit=MOST)
        if line.stands
    }
    rows = [
        (line.entry.at[:10], line.entry.kind, line.entry.about, str(line.entry.body.get("words", "")), line.entry.by) for line in reversed(lines)
    ] + [
        (_day(row) or decided.get(row["ref"], ""), row["decision"], row["about"], f"{row['ref']}: {row['what']}. {row['reason']}", row["authority"] or row["decided_by"]) for row in used
    ]  # fmt: skip
    blocks: list[Block] = [Heading("Departures from the drawings, and notices", 1)]
    if not rows:
        return [*blocks, Paragraph("None was noted.")]
    return [
        *blocks,
        Table(
            ("date", "kind", "about", "what", "by, or on whose authority"),
            tuple(rows),
            widths=(0.12, 0.12, 0.16, 0.4, 0.2),
        ),
    ]


def _day(row: dict[str, Any]) -> str:
    body = json.loads(row["body"]) if row["body"] else {}
    return str(body.get("day") or "")
