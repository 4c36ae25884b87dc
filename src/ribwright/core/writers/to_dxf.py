"""A drawing as DXF for a laser, router or vinyl cutter: layers say what is done, curves are true arcs."""

from __future__ import annotations

import io
from typing import Any, Literal

from ribwright.core.scene.items import Arc, Circle, Layer, Line, Point, Polygon, Polyline, Style, Text
from ribwright.core.scene.scene import Scene
from ribwright.core.scene.strokes import drawn

LAYER_NAMES: dict[Layer, str] = {"cut": "CUT", "drilled": "DRILL", "marked": "MARK", "printed": "PRINT"}
_COLOURS = {"CUT": 1, "DRILL": 5, "MARK": 3, "PRINT": 8}
_LINETYPES: dict[Style, tuple[str, str, list[float]]] = {
    "hidden": ("RW_HIDDEN", "hidden _ _ _", [0.165, 0.118, -0.047]),
    "centre": ("RW_CENTRE", "centre ____ _ ____", [0.511, 0.354, -0.059, 0.039, -0.059]),
    "fold": ("RW_FOLD", "fold ____ _ _ ____", [0.609, 0.354, -0.059, 0.039, -0.059, 0.039, -0.059]),
}
_ALIGN = {"start": "LEFT", "middle": "CENTER", "end": "RIGHT"}


def dxf_of(scene: Scene, *, unit: Literal["in", "mm"] = "in") -> bytes:
    """The drawing as a DXF (R2010) file, the same bytes each time.

    Args:
        scene: what to write; all of it at true size.
        unit: unit of the file's numbers; the file names it.

    Layers are CUT, DRILL, MARK (felt tip) and PRINT. Closed outlines are closed LWPOLYLINEs with true
    arcs, holes are CIRCLEs; there are no splines and no blocks.
    """
    import ezdxf
    from ezdxf.enums import TextEntityAlignment

    # Otherwise the file carries the date and random identifiers.
    ezdxf.options.write_fixed_meta_data_for_testing = True
    doc = ezdxf.new("R2010", units=1 if unit == "in" else 4)
    doc.header["$MEASUREMENT"] = 0 if unit == "in" else 1
    for name, colour in _COLOURS.items():
        doc.layers.add(name, color=colour)
    f = 1.0 if unit == "in" else 25.4
    for linetype, description, pattern in _LINETYPES.values():
        doc.linetypes.add(linetype, [v * f for v in pattern], description=description)
    space = doc.modelspace()

    def at(point: Point) -> Point:
        return (point[0] * f, point[1] * f)

    for item in drawn(scene):
        how: dict[str, Any] = {"layer": LAYER_NAMES[item.layer]}
        if not isinstance(item, Text) and item.style in _LINETYPES:
            how["linetype"] = _LINETYPES[item.style][0]
        match item:
            case Line():
                space.add_line(at(item.a), at(item.b), dxfattribs=how)
            case Circle():
                space.add_circle(at(item.center), item.radius * f, dxfattribs=how)
            case Arc():
                space.add_arc(at(item.center), item.radius * f, item.start_deg, item.end_deg, dxfattribs=how)
            case Polyline():
                bulges = item.bulges + (0.0,) * (len(item.points) - len(item.bulges))
                rows = [(*at(p), bulge) for p, bulge in zip(item.points, bulges, strict=False)]
                space.add_lwpolyline(rows, format="xyb", close=item.closed, dxfattribs=how)
            case Polygon():
                points = [at(p) for p in item.points]
                if item.fill == "solid" and len(points) == 3:
                    space.add_solid(points, dxfattribs=how)
                else:
                    space.add_lwpolyline(points, close=True, dxfattribs=how)
            case Text():
                text = space.add_text(
                    item.text, height=item.height * f, rotation=item.angle_deg, dxfattribs=how
                )
                text.set_placement(at(item.at), align=TextEntityAlignment[_ALIGN[item.anchor]])
    stream = io.StringIO()
    doc.write(stream)
    return doc.encode(stream.getvalue())  # type: ignore[no-any-return]
