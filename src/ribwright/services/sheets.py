"""Bench sheets and worksheets of the project as documents, and documents as PDF or text."""

from __future__ import annotations

from ribwright.core.audit import document_of_outcome
from ribwright.core.bench import document_of_sheet
from ribwright.core.scene import Document
from ribwright.errors import ConflictError
from ribwright.services.operations import OperationView
from ribwright.services.project import Project
from ribwright.services.seals import dated_seal as seal


def sheet_document(project: Project, view: OperationView, stage: str) -> Document:
    """The bench sheet of a stage, with reference and seal.

    Raises:
        UnknownNameError: no such stage.
        ConflictError: this stage has no sheet of its own.
    """
    sheet = view.stage(stage).sheet
    if sheet is None:
        having = ", ".join(s.name for s in view.stages if s.sheet is not None)
        raise ConflictError(
            f"sheet of {view.object.ref}, {stage}", found="no sheet", allowed=having or "an operation with drawing data",
            because="nothing is worked out for this stage", mend="Follow the drawing.",
        )  # fmt: skip
    return document_of_sheet(
        sheet, reference=f"{view.reference} {stage}", seal=seal(project), made_from=view.reference
    )


def worksheet_document(project: Project, view: OperationView) -> Document:
    """The worksheet of an operation.

    Raises:
        ConflictError: nothing is calculated for it.
    """
    if view.worked is None:
        raise ConflictError(
            f"worksheet of {view.object.ref}",
            found=view.problem or "no drawing data",
            allowed="drawing data that calculate",
            mend="Enter its drawing data.",
        )
    return document_of_outcome(
        view.worked.outcome, view.worked.spec, title=f"Worksheet: {view.object.title}", reference=view.reference,
        revision=str(getattr(view.worked.spec, "revision", "") or ""), seal=seal(project),
    )  # fmt: skip


def document_pdf(document: Document, paper: str = "letter") -> bytes:
    """A document as PDF."""
    from ribwright.core.writers.to_pdf import pdf_of_document

    return pdf_of_document(document, paper)


def document_text(document: Document) -> str:
    """A document for the terminal."""
    from ribwright.core.writers.to_text import text_of_document

    return text_of_document(document)
