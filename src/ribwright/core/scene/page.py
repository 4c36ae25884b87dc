"""Full-size pages. A template page has no scale: it fits, is tiled, or is refused.

Every page carries a check figure in both directions. What the builder measures on it comes back as a
``correction`` for that printer: factors for the short and the long edge of its paper, applied to the whole
page, check figure included, so that the next print measures true.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from ribwright.core.scene.furniture import LEFT_STRIP_IN, TITLE_STRIP_IN, TitleBlock, furniture, joints
from ribwright.core.scene.items import Primitive
from ribwright.core.scene.scene import Bounds, Scene, around, moved
from ribwright.core.scene.strokes import box_of, drawn, is_finite
from ribwright.errors import DoesNotFitError, MissingError, OutOfRangeError, UnknownNameError

__all__ = ["NOT_APPROVED", "PAPERS", "Page", "TitleBlock", "full_size"]

NOT_APPROVED = (
    "The designer's drawings win. Not approved data. Ask a licensed mechanic or inspector; local rules apply."
)

PAPERS: dict[str, tuple[float, float]] = {
    "letter": (8.5, 11.0),
    "a4": (210 / 25.4, 297 / 25.4),
    "tabloid": (11.0, 17.0),
    "a3": (297 / 25.4, 420 / 25.4),
    "half-letter": (5.5, 8.5),
    "roll-24in": (24.0, math.inf),
    "roll-36in": (36.0, math.inf),
}
"""Short and long edge in inches; a roll has no end."""

LONGEST_ROLL_PIECE_IN = 120.0
"""A longer piece is tiled: PDF readers stop at 200 in, and nobody handles more on a bench."""

MARGIN_IN = 0.35
OVERLAP_IN = 0.5
MOST_PAGES = 400
LARGEST_CORRECTION = 0.03


@dataclass(frozen=True, slots=True)
class Page:
    """One sheet of paper. Coordinates are true inches from its lower left corner, before correction.

    ``drawing`` is clipped to ``window`` when it is written; ``furniture`` (title block, check figure, cut
    and glue edges) is not. ``correction`` are the factors for this page's own x and y, about its middle.
    """

    paper: str
    width: float
    height: float
    drawing: Scene
    window: Bounds
    furniture: Scene
    correction: tuple[float, float] = (1.0, 1.0)
    number: int = 1
    of: int = 1
    row: int = 0
    column: int = 0


@dataclass(frozen=True, slots=True)
class _Lay:
    """How a drawing falls on sheets of one format."""

    width: float
    height: float
    window_w: float
    window_h: float
    columns: int
    rows: int


def full_size(
    scene: Scene,
    paper: str = "letter",
    correction: tuple[float, float] = (1.0, 1.0),
    title_block: TitleBlock | None = None,
    *,
    tile: bool = True,
    orientation: Literal["auto", "portrait", "landscape"] = "auto",
    overlap_in: float = OVERLAP_IN,
) -> tuple[Page, ...]:
    """The drawing at its true size on as few sheets as can be.

    Args:
        scene: what to print; inches.
        paper: one of :data:`PAPERS`.
        correction: factors of this printer for the short and the long edge of the paper.
        title_block: what the strip at the foot says.
        tile: False refuses instead of spreading over several sheets.
        orientation: auto takes the way round with the fewest sheets (portrait when equal).
        overlap_in: how far neighbouring sheets lap.

    Raises:
        UnknownNameError: no such paper.
        OutOfRangeError: correction beyond 3 %.
        MissingError: nothing to print.
        DoesNotFitError: larger than the paper without tiling, or more than 400 sheets.
    """
    short_long = PAPERS.get(paper)
    if short_long is None:
        raise UnknownNameError("paper", found=paper, allowed=", ".join(PAPERS))
    for factor in correction:
        if not abs(factor - 1) <= LARGEST_CORRECTION + 1e-12:
            raise OutOfRangeError(
                "printer correction",
                found=factor,
                allowed="0.97 to 1.03",
                mend="Print at actual size, without fit to page, and measure again",
            )
    parts = drawn(scene)
    if not parts:
        raise MissingError("drawing", because="there is nothing to print", mend="Add something to draw")
    if not all(is_finite(part) for part in parts):
        raise DoesNotFitError("drawing", because="it has a point at no finite place")
    boxes = tuple(box_of(part) for part in parts)
    box = around(boxes)
    lays = [
        _lay(short_long, turned, box, correction, overlap_in)
        for turned in (False, True)
        if orientation == "auto" or turned == (orientation == "landscape")
    ]
    lay = min(lays, key=lambda one: (one.columns * one.rows, one.width * one.height))
    count = lay.columns * lay.rows
    if count > 1 and not tile:
        raise DoesNotFitError(
            "drawing",
            found=f"{box.width:.2f} by {box.height:.2f} in",
            allowed=f"{lay.window_w:.2f} by {lay.window_h:.2f} in on one sheet of {paper}",
            mend="Allow several sheets, or choose larger paper",
        )
    if count > MOST_PAGES:
        raise DoesNotFitError(
            "drawing",
            found=f"{box.width:.0f} by {box.height:.0f} in: {count} sheets of {paper}",
            allowed=f"{MOST_PAGES} sheets",
            mend="Choose larger paper or a roll, or print a part of it",
        )
    factors = correction if lay.width <= lay.height else (correction[1], correction[0])
    sheet = title_block or TitleBlock(scene.title)
    return _pages(scene, parts, boxes, paper, lay, box, factors, sheet, overlap_in)


def _lay(
    short_long: tuple[float, float],
    turned: bool,
    box: Bounds,
    correction: tuple[float, float],
    overlap: float,
) -> _Lay:
    short, long = short_long
    width, height = (long, short) if turned else (short, long)
    fx, fy = (correction[1], correction[0]) if turned else correction
    # A sheet of a roll is cut as long as the drawing needs.
    if math.isinf(width):
        width = min(LONGEST_ROLL_PIECE_IN, max(8.5, box.width * fx + 2 * MARGIN_IN + LEFT_STRIP_IN + 0.02))
    if math.isinf(height):
        height = min(LONGEST_ROLL_PIECE_IN, max(8.5, box.height * fy + 2 * MARGIN_IN + TITLE_STRIP_IN + 0.02))
    window_w = (width - 2 * MARGIN_IN) / max(fx, 1.0) - LEFT_STRIP_IN
    window_h = (height - 2 * MARGIN_IN) / max(fy, 1.0) - TITLE_STRIP_IN
    return _Lay(
        width,
        height,
        window_w,
        window_h,
        _count(box.width, window_w, overlap),
        _count(box.height, window_h, overlap),
    )


def _count(length: float, window: float, overlap: float) -> int:
    if length <= window:
        return 1
    return math.ceil((length - overlap) / (window - overlap) - 1e-9)


def _pages(
    scene: Scene,
    parts: tuple[Primitive, ...],
    boxes: tuple[Bounds, ...],
    paper: str,
    lay: _Lay,
    box: Bounds,
    factors: tuple[float, float],
    title_block: TitleBlock,
    overlap: float,
) -> tuple[Page, ...]:
    step_x, step_y = lay.window_w - overlap, lay.window_h - overlap
    covered_w = lay.window_w + (lay.columns - 1) * step_x
    covered_h = lay.window_h + (lay.rows - 1) * step_y
    left = box.left - (covered_w - box.width) / 2
    top = box.top + (covered_h - box.height) / 2
    # The printable rectangle sits in the middle of the sheet, so that a correction keeps it there.
    x0 = (lay.width - lay.window_w - LEFT_STRIP_IN) / 2 + LEFT_STRIP_IN
    y0 = (lay.height - lay.window_h - TITLE_STRIP_IN) / 2 + TITLE_STRIP_IN
    window = Bounds(x0, y0, x0 + lay.window_w, y0 + lay.window_h)
    pages = []
    of = lay.columns * lay.rows
    for row in range(lay.rows):
        for column in range(lay.columns):
            gx, gy = left + column * step_x, top - row * step_y - lay.window_h
            seen = tuple(
                part
                for part, b in zip(parts, boxes, strict=True)
                if b.right >= gx
                and b.left <= gx + lay.window_w
                and b.top >= gy
                and b.bottom <= gy + lay.window_h
            )
            number = row * lay.columns + column + 1
            round_it = furniture(window, title_block, number, of, row, column, lay.rows, lay.columns)
            edges = joints(window, overlap, row, column, lay.rows, lay.columns)
            pages.append(
                Page(
                    paper,
                    lay.width,
                    lay.height,
                    moved(Scene(seen, scene.title, scene.described), x0 - gx, y0 - gy),
                    window,
                    Scene(round_it.items + edges.items),
                    factors,
                    number,
                    of,
                    row,
                    column,
                )
            )
    return tuple(pages)
