"""Checks: findings and discrepancies over the whole aeroplane."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.services.record import discrepancies, findings, questions
from ribwright.web.pages import page, project_of

SHOWN = 100


def checks(request: Request) -> Response:
    """What is not within limits, what waits for an answer, and the newest findings."""
    project = project_of(request)
    found = findings(project)[::-1]
    return page(
        request, "checks.html",
        {
            "title": "Checks", "discrepancies": discrepancies(project)[::-1], "questions": questions(project, unanswered=True),
            "findings": found[:SHOWN], "total": len(found),
        },
    )  # fmt: skip


ROUTES = [Route("/checks", checks, name="checks")]
