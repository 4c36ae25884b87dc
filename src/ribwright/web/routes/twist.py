"""The twist guide: a phone strapped to the lever shows the turn against the stop mark."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import InputError
from ribwright.services.operations import operation_view
from ribwright.services.twist import enter_turn, stops_of
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other
from ribwright.web.queue import kept, waited


def twist(request: Request, form: dict[str, str]) -> Response:
    """The guide, and the form that keeps what it showed."""
    project = project_of(request)
    ref, name = request.path_params["ref"], request.path_params["stage"]
    view = operation_view(project, ref)
    view.stage(name)
    error = None
    if request.method == "POST":
        try:
            enter_turn(
                project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref, stage=name, turned=form.get("turned", ""),
                back=form.get("back", ""), end=form.get("end", ""), stop=form.get("stop", ""),
            )  # fmt: skip
            return see_other(request.url_for("twist", ref=ref, stage=name).path + "#kept")
        except InputError as refused:
            if waited(request):
                raise
            error = refused
    context = {
        "title": f"Twist guide: {view.object.title}", "view": view, "reference": view.reference, "stage": name, "stops": stops_of(view),
        "request_id": new_request_id(), "form": form if error else {}, "mistake": error.sentence() if error else "",
        "read": [r for r in view.readings if r["stage"] == name and r["instrument"] == "phone on the lever"][::-1][:6],
    }  # fmt: skip
    return kept(page(request, "twist.html", context, status=422 if error else 200))


ROUTES = [Route("/twist/{ref}/{stage}", posting(twist), methods=["GET", "POST"], name="twist")]
