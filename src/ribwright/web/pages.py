"""Rendering: one Jinja environment, strict about names, with the filters that pages need."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from functools import cache, lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from ribwright import __version__
from ribwright.core.bench.mirror import other_side
from ribwright.core.record.naming import did, named
from ribwright.core.scene import Hand, Scene, Table, Text, bounds
from ribwright.core.scene.items import Primitive
from ribwright.core.scene.legible import is_note, least_height
from ribwright.core.scene.lettering import CAPITAL_HEIGHT
from ribwright.core.scene.scene import Bounds, around
from ribwright.core.scene.strokes import box_of, drawn
from ribwright.core.units import shown
from ribwright.core.writers.to_svg import svg_of
from ribwright.errors import RefusedError
from ribwright.services.project import Actor, Project
from ribwright.services.seals import short_seal as seal
from ribwright.web.walk import strip_of

PAGES = (
    ("/", "Next on the bench"),
    ("/airframe", "Airframe"),
    ("/checks", "Checks"),
    ("/plan", "Plan"),
    ("/weight", "Weight"),
    ("/flight", "Flight"),
    ("/stores", "Stores"),
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
    env.filters["without_hand"] = without_hand
    env.filters["shown"] = shown
    env.filters["kind"] = lambda block: type(block).__name__
    env.filters["url"] = lambda text: quote(str(text), safe="")
    env.filters["mark"] = mark
    env.filters["numbered"] = numbered
    env.filters["counted"] = counted
    env.filters["named"] = lambda name: named(str(name))
    env.filters["did"] = did
    env.filters["other_side"] = other_side
    env.filters["paper"] = lambda name: PAPER_WORDS.get(name, name)
    return env


LEGIBLE_PX = 10.0
"""Least lettering of a drawing on a phone: smaller is raised there; where that finds no room, the drawing is made wider."""
STILL_LEGIBLE_PX = 8.8
PHONE_PX = 330.0
DESK_LETTERS_PX = 16.0
"""A drawing is not shown so large that its least lettering is larger than the page's."""
DESK_LEAST_PX = 11.0
"""Least lettering of a drawing on a desk, where raising it finds room."""
DESK_PX = 1110.0
"""How wide a drawing may be there."""
ROOT_PX = 16.96
"""A rem of the style sheet."""
WIDEST_REM = 72
WIDTHS_REM = (30, 40, 50, 65, 80)
PIECE_PX = 64
"""Pixels to the inch of a drawing in pieces; five holes of a seam are as wide as the narrowest phone has room for."""


@lru_cache(maxsize=64)
def drawing(scene: Scene) -> Markup:
    """A drawing as inline SVG; the writer escapes what it letters. Drawn once for all that look at it."""
    if scene.pieces:
        return Markup("").join(_folded(group) for group in scene.pieces)
    parts = drawn(scene)
    notes = tuple(item for item in parts if isinstance(item, Text) and is_note(item))
    apart = tuple(item for item in parts if item not in notes)
    said_below = bool(notes) and _outgrown(notes, apart)
    if said_below:
        parts, scene = apart, Scene(apart, scene.title, scene.described)
    box = around(tuple(box_of(item) for item in parts))
    tall = "tall" if box.height > 1.4 * box.width else "square" if box.height > 0.75 * box.width else ""
    desk_px = _desk_px(box)
    heights = [item.height for item in parts if isinstance(item, Text)]
    limit = {"tall": 34, "square": 48}.get(tall, WIDEST_REM)
    across = 1.06 * DESK_LETTERS_PX * CAPITAL_HEIGHT * box.width / min(heights, default=1.0) / 16
    step = max(20, 4 * round(across / 4))
    tall += f" to-{step}" if step < limit else ""
    tried = (least_height(parts, across_px=PHONE_PX, letters_px=px) for px in (LEGIBLE_PX, STILL_LEGIBLE_PX))
    least = next((one for one in tried if one is not None), None)
    desk = least_height(parts, across_px=desk_px, letters_px=DESK_LEAST_PX) or 0.0
    words = dict.fromkeys(item.text for item in notes)
    named = "note-below at-desk" if said_below else "note-below"
    below = Markup("").join(Markup('<p class="{}">{}</p>').format(named, one) for one in words)
    if least is not None:
        unsaid = notes and not said_below
        picture = Markup(svg_of(scene, least=least or (min(heights) if unsaid else 0.0), desk=desk))
        return (Markup('<div class="{}">{}</div>').format(tall, picture) if tall else picture) + below
    wanted = LEGIBLE_PX * CAPITAL_HEIGHT * box.width * 1.06 / min(heights)
    rem = next((width for width in WIDTHS_REM if width * 16 >= wanted), WIDTHS_REM[-1])
    label = Markup.escape(f"{scene.title or 'drawing'}; slide to see all")
    return Markup(
        '<div class="scroll wide-{} {}" tabindex="0" role="region" aria-label="{}">{}</div>'
        '<p class="slide" aria-hidden="true">slide to see all →</p>{}'
    ).format(rem, tall, label, Markup(svg_of(scene, desk=desk)), below if said_below else "")


def _desk_px(box: Bounds) -> float:
    """How wide a drawing is shown on a desk at most, by the style sheet's widths and heights."""
    if box.height > 1.4 * box.width:
        return 34 * ROOT_PX
    if box.height > 0.75 * box.width:
        return 48 * ROOT_PX
    return min(DESK_PX, 34 * ROOT_PX * box.width / max(box.height, 1e-6))


def _outgrown(notes: tuple[Text, ...], apart: tuple[Primitive, ...]) -> bool:
    """Whether sentences on the drawing are better said under it on a desk too: too small there, or far wider than the rest."""
    rest = around(tuple(box_of(item) for item in apart))
    box = around((rest, *(box_of(item) for item in notes))) if apart else rest
    small = min(item.height for item in notes) / CAPITAL_HEIGHT * _desk_px(box) / (1.06 * box.width)
    return bool(apart) and (small < DESK_LEAST_PX or box.width > 1.25 * rest.width)


def without_hand(scene: Scene) -> Scene:
    """The drawing for a page that says LEFT or RIGHT HAND at its head already."""
    return replace(
        scene,
        items=tuple(item for item in scene.items if not isinstance(item, Hand)),
        pieces=tuple(tuple(without_hand(one) for one in group) for group in scene.pieces),
    )


def _folded(group: tuple[Scene, ...]) -> Markup:
    """Pieces of a drawing at one scale, as many beside each other as there is room for."""
    pieces = (svg_of(one, width_px=round(PIECE_PX * (bounds(one).width + 0.1)), margin=0.01) for one in group)
    return Markup('<div class="in-pieces">{}</div>').format(Markup("".join(pieces)))


def numbered(table: Table) -> tuple[tuple[str, str], ...]:
    """A numbered series that paper has in columns beside each other, as pairs in their order; empty for any other table."""
    head = table.header
    if len(head) < 2 or len(head) % 2 or head[0] != "no." or head != head[:2] * (len(head) // 2):
        return ()
    return tuple(
        (row[k], row[k + 1]) for k in range(0, len(head), 2) for row in table.rows if row[k] or row[k + 1]
    )


COUNTED = frozenset(("bag", "bar", "bottle", "box", "can", "kit", "length", "pair", "piece", "roll", "set", "sheet", "tin", "tube"))  # fmt: skip
"""Words of the stores that are counted: many of them take an s; abbreviations such as qt do not."""


def counted(unit: str, count: Decimal) -> str:
    """The word for so many: 1 roll, 12 rolls, 4 boxes, 4 qt."""
    if abs(count) == 1 or unit not in COUNTED:
        return unit
    return unit + ("es" if unit.endswith("x") else "s")


PAPER_WORDS = {"a4": "A4", "a3": "A3", "roll-24in": "a roll 24 in wide", "roll-36in": "a roll 36 in wide"}
"""Papers whose own name is no word; the others are called as they are."""


def mark(verdict: str) -> str:
    """The shape that goes before a finding's word: a shape first, colour second."""
    return {"within limits": "●", "rework": "▲", "refer": "■", "undecided": "◇"}.get(verdict, "○")


def project_of(request: Request) -> Project:
    """The open project of this app."""
    project: Project = request.app.state.project
    return project


def actor_of(request: Request) -> Actor:
    """Who acts: the person of the session; the builder only at this machine itself.

    Raises:
        RefusedError: a stranger, for whom nobody acts.
    """
    if is_stranger(request):
        raise RefusedError("page", because="this device is not let in")
    actor: Actor = request.scope.get("ribwright.actor") or request.app.state.actor
    return actor


def is_stranger(request: Request) -> bool:
    """Whether this came from the network, from a device that is not let in."""
    return "ribwright.actor" in request.scope and request.scope["ribwright.actor"] is None


def page(request: Request, template: str, context: dict[str, Any], *, status: int = 200) -> HTMLResponse:
    """A page: sheet index, title block with the project's name and the seal, and the template's body."""
    project = project_of(request)
    if is_stranger(request):  # who is not let in learns nothing of the project, not from an error either
        base: dict[str, Any] = {
            "pages": (),
            "project": "Ribwright",
            "actor": None,
            "path": request.url.path,
            "walk": None,
        }
        html = environment().get_template(template).render(base | context)
        return HTMLResponse(html, status_code=status, headers={"cache-control": "no-store"})
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
        "today": project.now()[:10],
        "actor": actor_of(request),
        "reference": "",
        "path": path,
        "walk": strip_of(request),
    }
    html = environment().get_template(template).render(base | context)
    return HTMLResponse(html, status_code=status, headers={"cache-control": "no-store"})


def _current(url: str, path: str) -> bool:
    if url == "/":
        return path == "/" or path.startswith("/stage")
    if url == "/airframe":
        return path.startswith(("/airframe", "/operation"))
    return path.startswith(url)
