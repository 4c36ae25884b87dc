"""Plan: when it flies, how sure, what moves the date, what to order by when."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.planning.tasks import Week
from ribwright.services.plan import plan_view
from ribwright.web.pages import page, project_of


def plan(request: Request) -> Response:
    """The plan as it stands today."""
    view = plan_view(project_of(request))
    return page(request, "plan.html", {"title": "Plan", "view": view, "week": Week()})


ROUTES = [Route("/plan", plan, name="plan")]
