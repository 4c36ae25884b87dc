"""Discrepancies: note one, ask about it, decide; the page for the designer."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import InputError
from ribwright.services.amending import settle
from ribwright.services.discrepancies import (
    ADDRESSED,
    DECISIONS,
    KINDS,
    MEASURED_LINES,
    ask,
    discrepancy_view,
    enter_answer,
    open_discrepancy,
    question_document,
)
from ribwright.services.record import get_object
from ribwright.services.sheets import document_pdf
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other


def note(request: Request, form: dict[str, str]) -> Response:
    """Note what is not as drawn."""
    project, about = project_of(request), request.path_params["ref"]
    one, error = get_object(project, about), None
    if request.method == "POST":
        try:
            measured = {form.get(f"name.{n}", ""): form.get(f"value.{n}", "") for n in range(MEASURED_LINES)}
            made = open_discrepancy(
                project, actor=actor_of(request), request_id=form.get("request", ""), about=about, kind=form.get("kind", ""),
                where=form.get("where", ""), words=form.get("words", ""), measured=measured,
            )  # fmt: skip
            return see_other(request.url_for("discrepancy", ref=f"D{made.seq}").path)
        except InputError as refused:
            error = refused
    context = {
        "title": f"Note a discrepancy: {one.title or about}", "one": one, "kinds": KINDS, "form": form, "lines": range(MEASURED_LINES),
        "request_id": form.get("request") or new_request_id(), "mistake": error.sentence() if error else "",
    }  # fmt: skip
    return page(request, "note_discrepancy.html", context, status=422 if error else 200)


def show(request: Request, form: dict[str, str]) -> Response:
    """A discrepancy, and the forms that take it further."""
    project, ref = project_of(request), request.path_params["ref"]
    actor, request_id, error = actor_of(request), form.get("request", ""), None
    if request.method == "POST":
        try:
            if form.get("what") == "ask":
                ask(project, actor=actor, request_id=request_id, discrepancy=ref, words=form.get("words", ""))
            elif form.get("what") == "answer":
                asked = form.get("question", "")
                enter_answer(
                    project, actor=actor, request_id=request_id, question=int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 12 else 0,
                    words=form.get("words", ""), who=form.get("who", ""), authority=form.get("authority", ""),
                )  # fmt: skip
            else:
                settle(
                    project, actor=actor, request_id=request_id, discrepancy=ref, decision=form.get("decision", ""),
                    reason=form.get("reason", ""), authority=form.get("authority", ""), closes=form.get("closes", "yes") != "no",
                )  # fmt: skip
            return see_other(request.url_for("discrepancy", ref=ref).path)
        except InputError as refused:
            error = refused
    view = discrepancy_view(project, ref)
    context = {
        "title": f"Discrepancy {ref}", "view": view, "decisions": DECISIONS, "form": form if error else {}, "mistake": error.sentence() if error else "",
        "ids": [new_request_id() for _ in range(3)], "reference": view.about.reference,
    }  # fmt: skip
    return page(request, "discrepancy.html", context, status=422 if error else 200)


def question_pdf(request: Request) -> Response:
    """The page for the designer, or for whom the unit came from, ready to send."""
    document = question_document(
        project_of(request),
        request.path_params["ref"],
        proposal=request.query_params.get("proposal", "")[:2000],
        to=request.query_params.get("to", ADDRESSED[0])[:40],
    )
    return Response(document_pdf(document), media_type="application/pdf")


ROUTES = [
    Route("/discrepancy/note/{ref}", posting(note), methods=["GET", "POST"], name="note_discrepancy"),
    Route("/discrepancy/{ref}", posting(show), methods=["GET", "POST"], name="discrepancy"),
    Route("/discrepancy/{ref}/question.pdf", question_pdf, name="question_pdf"),
]
