"""Plan: when it flies, how sure, what moves the date, what to order by when."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.services.plan import plan_standing
from ribwright.web.pages import page, project_of

PATIENCE_S = 2.0
"""So long a page waits for a plan that is not worked out yet; then it shows how far it is."""


def plan(request: Request) -> Response:
    """The plan as it stands today, as far as it is worked out."""
    standing = plan_standing(project_of(request), wait=PATIENCE_S)
    if standing.error is not None:
        raise standing.error
    context = {"title": "Plan", "view": standing.result, "says": standing.says, "running": standing.running}
    return page(request, "plan.html", context)


ROUTES = [Route("/plan", plan, name="plan")]
