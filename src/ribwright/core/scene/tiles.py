"""The map of a drawing spread over sheets: which sheet shows which part, reduced to be looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ribwright.core.scene.items import Item, Polygon, Text
from ribwright.core.scene.lettering import lettering_for
from ribwright.core.scene.page import OVERLAP_IN, Page
from ribwright.core.scene.scene import Scene, bounds
from ribwright.core.scene.strokes import drawn


def tile_map(scene: Scene, pages: Sequence[Page]) -> Scene:
    """The drawing with the windows of its sheets laid over it, numbered as the sheets are.

    Args:
        scene: the drawing.
        pages: what :func:`ribwright.core.scene.full_size` made of it.
    """
    first = pages[0]
    window = first.window
    columns = 1 + max(page.column for page in pages)
    rows = 1 + max(page.row for page in pages)
    box = bounds(scene)
    step_x = _step(pages, "column", window.width)
    step_y = _step(pages, "row", window.height)
    left = box.left - (window.width + (columns - 1) * step_x - box.width) / 2
    top = box.top + (window.height + (rows - 1) * step_y - box.height) / 2
    height = lettering_for(window.width + (columns - 1) * step_x, printed_in=0.16)
    items: list[Item] = [
        replace(part, layer="printed")
        for part in drawn(scene)
        if not isinstance(part, Text) and part.layer != "printed"
    ]
    for page in pages:
        x, y = left + page.column * step_x, top - page.row * step_y
        items.append(
            Polygon(
                ((x, y - window.height), (x + window.width, y - window.height), (x + window.width, y), (x, y)), "hidden" if len(pages) > 1 else "thin"
            )
        )  # fmt: skip
        items.append(
            Text(
                (x + window.width / 2, y - window.height / 2 - height / 2),
                str(page.number),
                height,
                "middle",
                bold=True,
            )
        )
    way = "portrait" if first.height >= first.width else "landscape"
    said = f"{len(pages)} sheet{'s' if len(pages) > 1 else ''} of {first.paper}, {way}, {columns} across and {rows} down."
    return Scene(tuple(items), f"Sheets of {scene.title or 'the drawing'}", said)


def _step(pages: Sequence[Page], along: str, window: float) -> float:
    """How far the next sheet's window lies from this one's: a window less the overlap."""
    return window - OVERLAP_IN if any(getattr(page, along) for page in pages) else window
