"""Rendering: one Jinja environment, strict about names, with the filters that pages need."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from ribwright import __version__
from ribwright.core.scene import Scene
from ribwright.core.units import shown
from ribwright.core.writers.to_svg import svg_of
from ribwright.services.project import Actor, Project
from ribwright.services.seals import short_seal as seal

PAGES = (
    ("/", "Next on the bench"),
    ("/airframe", "Airframe"),
    ("/checks", "Checks"),
    ("/plan", "Plan"),
    ("/calc", "Calculations"),
    ("/record", "Record"),
)
"""The pages of the sheet index, in order."""


@cache
def environment() -> Environment:
    """Templates compiled once; an unknown name in one is an error, never an empty string."""
    env = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    env.filters["drawing"] = drawing
    env.filters["shown"] = shown
    env.filters["kind"] = lambda block: type(block).__name__
    env.filters["url"] = lambda text: quote(str(text), safe="")
    env.filters["mark"] = mark
    return env


def drawing(scene: Scene) -> Markup:
    """A drawing as inline SVG; the writer escapes what it letters."""
    return Markup(svg_of(scene))


def mark(verdict: str) -> str:
    """The shape that goes before a finding's word: a shape first, colour second."""
    return {"within limits": "●", "rework": "▲", "refer": "■", "undecided": "◇"}.get(verdict, "○")


def project_of(request: Request) -> Project:
    """The open project of this app."""
    project: Project = request.app.state.project
    return project


def actor_of(request: Request) -> Actor:
    """Who acts: the person of the session, else the one at this machine."""
    actor: Actor = request.scope.get("ribwright.actor") or request.app.state.actor
    return actor


def page(request: Request, template: str, context: dict[str, Any], *, status: int = 200) -> HTMLResponse:
    """A page: sheet index, title block with the project's name and the seal, and the template's body."""
    project = project_of(request)
    try:
        head = seal(project)
    except Exception:  # an error page must come out even when the record can't be read
        if status < 400:
            raise
        head = "-"
    path = request.url.path
    base = {
        "pages": [(url, name, _current(url, path)) for url, name in PAGES],
        "project": project.name,
        "seal": head,
        "version": __version__,
        "actor": actor_of(request),
        "reference": "",
        "path": path,
    }
    html = environment().get_template(template).render(base | context)
    return HTMLResponse(html, status_code=status, headers={"cache-control": "no-store"})


def _current(url: str, path: str) -> bool:
    if url == "/":
        return path == "/" or path.startswith("/stage")
    if url == "/airframe":
        return path.startswith(("/airframe", "/operation"))
    return path.startswith(url)
