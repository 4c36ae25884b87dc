"""The packet: worksheets, stage sheets in working order and full-size templates, in one PDF and as DXF."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from ribwright.core.audit import document_of_outcome
from ribwright.core.bench import document_of_sheet
from ribwright.core.bench.stages import working_order
from ribwright.core.scene import Block, Document, Heading, Paragraph, Scene, Table, TitleBlock, full_size
from ribwright.errors import MissingError
from ribwright.services import compute
from ribwright.services.operations import OperationView, operation_view, plan_operation
from ribwright.services.printers import printer_for
from ribwright.services.project import Project
from ribwright.services.record import get_object, objects
from ribwright.services.seals import dated_seal as seal

Progress = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Packet:
    """What was made: the PDF, its pages' contents by line, and the templates as DXF by name."""

    pdf: bytes
    lines: tuple[str, ...]
    dxf: dict[str, bytes]


def make_packet(
    project: Project,
    ref: str,
    *,
    paper: str = "letter",
    printer: str = "",
    progress: Progress = lambda _: None,
) -> Packet:
    """The packet of an assembly or of one operation.

    Args:
        ref: an assembly's or an operation's reference.
        paper: letter, a4, a3, tabloid or roll-24in.
        printer: whose factors the full-size pages get; left out, the chosen one's.

    Raises:
        MissingError: the assembly has no operation that calculates.
        UnknownNameError: no such reference or paper.
    """
    from ribwright.core.writers.to_dxf import dxf_of
    from ribwright.core.writers.to_pdf import pdf_of_packet

    top = get_object(project, ref)
    members = [top] if top.noun == "operation" else list(objects(project, parent=ref, noun="operation"))
    views = {one.ref: operation_view(project, one.ref) for one in members}
    worked = {key: view for key, view in views.items() if view.worked is not None}
    if not worked:
        raise MissingError(
            ref, found="no operation with drawing data", allowed="at least one", mend="Enter a seam first."
        )
    mark = seal(project)
    use = printer_for(project, printer)
    parts: list[Any] = []
    lines: list[str] = []
    order = working_order([plan_operation(view.object) for view in views.values()])
    sheets = [
        (key, stage) for key, stage in order if key in worked and views[key].stage(stage).sheet is not None
    ]
    parts.append(_cover(top.title or ref, top.reference, mark, sheets, views))
    for key, stage in sheets:
        view = views[key]
        sheet = view.stage(stage).sheet
        assert sheet is not None
        progress(f"{key} {stage}")
        parts.append(
            document_of_sheet(
                sheet, reference=f"{view.reference} {stage}", seal=mark, made_from=view.reference
            )
        )
        lines.append(f"{key} {stage}: {sheet.title}")
    templates: list[tuple[str, Scene]] = []
    for key, view in worked.items():
        assert view.worked is not None
        outcome, spec = view.worked.outcome, view.worked.spec
        for number, scene in enumerate(outcome.templates, start=1):
            progress(f"{key} template {number}")
            parts.append(full_size(scene, paper, use.correction, _block(view, scene, mark, use.words)))
            templates.append((f"{key}-{number}", scene))
            lines.append(f"{key} template: {scene.title}")
        if (
            top.noun == "operation"
        ):  # an assembly's packet is for the bench; each worksheet is printed from its page
            parts.append(
                document_of_outcome(
                    outcome, spec, title=f"Worksheet: {view.object.title}", reference=view.reference,
                    revision=str(getattr(spec, "revision", "")), seal=mark,
                )
            )  # fmt: skip
            lines.append(f"{key} worksheet: {view.object.title}")
    drawn = compute.spread(dxf_of, ((scene,) for _, scene in templates))
    dxf = {name: content for (name, _), content in zip(templates, drawn, strict=True)}
    return Packet(compute.run(pdf_of_packet, parts, paper), tuple(lines), dxf)


def _block(view: OperationView, scene: Scene, mark: str, printer: str) -> TitleBlock:
    spec = view.worked.spec if view.worked else None
    return TitleBlock(
        title=scene.title or view.object.title,
        reference=view.reference,
        drawing=str(getattr(spec, "drawing", "") or ""),
        revision=str(getattr(spec, "revision", "") or ""),
        hand=view.object.hand,  # type: ignore[arg-type]
        seal=mark,
        printer=printer,
    )


def _cover(
    title: str, reference: str, mark: str, sheets: list[tuple[str, str]], views: dict[str, OperationView]
) -> Document:
    rows = []
    for number, (key, stage) in enumerate(sheets, start=1):
        view = views[key]
        old = "made to an earlier revision" if view.object.outdated or view.earlier else ""
        rows.append((str(number), key, view.object.title, stage, view.stage(stage).estimate, old))
    counted: dict[str, int] = {}
    for view in views.values():
        for one in view.object.data.get("fasteners", []):
            counted[str(one["part_number"])] = counted.get(str(one["part_number"]), 0) + int(one["count"])
    hardware: tuple[Block, ...] = ()
    if counted:
        table = Table(
            ("part number", "how many"),
            tuple((name, str(count)) for name, count in sorted(counted.items())),
            (0.7, 0.3),
            (1,),
        )
        hardware = (Heading("Hardware for the trays", 2), table)
    return Document(
        f"Packet: {title}",
        reference,
        "",
        mark,
        (
            Paragraph(
                "Stage sheets in working order, then the full-size templates. Every number leads back to the worksheet named on its sheet."
            ),
            Heading("In this packet", 2),
            Table(
                ("", "operation", "what", "stage", "hours", ""),
                tuple(rows),
                widths=(0.06, 0.2, 0.36, 0.2, 0.08, 0.1),
            ),
            *hardware,
        ),
    )
