"""What is printed on a gauge sheet: chess corners, markers, bars, the hole and the target.

The layout is a JSON file that lies beside the printed sheet. Everything is in millimetres in the
*printed* frame: origin at the top left of the page (or strip), x to the right, y down, z into it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.errors import FormatError, MissingError, OutOfRangeError, QuantityError

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DICTIONARIES = ("DICT_4X4_250", "DICT_5X5_250", "DICT_6X6_250", "DICT_7X7_250", "DICT_APRILTAG_36h11")
IDS_OF = {name: 587 if "APRILTAG" in name else 250 for name in DICTIONARIES}


@dataclass(frozen=True, slots=True)
class Bar:
    """A printed reference bar that the builder measures with a caliper and types in."""

    name: str
    axis: str
    nominal_mm: float


_BARS = {"bar_x": "bar along the top", "bar_y": "bar along the left side", "strip_length": "row of squares"}


def bar_words(name: str) -> str:
    """What a bar is called to the builder, who sees no names on the print."""
    return _BARS.get(name, name.replace("_", " "))


@dataclass(frozen=True, slots=True)
class Target:
    """The outline the part should have, and the places where it is judged.

    Attributes:
        outline_mm: shape (n, 2), the outer skin surface from one aft end round the nose to the other.
        arc_mm: shape (m,), arc length of each judged place.
        arc_xy_mm: shape (m, 2), those places.
        normal_out: shape (m, 2), unit normals pointing away from the metal.
    """

    name: str
    outline_mm: Floats
    arc_mm: Floats
    arc_xy_mm: Floats
    normal_out: Floats


@dataclass(frozen=True, slots=True)
class GaugeLayout:
    """One gauge sheet as printed.

    ``board`` is what the chessboard was before its window was left out: columns, rows, origin in mm and the first
    marker's id; None where the layout does not say. ``rim_mm`` is the width of the white rim that is cut out of the black squares
    round the window; None where the layout does not say that they are printed so.
    """

    kind: str
    size_mm: tuple[float, float]
    dictionary: str
    square_mm: float
    chess_id: Ints
    chess_xy_mm: Floats
    marker_id: Ints
    marker_xy_mm: Floats
    bars: tuple[Bar, ...]
    blank_mm: Floats
    target: Target | None
    board: tuple[int, int, tuple[float, float], int] | None = None
    rim_mm: float | None = None


def number(value: object, field: str, *, low: float, high: float) -> float:
    """A plain finite number within limits, or a sentence saying why not.

    Args:
        value: what was read from the JSON file.
        field: its name as the builder knows it.
        low: smallest value allowed.
        high: largest value allowed.

    Raises:
        MissingError: nothing there.
        QuantityError: text, true/false, not a number.
        OutOfRangeError: outside ``low`` to ``high``.
    """
    if value is None:
        raise MissingError(field, allowed=f"a number from {low:g} to {high:g}", mend="Type the number")
    if isinstance(value, bool) or not isinstance(value, int | float):
        mend = "Write a number with a point, without quotes and without a unit"
        raise QuantityError(field, found=repr(value), allowed="a plain number", mend=mend)
    try:
        found = float(value)
    except OverflowError:
        raise OutOfRangeError(field, found="a number far too large", allowed=f"{low:g} to {high:g}") from None
    if not math.isfinite(found) or not low <= found <= high:
        raise OutOfRangeError(
            field, found=f"{found:g}", allowed=f"{low:g} to {high:g}", mend="Measure and type it again"
        )
    return found


def need(entry: Mapping[str, object], key: str, where: str) -> object:
    """The value under ``key``, or a MissingError that names it."""
    if key not in entry:
        raise MissingError(f"{where}: {key}", mend="Use the layout or input file as the program wrote it")
    return entry[key]


def mapping(value: object, field: str) -> Mapping[str, object]:
    """``value`` as a JSON object, or a FormatError."""
    if not isinstance(value, Mapping):
        raise FormatError(
            field, found=type(value).__name__, allowed="named values, as the program wrote them"
        )
    return value


def rows(value: object, field: str) -> Sequence[object]:
    """``value`` as a JSON list, or a FormatError."""
    if not isinstance(value, list | tuple):
        raise FormatError(field, found=type(value).__name__, allowed="a list, as the program wrote it")
    return value


def points(value: object, field: str, shape: tuple[int, ...]) -> Floats:
    """A list of coordinates as an array; ``shape`` holds -1 where any length will do."""
    try:
        found = np.asarray(value, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        raise FormatError(field, found="not a regular list of numbers", allowed="coordinates in mm") from None
    if found.ndim != len(shape) or any(s not in (-1, n) for s, n in zip(shape, found.shape, strict=True)):
        raise FormatError(field, found=f"shape {found.shape}", allowed=f"shape {shape} (-1: any)")
    if not np.isfinite(found).all() or (found.size and np.abs(found).max() > 5000):
        raise OutOfRangeError(field, found="a coordinate that is not finite or beyond 5 m", allowed="mm")
    return found


def layout_from(entry: object) -> GaugeLayout:
    """Read a gauge sheet's layout from its JSON object.

    Args:
        entry: the decoded JSON of a card ("A"), strip ("B") or straightness strip ("T") layout.

    Raises:
        InputError: one of its kinds, naming the entry that can't be used.
    """
    data = mapping(entry, "layout")
    kind = str(data.get("kind", ""))
    if kind not in ("A", "B", "T"):
        raise FormatError("layout: kind", found=repr(data.get("kind")), allowed="A (card), B or T (strip)")
    if data.get("units", "mm") != "mm":
        raise FormatError("layout: units", found=repr(data.get("units")), allowed="mm")
    dictionary = str(need(data, "dictionary", "layout"))
    if dictionary not in DICTIONARIES:
        raise FormatError("layout: dictionary", found=dictionary, allowed=", ".join(DICTIONARIES))
    board = mapping(need(data, "charuco", "layout"), "layout: charuco")
    square = number(board.get("square_mm"), "layout: square_mm", low=2.0, high=100.0)
    size = points(data.get("page", data.get("size")), "layout: page or size", (2,))
    chess = [
        mapping(c, "layout: chess_corners") for c in rows(need(data, "chess_corners", "layout"), "corners")
    ]
    markers = [mapping(m, "layout: markers") for m in rows(need(data, "markers", "layout"), "markers")]
    if len(chess) < 6 or len(markers) < 4:
        raise FormatError(
            "layout", found=f"{len(chess)} corners, {len(markers)} markers", allowed="at least 6 and 4"
        )
    marker_id = _ids([m.get("id") for m in markers], "layout: marker id")
    if marker_id.max() >= IDS_OF[dictionary]:
        last = f"0 to {IDS_OF[dictionary] - 1} in {dictionary}"
        raise OutOfRangeError("layout: marker id", found=str(int(marker_id.max())), allowed=last)
    target = None if data.get("target") is None else _target(mapping(data["target"], "layout: target"))
    if kind == "A" and target is None:
        raise MissingError("layout: target", mend="A card is made for one target; make the card again")
    blank, rim = data.get("blank_polygon"), data.get("blank_rim_mm")
    return GaugeLayout(
        kind=kind,
        size_mm=(float(size[0]), float(size[1])),
        dictionary=dictionary,
        square_mm=square,
        chess_id=_ids([c.get("id") for c in chess], "layout: chess corner id"),
        chess_xy_mm=points([c.get("xy") for c in chess], "layout: chess corner xy", (-1, 2)),
        marker_id=marker_id,
        marker_xy_mm=points([m.get("corners") for m in markers], "layout: marker corners", (-1, 4, 2)),
        bars=tuple(_bar(b) for b in rows(need(data, "bars", "layout"), "layout: bars")),
        blank_mm=points(blank, "layout: blank_polygon", (-1, 2)) if blank else np.empty((0, 2)),
        target=target,
        board=_board(board),
        rim_mm=None if rim is None else number(rim, "layout: blank_rim_mm", low=0.0, high=20.0),
    )


def _board(entry: Mapping[str, object]) -> tuple[int, int, tuple[float, float], int] | None:
    counts = [entry.get(k) for k in ("squares_x", "squares_y", "first_id")]
    if not all(isinstance(n, int) and not isinstance(n, bool) and 0 <= n <= 1000 for n in counts):
        return None
    if not isinstance(entry.get("origin"), list | tuple):
        return None
    x, y = points(entry["origin"], "layout: charuco origin", (2,))
    columns, rows_, first = (int(str(n)) for n in counts)
    return columns, rows_, (float(x), float(y)), first


def _bar(entry: object) -> Bar:
    bar = mapping(entry, "layout: bars")
    axis = str(bar.get("axis", "x"))
    if axis not in ("x", "y"):
        raise FormatError("layout: bar axis", found=axis, allowed="x or y")
    return Bar(
        str(need(bar, "name", "bar")),
        axis,
        number(bar.get("nominal_mm"), "bar: nominal_mm", low=10, high=2000),
    )


def _ids(values: list[object], field: str) -> Ints:
    if not all(isinstance(v, int) and not isinstance(v, bool) and 0 <= v < 100000 for v in values):
        raise FormatError(field, found="an id that is not a whole number", allowed="0, 1, 2 …")
    found = np.asarray(values, dtype=np.int64)
    if len(np.unique(found)) != len(found):
        raise FormatError(field, found="the same id twice", allowed="each id once")
    return found


def _target(entry: Mapping[str, object]) -> Target:
    outline = points(need(entry, "outline_xy", "target"), "target: outline_xy", (-1, 2))
    arc = points(need(entry, "arc_positions_mm", "target"), "target: arc_positions_mm", (-1,))
    xy = points(need(entry, "arc_xy", "target"), "target: arc_xy", (-1, 2))
    normal = points(need(entry, "arc_normal_out", "target"), "target: arc_normal_out", (-1, 2))
    if not len(arc) == len(xy) == len(normal) or len(arc) < 5 or len(outline) < 20:
        raise FormatError(
            "layout: target", found="lists of unequal or too small length", allowed="as written"
        )
    if (np.diff(arc) <= 0).any():
        raise FormatError("target: arc_positions_mm", found="not increasing", allowed="increasing")
    length = np.hypot(normal[:, 0], normal[:, 1])
    if (np.abs(length - 1) > 0.02).any():
        raise FormatError("target: arc_normal_out", found="not of length 1", allowed="unit vectors")
    return Target(str(entry.get("name", "target")), outline, arc, xy, normal / length[:, None])
