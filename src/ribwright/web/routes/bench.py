"""Next on the bench."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.services.bench import next_on_bench
from ribwright.services.record import count_objects
from ribwright.web.pages import page, project_of
from ribwright.web.queue import kept

SHOWN = 60


def next_page(request: Request) -> Response:
    """What can be done now, what the rest waits for."""
    project = project_of(request)
    made = next_on_bench(project)
    return kept(page(
        request, "bench.html",
        {"title": "Next on the bench", "bench": made, "ready": made.ready[:SHOWN], "waiting": made.waiting[:SHOWN], "counts": count_objects(project)},
    ))  # fmt: skip


ROUTES = [Route("/", next_page, name="bench")]
