"""The row tally: one page for the bucker, who marks, and for the shooter, who reads it across the bench."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.fastening.tally import MARKS, as_seen
from ribwright.errors import InputError
from ribwright.services.operations import operation_view
from ribwright.services.tally import STAGE, enter_tally, row_of
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other
from ribwright.web.queue import kept, refuse_clashes, waited

SIDES = ("bucker", "shooter")


def tally(request: Request, form: dict[str, str]) -> Response:
    """A row's heads as they are called; on the shooter's side the row is seen mirrored."""
    project, ref = project_of(request), request.path_params["ref"]
    error = None
    if request.method == "POST":
        try:
            marks = _marks(form)
            refuse_clashes(request, form, ref=ref, stage=STAGE, marks=marks)
            enter_tally(
                project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref, marks=marks
            )
            request.app.state.live.forget(ref, "mark", STAGE)
            return see_other(request.url_for("tally", ref=ref).path)
        except InputError as refused:
            if waited(request):
                raise
            error = refused
    view = operation_view(project, ref)
    row = row_of(view)
    side = request.query_params.get("as", SIDES[0])
    side = side if side in SIDES else SIDES[0]
    first = request.query_params.get("first", "")
    first = first if first in ("left", "right") else "right" if side == "bucker" else "left"
    context = {
        "title": f"Row tally: {view.object.title}", "view": view, "reference": view.reference, "row": row, "side": side, "first": first,
        "other": "left" if first == "right" else "right", "seen": as_seen(row.holes, first_on=first), "marks": MARKS, "stage": STAGE,
        "request_id": new_request_id(), "mistake": error.sentence() if error else "",
    }  # fmt: skip
    return kept(page(request, "tally.html", context, status=422 if error else 200))


def _marks(form: dict[str, str]) -> dict[int, str]:
    return {
        int(key[5:]): mark
        for key, mark in form.items()
        if key.startswith("mark.") and key[5:].isascii() and key[5:].isdigit() and len(key) < 10 and mark
    }


ROUTES = [Route("/tally/{ref}", posting(tally), methods=["GET", "POST"], name="tally")]
