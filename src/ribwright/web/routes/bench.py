"""Next on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import RibwrightError
from ribwright.services.bench import next_on_bench
from ribwright.services.dunlin import is_demonstration
from ribwright.services.plan_tonight_form import TonightSpec, tonight_spec
from ribwright.web.forms import form_page
from ribwright.web.pages import page, project_of
from ribwright.web.queue import kept

if TYPE_CHECKING:
    from ribwright.services.plan_tonight import Evening

SHOWN = 60
PATIENCE_S = 1.0


def next_page(request: Request) -> Response:
    """What can be done now, what the rest waits for."""
    project = project_of(request)
    made = next_on_bench(project)
    asked = {
        name: request.query_params.get(name, "")[:200]
        for name in ("hours", "who", "temperature", "light", "tools", "room")
    }
    found: Evening | None = None
    error: RibwrightError | None = None
    if any(asked.values()):
        # brings in the whole plan, which the first page does not wait for
        from ribwright.services.plan_tonight import evening

        try:
            found = evening(project, tonight_spec(asked), wait=PATIENCE_S)
        except RibwrightError as refused:
            error = refused
    form = form_page(TonightSpec, {k: v for k, v in asked.items() if v}, error=error)
    return kept(page(
        request, "bench.html",
        {"title": "Next on the bench", "bench": made, "ready": made.ready[:SHOWN], "waiting": made.waiting[:SHOWN],
         "form": form, "evening": found, "demonstration": is_demonstration(project)},
        status=422 if error else 200,
    ))  # fmt: skip


ROUTES = [Route("/", next_page, name="bench")]
