"""A drawing as DXF for a laser, router or vinyl cutter: layers say what is done, curves are true arcs.

The empty file with its tables is made once by ezdxf; the entities are written here, since they are few kinds
and a template set has thousands of them. Tests open every kind again with ezdxf's auditor.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import lru_cache
from typing import Literal

from ribwright import __version__
from ribwright.core.scene.items import (
    Arc,
    Circle,
    Layer,
    Line,
    Point,
    Polygon,
    Polyline,
    Primitive,
    Style,
    Text,
)
from ribwright.core.scene.scene import Scene
from ribwright.core.scene.strokes import drawn

LAYER_NAMES: dict[Layer, str] = {"cut": "CUT", "drilled": "DRILL", "marked": "MARK", "printed": "PRINT"}
_COLOURS = {"CUT": 1, "DRILL": 5, "MARK": 3, "PRINT": 8}
_LINETYPES: dict[Style, tuple[str, str, list[float]]] = {
    "hidden": ("RW_HIDDEN", "hidden _ _ _", [0.165, 0.118, -0.047]),
    "centre": ("RW_CENTRE", "centre ____ _ ____", [0.511, 0.354, -0.059, 0.039, -0.059]),
    "fold": ("RW_FOLD", "fold ____ _ _ ____", [0.609, 0.354, -0.059, 0.039, -0.059, 0.039, -0.059]),
}
_ALIGN = {"start": 0, "middle": 1, "end": 2}
_FIRST_HANDLE = 0x10000
_ENTITIES = "  2\nENTITIES\n"


def dxf_of(scene: Scene, *, unit: Literal["in", "mm"] = "in") -> bytes:
    """The drawing as a DXF (R2010) file, the same bytes each time.

    Args:
        scene: what to write; all of it at true size.
        unit: unit of the file's numbers; the file names it.

    Layers are CUT, DRILL, MARK (felt tip) and PRINT. Closed outlines are closed LWPOLYLINEs with true
    arcs, holes are CIRCLEs; there are no splines and no blocks.
    """
    before, after, owner = _shell(unit)
    f = 1.0 if unit == "in" else 25.4
    rows: list[str] = []
    for number, item in enumerate(drawn(scene)):
        kind, body = _entity(item, f)
        line = _LINETYPES.get(item.style) if not isinstance(item, Text) else None
        rows.append(
            f"  0\n{kind}\n  5\n{_FIRST_HANDLE + number:X}\n330\n{owner}\n100\nAcDbEntity\n  8\n{LAYER_NAMES[item.layer]}\n"
        )
        if line:
            rows.append(f"  6\n{line[0]}\n")
        rows.append(body)
    last = f"{_FIRST_HANDLE + len(rows) + 1:X}"
    made_by = f"999\nribwright {__version__}\n"  # a comment: readers pass over it
    return (made_by + before.replace("<last handle>", last) + "".join(rows) + after).encode("utf-8")


_CLASS = "  0\nCLASS\n"


@lru_cache(maxsize=2)
def _shell(unit: str) -> tuple[str, str, str]:
    """The file before and after its entities, and the handle of the space that owns them."""
    import ezdxf

    # Otherwise the file carries the date and random identifiers.
    ezdxf.options.write_fixed_meta_data_for_testing = True
    doc = ezdxf.new("R2010", units=1 if unit == "in" else 4)
    doc.header["$MEASUREMENT"] = 0 if unit == "in" else 1
    f = 1.0 if unit == "in" else 25.4
    for name, colour in _COLOURS.items():
        doc.layers.add(name, color=colour)
    for linetype, description, pattern in _LINETYPES.values():
        doc.linetypes.add(linetype, [v * f for v in pattern], description=description)
    stream = io.StringIO()
    doc.write(stream)
    text = stream.getvalue().replace("\r\n", "\n")
    # The writer keeps the classes it needs in a set, whose order differs from process to process.
    first = text.index(_CLASS)
    end = text.index("  0\nENDSEC\n", first)
    classes = text[first:end].split(_CLASS)[1:]
    text = text[:first] + "".join(_CLASS + one for one in sorted(classes)) + text[end:]
    seed = "  9\n$HANDSEED\n  5\n"
    head, tail = text.split(seed)
    text = head + seed + "<last handle>" + tail[tail.index("\n") :]
    cut = text.index(_ENTITIES) + len(_ENTITIES)
    return text[:cut], text[cut:], str(doc.modelspace().layout_key)


def _entity(item: Primitive, f: float) -> tuple[str, str]:
    match item:
        case Line():
            return "LINE", f"100\nAcDbLine\n{_xyz(10, item.a, f)}{_xyz(11, item.b, f)}"
        case Circle():
            return "CIRCLE", f"100\nAcDbCircle\n{_xyz(10, item.center, f)}{_real(40, item.radius * f)}"
        case Arc():
            return "ARC", (
                f"100\nAcDbCircle\n{_xyz(10, item.center, f)}{_real(40, item.radius * f)}"
                f"100\nAcDbArc\n{_real(50, item.start_deg)}{_real(51, item.end_deg)}"
            )
        case Polyline():
            return "LWPOLYLINE", _polyline(item.points, item.bulges, item.closed, f)
        case Polygon():
            if item.fill == "solid" and len(item.points) == 3:
                a, b, c = item.points
                corners = "".join(_xyz(10 + n, p, f) for n, p in enumerate((a, b, c, c)))
                return "SOLID", f"100\nAcDbTrace\n{corners}"
            return "LWPOLYLINE", _polyline(item.points, (), True, f)
        case Text():
            words = "".join(c if c.isprintable() else " " for c in item.text).replace("^", "^ ")
            side = _ALIGN[item.anchor]
            turn = _real(50, item.angle_deg) if item.angle_deg else ""
            placed = f" 72\n{side}\n{_xyz(11, item.at, f)}" if side else ""
            return "TEXT", (
                f"100\nAcDbText\n{_xyz(10, item.at, f)}{_real(40, item.height * f)}  1\n{words}\n{turn}{placed}"
                "100\nAcDbText\n"
            )


def _polyline(points: tuple[Point, ...], bulges: tuple[float, ...], closed: bool, f: float) -> str:
    return f"100\nAcDbPolyline\n 90\n{len(points)}\n 70\n{int(closed)}\n" + "".join(
        _vertices(points, bulges, f)
    )


def _vertices(points: tuple[Point, ...], bulges: tuple[float, ...], f: float) -> Iterator[str]:
    for n, (x, y) in enumerate(points):
        yield f" 10\n{x * f:.12g}\n 20\n{y * f:.12g}\n"
        if n < len(bulges) and bulges[n]:
            yield f" 42\n{bulges[n]:.12g}\n"


def _xyz(code: int, point: Point, f: float) -> str:
    return f"{code:>3}\n{point[0] * f:.12g}\n{code + 10:>3}\n{point[1] * f:.12g}\n{code + 20:>3}\n0.0\n"


def _real(code: int, value: float) -> str:
    return f"{code:>3}\n{value:.12g}\n"
