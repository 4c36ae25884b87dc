"""Dimensions, leaders, markers and hatching as plain strokes: what every writer draws is decided here."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from ribwright.core.scene.items import (
    Arc,
    Circle,
    Dimension,
    Hand,
    Hatch,
    Item,
    Layer,
    Leader,
    Line,
    Marker,
    Point,
    Polygon,
    Polyline,
    Primitive,
    Text,
)
from ribwright.core.scene.lettering import length_text, width_of
from ribwright.core.scene.scene import Bounds, Scene


def drawn(scene: Scene) -> tuple[Primitive, ...]:
    """The scene as lines, arcs, circles, polylines, filled polygons and text, in drawing order."""
    return tuple(part for item in scene.items for part in _strokes(item))


def box_of(item: Primitive) -> Bounds:
    """The rectangle round one plain item."""
    match item:
        case Line():
            return _box((item.a, item.b))
        case Circle():
            (x, y), r = item.center, item.radius
            return Bounds(x - r, y - r, x + r, y + r)
        case Arc():
            return _box(arc_extremes(item.center, item.radius, item.start_deg, item.end_deg))
        case Polygon():
            return _box(item.points)
        case Polyline():
            return _box(tuple(_polyline_extremes(item)))
        case Text():
            return _box(_text_corners(item))


def is_finite(item: Primitive) -> bool:
    """Whether all coordinates of a plain item are finite; a rectangle round it may hide one that is not."""
    match item:
        case Line():
            numbers: tuple[float, ...] = (*item.a, *item.b)
        case Circle():
            numbers = (*item.center, item.radius)
        case Arc():
            numbers = (*item.center, item.radius, item.start_deg, item.end_deg)
        case Polygon():
            numbers = tuple(v for p in item.points for v in p)
        case Polyline():
            numbers = (*(v for p in item.points for v in p), *item.bulges)
        case Text():
            numbers = (*item.at, item.height, item.angle_deg)
    return math.isfinite(sum(numbers))


def arc_extremes(center: Point, radius: float, start_deg: float, end_deg: float) -> tuple[Point, ...]:
    """End points of a counter-clockwise arc and the quadrant points that lie on it."""
    sweep = (end_deg - start_deg) % 360 or 360.0
    angles = [start_deg, start_deg + sweep]
    first = math.ceil(start_deg / 90) * 90
    angles += [q for q in range(first, first + 361, 90) if q <= start_deg + sweep]
    return tuple(
        (
            center[0] + radius * math.cos(math.radians(a)),
            center[1] + radius * math.sin(math.radians(a)),
        )
        for a in angles
    )


def arc_of_bulge(a: Point, b: Point, bulge: float) -> tuple[Point, float, float, float]:
    """Centre, radius, start and end angle in degrees (counter-clockwise) of a bulged stroke from a to b."""
    chord = math.hypot(b[0] - a[0], b[1] - a[1])
    half = 2 * math.atan(abs(bulge))
    radius = chord / (2 * math.sin(half))
    reach = chord / 2 * (1 - bulge * bulge) / (2 * bulge)
    mid = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    left = (-(b[1] - a[1]) / chord, (b[0] - a[0]) / chord)
    center = (mid[0] + left[0] * reach, mid[1] + left[1] * reach)
    start = math.degrees(math.atan2(a[1] - center[1], a[0] - center[0]))
    end = math.degrees(math.atan2(b[1] - center[1], b[0] - center[0]))
    return (center, radius, start, end) if bulge > 0 else (center, radius, end, start)


def as_aligned(item: Dimension) -> Dimension:
    """A dimension along x or y as the aligned one between the feet of its extension lines."""
    if item.along == "aligned":
        return item
    (ax, ay), (bx, by) = item.a, item.b
    if item.along == "x":
        level = max(ay, by)
        a, b = (ax, level), (bx, level)
        offset = item.offset if bx >= ax else -item.offset
    else:
        level = max(ax, bx)
        a, b = (level, ay), (level, by)
        offset = -item.offset if by >= ay else item.offset
    return replace(item, a=a, b=b, offset=offset, along="aligned")


def _strokes(item: Item) -> Iterator[Primitive]:
    match item:
        case Dimension():
            yield from _dimension(as_aligned(item))
        case Leader():
            yield from _leader(item)
        case Marker():
            yield from _marker(item)
        case Hatch():
            yield from _hatching(item)
        case Hand():
            if item.hand != "none":
                yield Text(
                    item.at,
                    f"{item.hand.upper()} HAND",
                    item.height,
                    item.anchor,
                    bold=True,
                    layer=item.layer,
                )
        case _:
            yield item


def _arrow(tip: Point, way: Point, length: float, layer: Layer) -> Polygon:
    """A filled head three times as long as wide, pointing along the unit vector ``way``."""
    back = (tip[0] - way[0] * length, tip[1] - way[1] * length)
    side = (-way[1] * length / 6, way[0] * length / 6)
    return Polygon(
        (tip, (back[0] + side[0], back[1] + side[1]), (back[0] - side[0], back[1] - side[1])),
        style="dimension",
        layer=layer,
        fill="solid",
    )


def _dimension(item: Dimension) -> Iterator[Primitive]:
    (ax, ay), (bx, by) = item.a, item.b
    run = math.hypot(bx - ax, by - ay)
    if run == 0:
        return
    ux, uy = (bx - ax) / run, (by - ay) / run
    nx, ny = (-uy, ux) if item.offset >= 0 else (uy, -ux)
    far = abs(item.offset)
    h = item.height
    text = item.text if item.text is not None else length_text(run)
    a = (ax + nx * far, ay + ny * far)
    b = (bx + nx * far, by + ny * far)
    gap, over = min(0.5 * h, far / 2), 0.8 * h
    if far > 0:
        for px, py in ((ax, ay), (bx, by)):
            yield Line(
                (px + nx * gap, py + ny * gap),
                (px + nx * (far + over), py + ny * (far + over)),
                "dimension",
                item.layer,
            )
    angle = math.degrees(math.atan2(uy, ux))
    turned = not -90 < round(angle, 9) <= 90
    if turned:
        angle = (angle + 360) % 360 - 180
    rx, ry = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    px, py = -ry, rx
    wide = width_of(text, h)
    roomy = run > wide + 3.2 * h
    if roomy:
        yield Line(a, b, "dimension", item.layer)
        yield _arrow(a, (-ux, -uy), h, item.layer)
        yield _arrow(b, (ux, uy), h, item.layer)
        mid = ((a[0] + b[0]) / 2 + px * 0.4 * h, (a[1] + b[1]) / 2 + py * 0.4 * h)
        yield Text(mid, text, h, "middle", angle, layer=item.layer)
        return
    tail = 2.2 * h
    yield Line((a[0] - ux * tail, a[1] - uy * tail), a, "dimension", item.layer)
    yield Line(b, (b[0] + ux * tail, b[1] + uy * tail), "dimension", item.layer)
    yield Line(a, b, "dimension", item.layer)
    yield _arrow(a, (ux, uy), h, item.layer)
    yield _arrow(b, (-ux, -uy), h, item.layer)
    right = a if turned else b
    start = (right[0] + rx * (tail + 0.4 * h), right[1] + ry * (tail + 0.4 * h))
    yield Text((start[0] - px * h / 2, start[1] - py * h / 2), text, h, "start", angle, layer=item.layer)


def _leader(item: Leader) -> Iterator[Primitive]:
    (ax, ay), (tx, ty) = item.at, item.to
    run = math.hypot(tx - ax, ty - ay)
    h = item.height
    rightward = tx >= ax
    shelf = (tx + (h if rightward else -h), ty)
    if run > 0:
        yield Polyline((item.at, item.to, shelf), False, "dimension", item.layer)
        yield _arrow(item.at, ((ax - tx) / run, (ay - ty) / run), h, item.layer)
    gap = 0.4 * h if rightward else -0.4 * h
    lines = item.text.split("\n")
    for n, line in enumerate(lines):
        yield Text(
            (shelf[0] + gap, ty - h / 2 - n * 1.7 * h),
            line,
            h,
            "start" if rightward else "end",
            layer=item.layer,
        )


def _marker(item: Marker) -> Iterator[Primitive]:
    (x, y), r = item.at, item.diameter / 2
    yield Circle(item.at, r, "outline", item.layer)
    for dx, dy in ((1.7 * r, 0.0), (0.0, 1.7 * r)):
        yield Line((x - dx, y - dy), (x + dx, y + dy), "thin", "printed")
    far = 1.9 * r
    if item.kind == "dimple-up":
        yield Circle(item.at, far, "thin", "printed")
        yield _wedge(x, y + far, r, 1)
    elif item.kind == "dimple-down":
        yield Circle(item.at, far, "hidden", "printed")
        yield _wedge(x, y - far, r, -1)
    elif item.kind == "countersink":
        yield Circle(item.at, far, "thin", "printed")
        near = r / math.sqrt(2)
        out = far / math.sqrt(2)
        for sx in (-1, 1):
            for sy in (-1, 1):
                yield Line((x + sx * near, y + sy * near), (x + sx * out, y + sy * out), "thin", "printed")
    elif item.kind == "left-open":
        side = 1.9 * r
        yield Polyline(
            ((x - side, y - side), (x + side, y - side), (x + side, y + side), (x - side, y + side)),
            True,
            "heavy",
            "printed",
        )
    if item.label:
        lift = far + (0.9 * r if item.kind == "dimple-up" else 0.0) + 0.4 * item.height
        yield Text((x, y + lift), item.label, item.height, "middle", layer="printed")


def _wedge(x: float, y: float, r: float, way: int) -> Polygon:
    return Polygon(
        ((x - 0.6 * r, y), (x + 0.6 * r, y), (x, y + way * 0.9 * r)),
        style="thin",
        fill="solid",
    )


def _hatching(item: Hatch) -> Iterator[Primitive]:
    """Lines at equal spacing, clipped to the area by the even-odd rule."""
    if item.spacing <= 0 or len(item.points) < 3:
        return
    c, s = math.cos(math.radians(item.angle_deg)), math.sin(math.radians(item.angle_deg))
    ring = [(c * x + s * y, -s * x + c * y) for x, y in item.points]
    low, high = min(v for _, v in ring), max(v for _, v in ring)
    level = (math.floor(low / item.spacing) + 0.5) * item.spacing
    while level < high:
        cuts = sorted(
            u0 + (level - v0) * (u1 - u0) / (v1 - v0)
            for (u0, v0), (u1, v1) in zip(ring, ring[1:] + ring[:1], strict=True)
            if (v0 > level) != (v1 > level)
        )
        for u0, u1 in zip(cuts[::2], cuts[1::2], strict=False):
            yield Line(
                (c * u0 - s * level, s * u0 + c * level),
                (c * u1 - s * level, s * u1 + c * level),
                item.style,
                item.layer,
            )
        level += item.spacing


def _box(points: tuple[Point, ...]) -> Bounds:
    return Bounds(
        min(p[0] for p in points),
        min(p[1] for p in points),
        max(p[0] for p in points),
        max(p[1] for p in points),
    )


def _polyline_extremes(item: Polyline) -> Iterator[Point]:
    yield from item.points
    if not any(item.bulges):
        return
    ends = item.points[1:] + item.points[:1]
    for a, b, bulge in zip(item.points, ends, item.bulges, strict=False):
        if bulge:
            yield from arc_extremes(*arc_of_bulge(a, b, bulge))


def _text_corners(item: Text) -> tuple[Point, ...]:
    wide = width_of(item.text, item.height, bold=item.bold)
    left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[item.anchor]
    c, s = math.cos(math.radians(item.angle_deg)), math.sin(math.radians(item.angle_deg))
    low, high = -0.3 * item.height, item.height
    return tuple(
        (item.at[0] + c * u - s * v, item.at[1] + s * u + c * v)
        for u, v in ((left, low), (left + wide, low), (left + wide, high), (left, high))
    )
