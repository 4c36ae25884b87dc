"""Full-size output: the templates of a calculation or operation on chosen paper, for a chosen printer.

What the page previews, what the PDF prints and what SVG and DXF carry are the same recorded drawings.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from ribwright.core.audit import Outcome
from ribwright.core.scene import Bounds, Page, Scene, TitleBlock, bounds, full_size, moved, tile_map
from ribwright.errors import ConflictError, InputError, TableError, UnknownNameError
from ribwright.services import compute
from ribwright.services.blanks import part_blanks
from ribwright.services.calculations import run_calculation
from ribwright.services.operations import operation_view
from ribwright.services.printers import AS_IT_COMES, Printer, printer_for
from ribwright.services.project import Project
from ribwright.services.record import StoredObject, objects
from ribwright.services.seals import dated_seal

PAPERS = ("letter", "a4", "tabloid", "a3", "roll-24in", "roll-36in")


@dataclass(frozen=True, slots=True)
class Template:
    """A drawing with the sheets that it falls on."""

    number: int
    scene: Scene
    pages: tuple[Page, ...]

    @property
    def title(self) -> str:
        """What it is called on its sheets."""
        return self.scene.title or f"Template {self.number}"

    @property
    def map(self) -> Scene:
        """Which sheet shows which part."""
        return tile_map(self.scene, self.pages)

    def svg(self) -> str:
        """The drawing as one SVG file at true size, uncorrected: a cutter needs no printer's factors."""
        from ribwright.core.writers.to_svg import svg_of_page

        box, free = bounds(self.scene), 0.1
        width, height = box.width + 2 * free, box.height + 2 * free
        whole = moved(self.scene, free - box.left, free - box.bottom)
        return svg_of_page(
            Page("", width, height, whole, Bounds(0, 0, width, height), Scene()), stand_alone=True
        )

    def dxf(self) -> bytes:
        """The drawing as DXF, layers named for what is done."""
        from ribwright.core.writers.to_dxf import dxf_of

        return dxf_of(self.scene)


@dataclass(frozen=True, slots=True)
class FullSize:
    """All templates of one calculation on one paper, for one printer."""

    title: str
    paper: str
    printer: Printer
    templates: tuple[Template, ...]

    @property
    def sheets(self) -> int:
        """Sheets of paper in all."""
        return sum(len(one.pages) for one in self.templates)

    def template(self, number: int) -> Template:
        """The template of this number, from 1.

        Raises:
            UnknownNameError: there is none.
        """
        if not 1 <= number <= len(self.templates):
            raise UnknownNameError("template", found=number, allowed=f"1 to {len(self.templates)}")
        return self.templates[number - 1]

    def pdf(self) -> bytes:
        """All sheets in one file."""
        from ribwright.core.writers.to_pdf import pdf_of_pages

        return pdf_of_pages([page for one in self.templates for page in one.pages])


def full_size_of(
    outcome: Outcome,
    spec: object,
    *,
    title: str,
    paper: str = "letter",
    printer: Printer = AS_IT_COMES,
    reference: str = "",
    seal: str = "",
    hand: str = "",
) -> FullSize:
    """Lay the templates of an outcome on paper.

    Args:
        outcome: of a calculation.
        spec: what it was made from; drawing, revision and hand are taken from it.
        paper: one of ``PAPERS``.
        printer: whose factors the pages get.
        reference, seal, hand: for the title block.

    Raises:
        ConflictError: the calculation draws nothing at full size.
        UnknownNameError: no such paper.
        DoesNotFitError: more sheets than anybody glues.
    """
    if not outcome.templates:
        raise ConflictError(
            "full size", found=title, allowed="a calculation with templates", because="nothing of it is drawn at full size",
            mend="Its picture is on its worksheet.",
        )  # fmt: skip
    made = []
    for number, scene in enumerate(outcome.templates, 1):
        block = TitleBlock(
            title=scene.title or title, reference=reference, drawing=str(getattr(spec, "drawing", "") or ""),
            revision=str(getattr(spec, "revision", "") or ""), hand=hand or getattr(spec, "hand", "none"), seal=seal,  # type: ignore[arg-type]
            printer=printer.words,
        )  # fmt: skip
        made.append(Template(number, scene, full_size(scene, paper, printer.correction, block)))
    return FullSize(title, paper, printer, tuple(made))


def operation_full_size(project: Project, ref: str, *, paper: str = "letter", printer: str = "") -> FullSize:
    """The templates of an operation, with its reference and the seal on every sheet.

    Args:
        ref: of the operation.
        paper: one of ``PAPERS``.
        printer: its name; left out, the chosen one; ``none`` for no factors.

    Raises:
        UnknownNameError: no such operation, paper or printer.
        ConflictError: nothing of it is drawn at full size.
    """
    view = operation_view(project, ref)
    if view.worked is None:
        raise ConflictError(
            f"full size of {ref}", found=view.problem or "no drawing data", allowed="drawing data that calculate",
            mend="Enter its drawing data.",
        )  # fmt: skip
    return full_size_of(
        view.worked.outcome, view.worked.spec, title=view.object.title, paper=paper, printer=printer_for(project, printer),
        reference=view.reference, seal=dated_seal(project), hand=view.object.hand,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Whole:
    """What :func:`whole_output` made, in numbers, and what it could not make, in sentences."""

    operations: int
    drawings: int
    sheets: int
    files: int
    skipped: tuple[str, ...] = ()


def whole_output(
    project: Project,
    keep: Callable[[str, bytes], Any],
    *,
    paper: str = "tabloid",
    printer: str = "",
    progress: Callable[[str], None] = lambda _: None,
) -> Whole:
    """Every template of every operation, and the flat blank of every sheet part: PDF and DXF, one by one.

    Args:
        keep: takes a file's name and bytes as soon as it is made, so that none waits in memory.
        paper, printer: as in :func:`operation_full_size`.
        progress: told what is being made; may raise Stopped.
    """
    from ribwright.core.writers.to_pdf import pdf_of_pages

    use, seal = printer_for(project, printer), dated_seal(project)
    operations = drawings = sheets = files = 0
    skipped: list[str] = []
    drawn = [
        one
        for one in objects(project, noun="operation")
        if one.data.get("calculation") and one.data.get("inputs")
    ]
    for one, made in zip(
        drawn, compute.spread(_files_of, ((one, paper, use, seal) for one in drawn)), strict=True
    ):
        if made.refused:
            skipped.append(made.refused)
        if not made.files:
            continue
        progress(one.ref)
        for name, content in made.files:
            keep(name, content)
        operations, drawings = operations + 1, drawings + len(made.files) - 1
        sheets, files = sheets + made.sheets, files + len(made.files)
    for part in part_blanks(project):
        progress(part.ref)
        block = TitleBlock(
            title=part.scene.title, reference=part.reference, drawing=part.drawing, revision=part.revision, hand=part.hand,  # type: ignore[arg-type]
            seal=seal, printer=use.words,
        )  # fmt: skip
        template = Template(1, part.scene, full_size(part.scene, paper, use.correction, block))
        keep(f"{part.ref}.pdf", pdf_of_pages(template.pages))
        keep(f"{part.ref}.dxf", template.dxf())
        drawings, sheets, files = drawings + 1, sheets + len(template.pages), files + 2
    return Whole(operations, drawings, sheets, files, tuple(skipped))


@dataclass(frozen=True, slots=True)
class _Files:
    files: tuple[tuple[str, bytes], ...] = ()
    sheets: int = 0
    refused: str = ""


def _files_of(one: StoredObject, paper: str, printer: Printer, seal: str) -> _Files:
    """The PDF and the DXF files of one operation; none when it draws nothing."""
    try:
        outcome, spec = drawn_of(str(one.data["calculation"]), one.data["inputs"])
    except (InputError, TableError) as refused:
        return _Files(refused=f"{one.ref}: {refused.sentence()}")
    if not outcome.templates:
        return _Files()
    made = full_size_of(
        outcome, spec, title=one.title, paper=paper, printer=printer, reference=one.reference, seal=seal, hand=one.hand
    )  # fmt: skip
    dxf = [(f"{one.ref}-{template.number}.dxf", template.dxf()) for template in made.templates]
    return _Files(((f"{one.ref}.pdf", made.pdf()), *dxf), made.sheets)


def drawn_of(name: str, inputs: Mapping[str, Any]) -> tuple[Outcome, Any]:
    """What a calculation draws at full size, and its spec. A rolled edge is drawn without the search for its tools,
    which takes seconds and changes nothing of its templates.

    Raises:
        As the calculation refuses.
    """
    if name == "nose-roll":
        from ribwright.core.audit import Worksheet, read
        from ribwright.core.forming.nose_spec import NoseRoll
        from ribwright.core.forming.nose_targets import targets_of
        from ribwright.core.forming.nose_template import templates_of

        spec = read(NoseRoll, inputs)
        return Outcome((), {}, templates=(templates_of(spec, targets_of(spec, Worksheet())),)), spec
    done = run_calculation(name, inputs)
    return done.outcome, done.spec
