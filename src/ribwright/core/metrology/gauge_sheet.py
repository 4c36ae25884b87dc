"""New gauge sheets: a card round a target profile, a rivet strip, a straightness strip.

Each function returns the layout as a plain JSON-ready mapping in the format that ``layout.layout_from``
reads: it is stored beside the printed sheet, and a photo can't be measured without it.
"""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.arcs import arc_length_mm, resampled, unit_normals
from ribwright.core.metrology.layout import IDS_OF
from ribwright.core.metrology.marks import marker_bits
from ribwright.errors import DoesNotFitError, GeometryError, OutOfRangeError, UnknownNameError

Floats = NDArray[np.float64]

PAGES_MM = {"a4": (297.0, 210.0), "letter": (279.4, 215.9), "a3": (420.0, 297.0)}
NOTCH_MM = 7.0  # the window stays this far from the part, so the cut never enters
RIM_MM = 2.5  # white border printed round the window
CORNER_CLEAR_MM = 6.0
PLACES = 61
DICTIONARY = "DICT_5X5_250"


@dataclass(frozen=True, slots=True)
class _Board:
    columns: int
    rows: int
    square: float
    marker: float
    x0: float
    y0: float


def profile_card_layout(
    *, name: str, outline_mm: Floats, page: str = "a4", laid: bool = False, square_mm: float = 12.0
) -> dict[str, object]:
    """A card with a window round a target profile (or, for a strip laid on it, a blank area).

    Args:
        name: printed on the card.
        outline_mm: shape (n, 2), outer skin from the upper aft end round the nose to the lower aft end,
            x aft, y down; any origin: the profile is put in the middle of the page, nose to the left.
        page: a4, letter or a3, landscape.
        laid: True for a strip that is stood on the uncut card (open profiles only).
        square_mm: size of a chess square; markers are three quarters of it.

    Raises:
        GeometryError: the outline has too few points, or its nose is not to the left.
        DoesNotFitError: the profile is too large for the page.
        UnknownNameError: no such page.
    """
    width, height = _page(page)
    outline = np.asarray(outline_mm, dtype=np.float64)
    if outline.ndim != 2 or outline.shape[1] != 2 or len(outline) < 8 or not np.isfinite(outline).all():
        raise GeometryError("profile", found="not a line of at least 8 points", allowed="shape (n, 2) in mm")
    steps = np.hypot(*np.diff(outline, axis=0).T)
    if (steps == 0).any():
        outline = outline[np.r_[True, steps > 0]]
    nose = int(np.argmin(outline[:, 0]))
    if nose in (0, len(outline) - 1):
        raise GeometryError("profile", found="the nose is at an end", allowed="nose to the left, ends aft")
    if outline[0, 1] > outline[-1, 1]:
        outline = outline[::-1]
    dense = resampled(outline, 0.2)
    size = np.ptp(dense, axis=0)
    room = (width - 90.0, height - 60.0)
    if size[0] > room[0] or size[1] > room[1]:
        raise DoesNotFitError(
            "profile",
            found=f"{size[0]:.0f} x {size[1]:.0f} mm",
            allowed=f"{room[0]:.0f} x {room[1]:.0f} mm on {page}",
            mend="Take a larger page, or only the nose of the profile",
        )
    middle = np.array([0.46 * width + 0.1 * size[0], height / 2])
    dense = dense - (dense.min(axis=0) + size / 2) + middle
    normal = unit_normals(dense)
    inside = dense.mean(axis=0)
    if ((dense - inside) * normal).sum() < 0:
        normal = -normal
    board = _fill(width, height, square_mm, margin=(16.5, 15.0))
    blank = _blank(dense, normal, width, laid)
    arc = arc_length_mm(dense)
    nose_at = int(np.argmin(dense[:, 0]))
    arc = arc - arc[nose_at]
    places = np.linspace(arc[0] + 4.0, arc[-1] - 4.0, PLACES)
    at = np.array([np.interp(places, arc, dense[:, i]) for i in (0, 1)]).T
    away = np.array([np.interp(places, arc, normal[:, i]) for i in (0, 1)]).T
    away /= np.hypot(*away.T)[:, None]
    bar_x, bar_y = 10 * ((width - 97) // 10), 10 * ((height - 60) // 10)
    bars = [
        _bar("bar_x", (width / 2 - bar_x / 2, 7.5), (width / 2 + bar_x / 2, 7.5), "x"),
        _bar("bar_y", (8.0, height / 2 - bar_y / 2), (8.0, height / 2 + bar_y / 2), "y"),
    ]
    return {
        "kind": "A",
        "units": "mm",
        "frame": "origin at the top left of the printed page, x right, y down, z into the page",
        "page": [width, height],
        **_board_entries(board, blank, CORNER_CLEAR_MM, first_id=_own_first_id(board, dense)),
        "bars": bars,
        "blank_polygon": blank.round(3).tolist(),
        "blank_rim_mm": RIM_MM,
        "cut": "not cut; blank printed area" if laid else "window (U-notch open to the right)",
        "target": {
            "name": name,
            "outline_xy": dense.round(4).tolist(),
            "outline_order": "upper aft end -> nose -> lower aft end; the outer skin surface",
            "arc_positions_mm": places.round(4).tolist(),
            "arc_xy": at.round(4).tolist(),
            "arc_normal_out": away.round(6).tolist(),
        },
    }


def rivet_strip_layout(
    *, length_mm: float = 147.0, square_mm: float = 7.0, kind: str = "B"
) -> dict[str, object]:
    """A strip of three rows of squares, laid beside a rivet row ("B") or a trailing edge ("T").

    Three rows, because two give one line of corners, which fixes no pose.

    Raises:
        OutOfRangeError: too short or too long, or squares too small to print.
    """
    if not 4.0 <= square_mm <= 15.0:
        raise OutOfRangeError("square", found=f"{square_mm:g} mm", allowed="4 to 15 mm")
    if not 60.0 <= length_mm <= 410.0:
        raise OutOfRangeError("strip length", found=f"{length_mm:g} mm", allowed="60 to 410 mm")
    if kind not in ("B", "T"):
        raise UnknownNameError("kind", found=kind, allowed="B, T")
    columns = int((length_mm - square_mm) // square_mm)
    length = columns * square_mm
    margin = square_mm / 2
    board = _Board(columns, 3, square_mm, 0.75 * square_mm, margin, margin)
    bar = _bar("strip_length", (margin, margin), (margin + length, margin), "x")
    bar["note"] = "outer edge of first to outer edge of last square"
    return {
        "kind": kind,
        "units": "mm",
        "frame": "origin at the top left of the strip, x right along it, y down, z into the sheet",
        "size": [length + 2 * margin, 3 * square_mm + 2 * margin],
        **_board_entries(board, np.empty((0, 2)), 0.0),
        "bars": [bar],
    }


def inked_squares(layout: Mapping[str, object]) -> list[tuple[float, float, float, float]]:
    """Everything black on the sheet as rectangles x, y, width, height in mm: squares, then marker cells.

    A square that reaches into the window's white rim is cut off by it: the rim, :func:`white_rim`, is printed over it.
    """
    board = layout["charuco"]
    assert isinstance(board, Mapping)
    columns, rows = int(board["squares_x"]), int(board["squares_y"])
    square, (x0, y0) = float(board["square_mm"]), board["origin"]
    black = [(c, r) for r in range(rows) for c in range(columns) if (c + r) % 2 == 0]
    out = [(x0 + c * square, y0 + r * square, square, square) for c, r in black]
    bits = marker_bits(DICTIONARY)
    markers = layout["markers"]
    assert isinstance(markers, list)
    for marker in markers:
        (left, top), (right, _) = marker["corners"][0], marker["corners"][1]
        cell = (right - left) / bits.shape[1]
        for i, j in np.argwhere(bits[marker["id"]]):
            out.append((left + j * cell, top + i * cell, cell, cell))
    return out


def white_rim(layout: Mapping[str, object]) -> Floats:
    """The window with its white rim, shape (n, 2) in mm; empty where the sheet has no window.

    Black and white beside the window are where the measuring looks for them: whole squares left out would take with
    them corners that the layout has.
    """
    target = layout.get("target")
    if not isinstance(target, Mapping):
        return np.empty((0, 2))
    page = layout["page"]
    assert isinstance(page, list)
    outline = np.asarray(target["outline_xy"], dtype=np.float64)
    laid = str(layout.get("cut", "")).startswith("not")
    return _blank(outline, unit_normals(outline), float(page[0]), laid, NOTCH_MM + RIM_MM)


def _page(page: str) -> tuple[float, float]:
    if page not in PAGES_MM:
        raise UnknownNameError("page", found=page, allowed=", ".join(PAGES_MM))
    return PAGES_MM[page]


def _fill(width: float, height: float, square: float, margin: tuple[float, float]) -> _Board:
    if not 6.0 <= square <= 25.0:
        raise OutOfRangeError("square", found=f"{square:g} mm", allowed="6 to 25 mm")
    columns, rows = int((width - 2 * margin[0]) // square), int((height - 2 * margin[1]) // square)
    while columns * rows // 2 > IDS_OF[DICTIONARY]:
        square *= 1.1
        columns, rows = int((width - 2 * margin[0]) // square), int((height - 2 * margin[1]) // square)
    return _Board(
        columns, rows, square, 0.75 * square, (width - columns * square) / 2, (height - rows * square) / 2
    )


def _bar(name: str, start: tuple[float, float], end: tuple[float, float], axis: str) -> dict[str, object]:
    length = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    return {"name": name, "p0": list(start), "p1": list(end), "nominal_mm": length, "axis": axis}


def _blank(dense: Floats, normal: Floats, width: float, laid: bool, clear: float = NOTCH_MM) -> Floats:
    """The target moved out by a clearance, the notch's, open to the right (window) or closed (laid)."""
    rim = dense + clear * normal
    end = rim[:, 0].max() + (clear if laid else 0.0)
    right = end if laid else width
    return np.vstack([[right, rim[0, 1]], rim, [right, rim[-1, 1]]])


def _own_first_id(board: _Board, outline: Floats) -> int:
    """Id of a card's first marker, drawn from its outline: another part's card has other markers in the same squares.

    Windows of like size leave out the same markers; were all cards numbered alike, one could pass for the other.
    """
    room = IDS_OF[DICTIONARY] - board.columns * board.rows // 2
    return zlib.crc32(np.round(outline, 2).astype("<f8").tobytes()) % (room + 1)


def _board_entries(board: _Board, blank: Floats, clear: float, first_id: int = 0) -> dict[str, object]:
    corners, markers = [], []
    number = first_id
    for row in range(board.rows):
        for column in range(board.columns):
            x, y = board.x0 + column * board.square, board.y0 + row * board.square
            if row and column:
                corners.append(((row - 1) * (board.columns - 1) + column - 1, (x, y)))
            if (row + column) % 2:
                pad = (board.square - board.marker) / 2
                markers.append((number, (x + pad, y + pad)))
                number += 1
    at = np.array([c[1] for c in corners])
    kept = clear_of(at, blank, 0.0, clear)
    middles = np.array([m[1] for m in markers]) + board.marker / 2
    free = clear_of(middles, blank, board.marker / 2, RIM_MM)
    side = board.marker
    return {
        "dictionary": DICTIONARY,
        "charuco": {
            "squares_x": board.columns,
            "squares_y": board.rows,
            "square_mm": board.square,
            "marker_mm": side,
            "origin": [board.x0, board.y0],
            "legacy_pattern": False,
            "first_id": first_id,
        },
        "chess_corners": [
            {"id": i, "xy": [round(x, 4), round(y, 4)]}
            for (i, (x, y)), ok in zip(corners, kept, strict=True)
            if ok
        ],
        "markers": [
            {
                "id": i,
                "corners": [
                    [round(x + u * side, 4), round(y + v * side, 4)]
                    for u, v in ((0, 0), (1, 0), (1, 1), (0, 1))
                ],
            }
            for (i, (x, y)), ok in zip(markers, free, strict=True)
            if ok
        ],
    }


def clear_of(at: Floats, blank: Floats, half: float, clear: float) -> NDArray[np.bool_]:
    """True where a square of half size ``half`` about each place keeps ``clear`` from the blank polygon."""
    if not len(blank):
        return np.ones(len(at), dtype=bool)
    corners = np.array(
        [(0, 0)] if half == 0 else [(u, v) for u in (-half, 0, half) for v in (-half, 0, half)]
    )
    spots = (at[:, None, :] + corners[None]).reshape(-1, 2)
    edges = np.vstack([blank, blank[:1]])
    a, d = edges[:-1], np.diff(edges, axis=0)
    length = np.maximum((d**2).sum(axis=1), 1e-12)
    u = np.clip(((spots[:, None, :] - a) * d).sum(axis=2) / length, 0, 1)
    gap = np.hypot(*np.moveaxis(spots[:, None, :] - a - u[..., None] * d, 2, 0)).min(axis=1)
    y, x = spots[:, 1:], spots[:, :1]
    crosses = (a[:, 1] > y) != (edges[1:, 1] > y)
    safe = np.where(d[:, 1] == 0, 1.0, d[:, 1])
    inside = (crosses & (x < a[:, 0] + (y - a[:, 1]) / safe * d[:, 0])).sum(axis=1) % 2 == 1
    return np.asarray(((gap >= clear) & ~inside).reshape(len(at), -1).all(axis=1), dtype=bool)
