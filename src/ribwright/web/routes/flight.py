"""Flight: papers, the inspection before flight, test cards, flight data and the performance page."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import form_to_raw
from ribwright.core.audit.index import load
from ribwright.core.flight.cards import card, card_document
from ribwright.errors import ConflictError, InputError, RibwrightError
from ribwright.services.flight import enter_flight, enter_look, enter_paper, flight_view, set_flight
from ribwright.services.form_data import TYPED, form_data, set_form_data
from ribwright.services.performance import KEPT, keep_data, kept_data, performance_page
from ribwright.services.seals import dated_seal
from ribwright.services.sheets import document_pdf
from ribwright.web.forms import changed_rows, form_page, new_request_id, row_change
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other


def flight(request: Request, form: dict[str, str]) -> Response:
    """The page; a form on it enters one paper, one line, one flight, or the day aimed at."""
    project, error = project_of(request), None
    if request.method == "POST":
        try:
            _enter(request, form)
            return see_other(request.url_for("flight").path + f"#{form.get('back', '')}")
        except (InputError, ConflictError) as refused:
            error = refused
    context = {
        "title": "Flight", "view": flight_view(project), "forms": form_data(project), "kept": kept_data(project), "kinds": KEPT, "form": form,
        "mistake": error.sentence() if error else "", "request_id": new_request_id(),
    }  # fmt: skip
    return page(request, "flight.html", context, status=422 if error else 200)


def _enter(request: Request, form: dict[str, str]) -> None:
    common: dict[str, Any] = {"actor": actor_of(request), "request_id": form.get("request", "")}
    project, key, words = project_of(request), form.get("key", ""), form.get("words", "")
    what = form.get("what")
    if what == "paper":
        enter_paper(project, key=key, evidence=words, read=form.get("read", ""), **common)
    elif what == "look":
        enter_look(project, key=key, who=form.get("who", ""), words=words, **common)
    elif what == "flown":
        enter_flight(
            project,
            key=key,
            hours=form.get("hours", ""),
            finished=form.get("finished") == "yes",
            words=words,
            **common,
        )
    elif what == "forms":
        set_form_data(project, values={key: form.get(key, "") for key in TYPED}, **common)
    else:
        set_flight(project, first=form.get("first", ""), hours=form.get("hours", ""), **common)


def data(request: Request, form: dict[str, str]) -> Response:
    """The form of one kind of flight data; sent, it is worked out and kept."""
    made = load(request.path_params["name"])
    raw: dict[str, Any] = form_to_raw(made.spec, form) if request.method == "POST" else {}
    extra: dict[str, int] = {}
    error = None
    change = row_change(form)
    if change is not None:
        raw, extra = changed_rows(raw, change)
    elif request.method == "POST":
        try:
            keep_data(
                project_of(request),
                actor=actor_of(request),
                request_id=form.get("request", ""),
                name=made.name,
                title=form.get("title", ""),
                raw=raw,
            )
            return see_other(request.url_for("flight").path + "#data")
        except RibwrightError as refused:
            error = refused
    context = {
        "title": f"Flight data: {made.title}",
        "calculation": made,
        "form": form_page(made.spec, raw, error=error, extra_rows=extra),
    }
    return page(request, "flight_data.html", context, status=422 if error else 200)


def card_pdf(request: Request) -> Response:
    """One test card for the kneeboard."""
    document = card_document(card(request.path_params["key"]), seal=dated_seal(project_of(request)))
    return Response(document_pdf(document, "half-letter"), media_type="application/pdf")


def performance_pdf(request: Request) -> Response:
    """The performance page for the handbook."""
    return Response(document_pdf(performance_page(project_of(request))), media_type="application/pdf")


ROUTES = [
    Route("/flight", posting(flight), methods=["GET", "POST"], name="flight"),
    Route("/flight/performance.pdf", performance_pdf, name="performance_pdf"),
    Route("/flight/card/{key}.pdf", card_pdf, name="card_pdf"),
    Route("/flight/data/{name}", posting(data), methods=["GET", "POST"], name="flight_data"),
]
