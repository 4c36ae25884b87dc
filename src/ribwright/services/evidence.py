"""The evidence pack: what an inspector can read in fifteen minutes, and how to check it without this program."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ribwright.core.bench import CAUTIONS
from ribwright.core.record.standalone import SCRIPT
from ribwright.core.scene import (
    Block,
    Bullets,
    Document,
    Fields,
    Heading,
    PageBreak,
    Paragraph,
    Photos,
    Table,
    Verbatim,
)
from ribwright.errors import DiskError
from ribwright.services.airframe import Branch, breakdown
from ribwright.services.backup import export_project
from ribwright.services.bench import finished
from ribwright.services.evidence_tables import closed_spaces, departures, major_portion, materials_and_lots
from ribwright.services.photos import OVERLAY, photo_content
from ribwright.services.project import Project
from ribwright.services.record import (
    StoredObject,
    count_objects,
    discrepancies,
    findings,
    hours,
    materials,
    objects,
    photos,
    questions,
    readings,
    seal,
    signatures,
    work,
)

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Pack:
    """Where the pack was written, and what is in it."""

    folder: Path
    pdf: Path


def write_pack(project: Project, folder: Path | str, *, progress: Progress = lambda _: None) -> Pack:
    """Write the pack: ``evidence.pdf`` beside the exported record.

    Args:
        folder: new or empty.
        progress: told what is being written; may raise ``Stopped``.

    Raises:
        ProjectExistsError: the folder isn't empty.
        DiskError: it can't be written.
    """
    from ribwright.core.writers.to_pdf import pdf_of_document

    target = export_project(project, folder)
    progress("record exported")
    content = pdf_of_document(evidence_document(project, progress=progress))
    path = target / "evidence.pdf"
    try:
        path.write_bytes(content)
    except OSError as error:
        raise DiskError("evidence pack", found=f"{path}: {error.strerror or error}") from error
    return Pack(target, path)


def evidence_document(project: Project, *, progress: Progress = lambda _: None) -> Document:
    """The pack as one document: summary first, then operation by operation, then how to check it."""
    mark, branches = seal(project), breakdown(project)
    blocks: list[Block] = [
        *_summary(project, branches), *closed_spaces(project), *_discrepancies(project), *departures(project), *materials_and_lots(project),
        *major_portion(project),
    ]  # fmt: skip
    operations = objects(project, noun="operation")
    done = finished(work(project))
    by_parent: dict[str, list[StoredObject]] = {}
    for one in operations:
        by_parent.setdefault(one.parent, []).append(one)
    all_work, all_readings, all_findings = _by(work(project)), _by(readings(project)), _by(findings(project))
    all_photos, signed, used = _by(photos(project)), _by(signatures(project)), _by(materials(project))
    kept = (all_work, all_readings, all_findings, all_photos, signed, used)
    for branch in branches:
        own = by_parent.get(branch.one.ref, [])
        if not own:
            continue
        progress(branch.one.ref)
        begun = [one for one in own if any(one.ref in known for known in kept)]
        blocks += [*([PageBreak()] if begun else []), Heading(f"{branch.one.ref} {branch.one.title}", 1)]
        for one in begun:
            blocks += _operation(
                project, one, done, all_work.get(one.ref, []), all_readings.get(one.ref, []), all_findings.get(one.ref, []),
                all_photos.get(one.ref, []), signed.get(one.ref, []), used.get(one.ref, []),
            )  # fmt: skip
        blocks += _not_begun([one for one in own if one not in begun])
    blocks += [
        PageBreak(),
        Heading("How to check this without our program", 1),
        Paragraph(
            "The folder beside this file holds the whole record as text, one entry a line. Each line repeats the mark (SHA-256) of the line "
            "before, so nothing can be changed or left out unseen. Save the lines below as check.py and run: python3 check.py FOLDER"
        ),
        Verbatim(SCRIPT),
        Paragraph(f"It must print this seal: {mark}"),
        Paragraph(
            "A chain alone can't show that it was made anew as a whole: compare the seal with those printed on earlier sheets.",
            small=True,
        ),
        *(Paragraph(text, small=True) for text in CAUTIONS),
    ]
    return Document(f"Evidence: {project.name}", "", "", mark[:20], tuple(blocks))


def _not_begun(those: Sequence[StoredObject]) -> list[Block]:
    """Operations of which the record holds nothing but what the drawing says: a line each, no page."""
    if not those:
        return []
    rows = tuple(
        (one.reference, one.title, str((one.data.get("inputs") or {}).get("drawing", "") or "-"))
        for one in those
    )
    return [
        Heading("Not begun", 2),
        Table(("operation", "what", "drawing"), rows, widths=(0.3, 0.5, 0.2)),
    ]


def _summary(project: Project, branches: Sequence[Branch]) -> list[Block]:
    counts = count_objects(project)
    log = work(project)
    done, stages = 0, 0
    rows = []
    for branch in branches:
        done, stages = done + branch.progress.done, stages + branch.progress.stages
        rows.append(
            (
                "   " * branch.depth + branch.one.ref,
                branch.one.title,
                str(branch.operations),
                f"{branch.progress.done} of {branch.progress.stages}",
                str(branch.open_discrepancies or ""),
            )
        )
    by_kind: dict[str, float] = {}
    for row in log:
        by_kind[row["worked_as"]] = by_kind.get(row["worked_as"], 0.0) + float(row["hours"])
    total = float(hours(project))
    fields = [
        ("Aeroplane", project.name),
        ("Parts, operations", f"{counts.get('part', 0)}, {counts.get('operation', 0)}"),
        ("Stages finished", f"{done} of {stages}"),
        (
            "Hours logged",
            f"{total:.1f}" + "".join(f"; {kind} {value:.1f}" for kind, value in sorted(by_kind.items())),
        ),
        (
            "Readings, findings not within limits",
            f"{len(readings(project))}, {sum(1 for f in findings(project) if f['verdict'] != 'within limits')}",
        ),
        ("Photos", str(len(photos(project)))),
    ]
    return [
        Heading("Summary", 1),
        Fields(tuple(fields)),
        Table(
            ("assembly", "", "operations", "stages finished", "open"),
            tuple(rows),
            widths=(0.2, 0.4, 0.12, 0.18, 0.1),
        ),
    ]


def _discrepancies(project: Project) -> list[Block]:
    rows = discrepancies(project)
    blocks: list[Block] = [Heading("Discrepancies and what became of them", 1)]
    if not rows:
        return [*blocks, Paragraph("None was noted.")]
    answers = {q["discrepancy"]: q for q in questions(project) if q["answer"]}
    lines = []
    for row in rows:
        answer = answers.get(row["ref"])
        said = f"{row['decision']}. {row['reason']}".strip(". ") if row["decision"] else "open"
        authority = row["authority"] or (f"{answer['answered_by']}, {answer['authority']}" if answer else "")
        lines.append(
            (
                row["ref"],
                row["about"],
                row["what"] + (" (PRIMARY)" if row["is_primary"] else ""),
                said,
                authority,
            )
        )
    return [
        *blocks,
        Table(
            ("no.", "about", "what was there", "what became of it", "on whose authority"),
            tuple(lines),
            widths=(0.08, 0.16, 0.34, 0.24, 0.18),
        ),
    ]


def _operation(
    project: Project,
    one: StoredObject,
    done: set[str],
    log: list[dict[str, Any]],
    read: list[dict[str, Any]],
    found: list[dict[str, Any]],
    pictures: list[dict[str, Any]],
    signed: list[dict[str, Any]],
    used: list[dict[str, Any]],
) -> list[Block]:
    inputs = one.data.get("inputs") or {}
    names = [str(s.get("name", "")) for s in one.data.get("stages", [])]
    state = ", ".join(f"{name}{'' if f'{one.ref}/{name}' in done else ' (to do)'}" for name in names)
    pairs = [
        ("Worksheet", one.reference + ("; made to an earlier revision" if one.outdated else "")),
        ("Drawing", f"{inputs.get('drawing', '-')}, revision {inputs.get('revision', '-')}"),
        ("Stages", state or "-"),
    ]
    if log:
        people = sorted({f"{row['person']} ({row['worked_as']})" for row in log})
        first, last = log[0]["day"], log[-1]["day"]
        days = first if first == last else f"{first} to {last}"
        hours = sum(float(row["hours"]) for row in log)
        pairs.append(("Work", f"{hours:.1f} h by {', '.join(people)}, {days}"))
    if signed:
        pairs.append(
            (
                "Signed",
                "; ".join(
                    f"{s['signed_by']}, {s['role']}, {s['at'][:10]}{' ' + s['stage'] if s['stage'] else ''}"
                    for s in signed
                ),
            )
        )
    if used:
        pairs.append(
            (
                "Materials",
                "; ".join(
                    f"{m['item']} lot {m['lot'] or '-'} from {m['supplier'] or 'opening stock'}" for m in used
                ),
            )
        )
    blocks: list[Block] = [Heading(f"{one.ref} {one.title}", 2), Fields(tuple(pairs))]
    if found:
        values = {(r["seq"]): r for r in read}
        rows = []
        for f in found:
            reading = values.get(f["seq"] - 1)
            where = str(json.loads(f["body"]).get("where", "")) if f.get("body") else ""
            value = _read_value(reading) if reading else ""
            rows.append((f["stage"], f"{f['requirement']} {where}".strip(), value, f["verdict"], f["reason"]))
        blocks.append(
            Table(
                ("stage", "measured", "value", "answer", "why"),
                tuple(rows),
                widths=(0.12, 0.23, 0.17, 0.14, 0.34),
            )
        )
    if pictures:
        shown = tuple(
            (_report_copy(project, p), f"{p['caption'] or p['name']} {p['taken_at'][:10]}".strip())
            for p in pictures
        )
        # a measured photo with its numbers is read, not only looked at
        lettered = tuple(p["name"] == OVERLAY for p in pictures)
        for across, wanted in ((3, False), (1, True)):
            kept = tuple(pair for pair, has in zip(shown, lettered, strict=True) if pair[0] and has == wanted)
            if kept:
                blocks.append(Photos(kept, across=across))
        missing = tuple(caption for content, caption in shown if not content)
        if missing:
            blocks.append(Bullets(tuple(f"photo not shown here: {caption}" for caption in missing)))
    return blocks


def _read_value(reading: dict[str, Any]) -> str:
    value, unit = str(reading["value"]), str(reading["unit"] or "")
    said = f"{value}{' ± ' + reading['u'] if reading['u'] else ''}"
    return said if not unit or unit in value else f"{said} {unit}"


def _report_copy(project: Project, photo: dict[str, Any]) -> bytes:
    if not photo["report"]:
        return b""
    content, media = photo_content(project, photo["report"])
    return content if media == "image/jpeg" else b""


def _by(rows: tuple[dict[str, Any], ...]) -> dict[str, list[dict[str, Any]]]:
    grouped: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        grouped.setdefault(row["about"], []).append(row)
    return grouped
