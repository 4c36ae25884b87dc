"""Weight: what is in place, what it will come to, weighing parts, a change before it is made, weighings, the card."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import form_to_raw
from ribwright.core.audit.index import load
from ribwright.core.audit.spec import fields_of
from ribwright.core.massprops.changes import Change
from ribwright.core.massprops.designer import DesignerRange
from ribwright.errors import ConflictError, InputError, RibwrightError
from ribwright.services.closing_twist import CALCULATION, enter_twist, twist_inputs, twists
from ribwright.services.sheets import document_pdf
from ribwright.services.weighings import CALCULATIONS, card, change_before, compared, loadings, weighings
from ribwright.services.weight import set_range, weigh_part, weight_view
from ribwright.web.forms import form_page, new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

CHANGE = tuple(field.name for field in fields_of(Change))


def weight(request: Request, form: dict[str, str]) -> Response:
    """The page; a form on it enters a part's weight or the designer's figures; a change is only worked out."""
    project, error = project_of(request), None
    if request.method == "POST":
        try:
            _enter(request, form)
            return see_other(request.url_for("weight").path + f"#{form.get('back', '')}")
        except (InputError, ConflictError) as refused:
            error = refused
    row = {name: request.query_params[name] for name in CHANGE if request.query_params.get(name)}
    tried, base, wrong = None, "", None
    if row:
        try:
            tried, base = change_before(project, [row])
        except RibwrightError as refused:
            wrong = refused
    view = weight_view(project)
    ranged = form if error and form.get("what") == "range" else view.entered
    context = {
        "title": "Weight", "view": view, "weighings": weighings(project), "compared": compared(project), "loadings": loadings(project),
        "calculations": CALCULATIONS, "twists": twists(project), "form": form if error else {}, "mistake": error.sentence() if error else "", "request_id": new_request_id(),
        "range_form": form_page(DesignerRange, ranged, error=error if ranged is form else None), "open": ranged is form,
        "change_form": form_page(Change, row, error=wrong), "tried": tried, "base": base, "change_mistake": wrong.sentence() if wrong else "",
    }  # fmt: skip
    return page(request, "weight.html", context, status=422 if error or wrong else 200)


def _enter(request: Request, form: dict[str, str]) -> None:
    project, who, request_id = project_of(request), actor_of(request), form.get("request", "")
    if form.get("what") == "range":
        set_range(project, actor=who, request_id=request_id, form=form)
    else:
        weigh_part(
            project, actor=who, request_id=request_id, ref=form.get("ref", ""), weight=form.get("weight", ""), u=form.get("u", ""),
            arm=form.get("arm", ""), arm_u=form.get("arm_u", ""),
        )  # fmt: skip


def card_pdf(request: Request) -> Response:
    """A loading's one-page card."""
    document = card(project_of(request), request.path_params["ref"])
    return Response(document_pdf(document), media_type="application/pdf")


def twist(request: Request, form: dict[str, str]) -> Response:
    """The twist of a space before it is closed: the readings, entered about it with their finding."""
    project, ref = project_of(request), request.path_params["ref"]
    made = load(CALCULATION)
    raw, error = twist_inputs(project, ref), None
    if request.method == "POST":
        raw = form_to_raw(made.spec, form)
        try:
            enter_twist(
                project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref, raw=raw
            )
            return see_other(request.url_for("weight").path + "#twist")
        except InputError as refused:
            error = refused
    context = {
        "title": f"Twist before closing: {ref}",
        "calculation": made,
        "form": form_page(made.spec, raw, error=error),
    }
    return page(request, "weight_twist.html", context, status=422 if error else 200)


ROUTES = [
    Route("/weight", posting(weight), methods=["GET", "POST"], name="weight"),
    Route("/weight/card/{ref}.pdf", card_pdf, name="loading_card"),
    Route("/weight/twist/{ref}", posting(twist), methods=["GET", "POST"], name="closing_twist"),
]
