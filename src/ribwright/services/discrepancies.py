"""A discrepancy: opened by a finding or by hand, asked about, decided, closed; and the page for the designer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ribwright.core.bench import CAUTIONS
from ribwright.core.record.entry import Entry
from ribwright.core.scene import Block, Caution, Document, Fields, FillIn, Heading, Paragraph, Picture, Table
from ribwright.errors import MissingError, UnknownNameError
from ribwright.services.operations import operation_view
from ribwright.services.photos import photo_content
from ribwright.services.project import Actor, Project
from ribwright.services.record import (
    StoredObject,
    add_entry,
    discrepancies,
    get_entry,
    get_object,
    photos,
    questions,
    readings,
)
from ribwright.services.seals import dated_seal

KINDS = (
    "oversize hole", "short edge distance", "figure-eight hole", "dimple the wrong way", "countersunk too deep", "dent", "scratch",
    "crack", "wrong part or fastener", "bad batch", "other",
)  # fmt: skip
DECISIONS = ("rework", "repair", "use as is", "replace")
ADDRESSED = ("designer", "supplier")
MEASURED_LINES = 6
MEASURED_OF = {
    "hole, largest": "largest",
    "hole, smallest": "smallest",
    "edge distance": "edge",
    "to the next hole": "pitch",
    "countersink across": "seat",
}
"""What is measured at a spoiled hole, in the words of the form → field of the calculation."""


@dataclass(frozen=True, slots=True)
class DiscrepancyView:
    """A discrepancy with what it is about, what was measured, its questions and photos."""

    row: dict[str, Any]
    body: Mapping[str, Any]
    about: StoredObject
    opened_at: str
    opened_by: str
    readings: tuple[dict[str, Any], ...]
    questions: tuple[dict[str, Any], ...]
    photos: tuple[dict[str, Any], ...]

    @property
    def primary(self) -> bool:
        """Whether nothing may be proposed: the question goes to the designer."""
        return bool(self.row["is_primary"])


def open_discrepancy(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    about: str,
    kind: str,
    where: str,
    words: str,
    measured: Mapping[str, str] | None = None,
    stage: str = "",
) -> Entry:
    """Open a discrepancy by hand; what stands on its object is blocked until it is decided.

    Args:
        about: reference of the operation or part.
        kind: one of ``KINDS``.
        where: hole number or place.
        words: what is there, in the builder's words.
        measured: name to value with unit and uncertainty, as written down.

    Raises:
        UnknownNameError: the kind or the object is not known.
        MissingError: no words.
    """
    if kind not in KINDS:
        raise UnknownNameError("what it is", found=kind, allowed=", ".join(KINDS))
    if not words.strip():
        raise MissingError("what you see", mend="Say in a few words what is there.")
    what = f"{kind}{f' at {where.strip()}' if where.strip() else ''}: {words.strip()}"
    body: dict[str, Any] = {"what": what, "kind": kind, "where": where.strip(), "stage": stage}
    if measured:
        body["measured"] = {
            name.strip(): value.strip() for name, value in measured.items() if name.strip() and value.strip()
        }
    return add_entry(project, actor=actor, request_id=request_id, kind="discrepancy", about=about, body=body)


def ask(project: Project, *, actor: Actor, request_id: str, discrepancy: str, words: str) -> Entry:
    """Put the question to the designer into the record, as it was sent."""
    row = _row(project, discrepancy)
    return add_entry(
        project,
        actor=actor,
        request_id=request_id,
        kind="question",
        about=row["about"],
        body={"words": words, "discrepancy": discrepancy},
    )


def enter_answer(
    project: Project, *, actor: Actor, request_id: str, question: int, words: str, who: str, authority: str
) -> Entry:
    """Enter an answer that came: its words, who gave it and on what authority."""
    asked = get_entry(project, question)
    body = {"question": str(question), "words": words, "who": who, "authority": authority}
    return add_entry(
        project, actor=actor, request_id=request_id, kind="answer", about=asked.entry.about, body=body
    )


def discrepancy_view(project: Project, ref: str) -> DiscrepancyView:
    """A discrepancy, whole.

    Raises:
        UnknownNameError: there is none of this reference.
    """
    import json

    row = _row(project, ref)
    opened = get_entry(project, int(row["seq"])).entry
    about = get_object(project, row["about"])
    asked = tuple(q for q in questions(project, about.ref) if q["discrepancy"] in (ref, ""))
    stage = str(opened.body.get("stage") or "")
    read = tuple(r for r in readings(project, about.ref) if not stage or r["stage"] == stage)
    return DiscrepancyView(
        row,
        json.loads(row["body"]) if row["body"] else {},
        about,
        opened.at,
        opened.by,
        read[-20:],
        asked,
        photos(project, about.ref)[-6:],
    )


def question_document(project: Project, ref: str, *, proposal: str = "", to: str = ADDRESSED[0]) -> Document:
    """The question to the designer or to whom the unit came from: one page with everything needed to answer it.

    Raises:
        UnknownNameError: it can't go to such a one.
    """
    if to not in ADDRESSED:
        raise UnknownNameError("question to", found=to, allowed=", ".join(ADDRESSED))
    view = discrepancy_view(project, ref)
    one = view.about
    heading = f"Question to the {to}: {view.row['ref']}"
    if view.body.get("mistake"):
        page = _worked_question(project, view, proposal)
        return replace(page, title=f"{heading}, {project.name}")
    blocks: list[Block] = [
        Fields(
            (
                ("Aeroplane", project.name),
                ("Operation or part", f"{one.ref}, {one.title}"),
                ("Hand", one.hand if one.hand != "none" else "no hand"),
                ("Drawing", _drawing(one)),
                ("Found", f"{view.opened_at[:10]} by {view.opened_by}"),
                ("Primary structure", "YES" if view.primary else "no"),
            )
        ),
        Heading("What is there", 2),
        Paragraph(str(view.row["what"])),
    ]
    measured = view.body.get("measured") or {}
    rows = [(str(name), str(value), "") for name, value in measured.items()]
    rows += [
        (
            f"{r['requirement']} {_where(r)}".strip(),
            f"{r['value']}",
            f"± {r['u']}" if r["u"] else "uncertainty not stated",
        )
        for r in view.readings
    ]
    if rows:
        blocks += [
            Heading("Measured", 2),
            Table(("what", "value", "uncertainty"), tuple(rows), widths=(0.5, 0.25, 0.25)),
        ]
    if one.noun == "operation":
        worked = operation_view(project, one.ref).worked
        if worked is not None:
            layers = getattr(worked.spec, "layers", ())
            if layers:
                stack = tuple(
                    (str(i), layer.part, layer.thickness.text, layer.material)
                    for i, layer in enumerate(layers, start=1)
                )
                blocks += [
                    Heading("Stack, from the manufactured head", 2),
                    Table(("", "part", "thickness", "material"), stack),
                ]
            if worked.outcome.picture is not None:
                blocks.append(Picture(worked.outcome.picture, "as drawn"))
    if view.photos:
        blocks += [
            Heading("Photos sent with this page", 2),
            Table(
                ("photo", "taken", "mark"),
                tuple((p["caption"] or p["name"], p["taken_at"], str(p["digest"])[:12]) for p in view.photos),
            ),
        ]
    blocks.append(Heading("Proposal", 2))
    if view.primary:
        blocks.append(
            Caution(
                "Primary structure: nothing is proposed. Please say what is to be done, or that the part is to be replaced."
            )
        )
    else:
        blocks.append(
            Paragraph(
                proposal
                or "None. Please say whether this may be used as it is, how it is to be mended, or that it is to be replaced."
            )
        )
    blocks += [Heading("Answer", 2), FillIn("Answer"), FillIn("Who, on what authority"), FillIn("Date")]
    blocks += [Paragraph(text, small=True) for text in CAUTIONS]
    return Document(heading, one.reference, "", dated_seal(project), tuple(blocks))


def _worked_question(project: Project, view: DiscrepancyView, proposal: str) -> Document:
    """The page of a hole that was worked out: what it came to, as built against as drawn, with the photos."""
    from ribwright.core.audit import read
    from ribwright.core.fastening.mistakes import Mistake, question_for

    raw = dict(view.body["mistake"]) | ({"proposal": proposal} if proposal else {})
    shown = []
    for photo in view.photos[-2:]:
        if not photo["report"]:  # kept as it was sent: it can't be opened
            continue
        content, media = photo_content(project, photo["report"])
        if media == "image/jpeg":
            said = (photo["caption"] or photo["name"] or "photo", photo["taken_at"][:10])
            shown.append((content, ", ".join(word for word in said if word)))
    return question_for(
        read(Mistake, raw),
        reference=f"{view.row['ref']}, {view.about.reference}",
        seal=dated_seal(project),
        photos=shown,
    )


def _row(project: Project, ref: str) -> dict[str, Any]:
    found = [row for row in discrepancies(project) if row["ref"] == ref]
    if not found:
        raise UnknownNameError(
            "discrepancy", found=ref, allowed="such as D12", mend="All stand under Checks."
        )
    return found[0]


def _drawing(one: StoredObject) -> str:
    inputs = one.data.get("inputs") or {}
    number = inputs.get("drawing") or one.data.get("drawing") or "not given"
    revision = inputs.get("revision") or one.data.get("revision") or "-"
    return f"{number}, revision {revision}"


def _where(row: Mapping[str, Any]) -> str:
    import json

    body = json.loads(row["body"]) if row.get("body") else {}
    where = str(body.get("where") or "")
    return f"(hole {where})" if where.isdigit() else f"({where})" if where else ""
