"""What stands round the drawing on a full-size page: title strip, check figures, page map, joints."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.scene.items import Hand, HandOf, Item, Line, Point, Polygon, Text
from ribwright.core.scene.lettering import width_of
from ribwright.core.scene.scene import Bounds, Scene

TITLE_STRIP_IN = 1.2
LEFT_STRIP_IN = 0.55

CHECK_IN = 4.0
CHECK_MM = 100.0


@dataclass(frozen=True, slots=True)
class TitleBlock:
    """What the foot of a template says: where it comes from and for which side of the aeroplane."""

    title: str = ""
    reference: str = ""
    drawing: str = ""
    revision: str = ""
    hand: HandOf = "none"
    seal: str = ""
    note: str = "The designer's drawings win. Not approved data."
    printer: str = ""


def furniture(
    window: Bounds,
    block: TitleBlock,
    number: int,
    of: int,
    row: int,
    column: int,
    rows: int,
    columns: int,
) -> Scene:
    """Title strip with check figures in both directions and the page map, round one window."""
    left = window.left - LEFT_STRIP_IN
    foot = window.bottom - TITLE_STRIP_IN
    items: list[Item] = list(check_figure((left + 0.06, foot + 0.3), upright=False))
    items += check_figure((left + 0.1, window.bottom + 0.1), upright=True)
    items.append(
        Text((left + 0.06, foot + 0.02), "Print at actual size. Measure both figures before cutting.", 0.065)
    )
    items += _title(Bounds(left + 4.3, foot, window.right, window.bottom - 0.12), block, number, of)
    items += _page_map(
        Bounds(left + 4.3, foot, window.right, window.bottom - 0.12), row, column, rows, columns
    )
    return Scene(tuple(items))


def check_figure(at: Point, *, upright: bool) -> tuple[Item, ...]:
    """A bar of 4.000 in and one of 100.0 mm side by side, starting at ``at``, lettered with their length."""
    items: list[Item] = []

    def stroke(along0: float, across0: float, along1: float, across1: float, heavy: bool = False) -> None:
        a = (at[0] + across0, at[1] + along0) if upright else (at[0] + along0, at[1] + across0)
        b = (at[0] + across1, at[1] + along1) if upright else (at[0] + along1, at[1] + across1)
        items.append(Line(a, b, "outline" if heavy else "thin"))

    def letter(along: float, across: float, text: str) -> None:
        place = (at[0] + across, at[1] + along) if upright else (at[0] + along, at[1] + across)
        items.append(Text(place, text, 0.075, "middle", 90.0 if upright else 0.0))

    tall = 0.1
    base_in, base_mm = (0.0, 0.26) if upright else (0.36, 0.1)
    for base, length, count, unit in (
        (base_in, CHECK_IN, 4, "4.000 in"),
        (base_mm, CHECK_MM / 25.4, 10, "100.0 mm"),
    ):
        stroke(0.0, base, length, base, heavy=True)
        for n in range(count + 1):
            end = n in (0, count)
            stroke(length * n / count, base - (tall if end else tall / 2), length * n / count, base)
        # Lettered on the free side of a lying bar; beside a standing one between two ticks, or clear of them where they are close.
        beside = -0.03 if length / count > 0.6 else -tall / 2 - 0.02
        letter(
            length * (0.5 + 0.5 / count if count % 2 == 0 else 0.5),
            base + (beside if upright else 0.04),
            unit,
        )
    return tuple(items)


def _title(area: Bounds, block: TitleBlock, number: int, of: int) -> list[Item]:
    items: list[Item] = [
        Polygon(
            (
                (area.left, area.bottom),
                (area.right, area.bottom),
                (area.right, area.top),
                (area.left, area.top),
            ),
            style="thin",
        )
    ]
    x, y = area.left + 0.08, area.top - 0.17
    room = area.width - 0.16
    title = block.title or "Template"
    if width_of(title, 0.11, bold=True) <= 0.96 * room:  # bold letters run a little wider than counted
        items.append(Text((x, y), title, 0.11, bold=True))
    else:
        first = _head(title, room, 0.09)
        items.append(Text((x, y + 0.03), fitted(first, room, 0.09, bold=True), 0.09, bold=True))
        y -= 0.12
        items.append(
            Text((x, y), fitted(title[len(first) :].strip(), room, 0.09, bold=True), 0.09, bold=True)
        )
    lines = [
        " ".join(
            part for part in (f"Drawing {block.drawing}" if block.drawing else "", _revision(block)) if part
        ),
        f"Reference {block.reference}" if block.reference else "",
        f"Seal {block.seal}" if block.seal else "",
        f"Sheet {number} of {of}" + (f", for {block.printer}" if block.printer else ""),
    ]
    for n, line in enumerate(text for text in lines if text):
        items.append(Text((x, y - 0.17 - 0.14 * n), fitted(line, room - 0.95, 0.075), 0.075))
    items.append(Text((x, area.bottom + 0.06), fitted(block.note, room, 0.06), 0.06))
    if block.hand != "none":
        items.append(Hand((area.right - 0.08, area.bottom + 0.22), block.hand, 0.17, "end"))
    return items


def _head(text: str, room: float, height: float) -> str:
    """As many whole words of ``text`` as fit."""
    head = ""
    for word in text.split(" "):
        longer = f"{head} {word}".strip()
        if head and width_of(longer, height, bold=True) > room:
            break
        head = longer
    return head


def _revision(block: TitleBlock) -> str:
    return f"revision {block.revision}" if block.revision else ""


def fitted(text: str, room: float, height: float, *, bold: bool = False) -> str:
    """``text``, shortened with three dots where it would run out of its column."""
    if width_of(text, height, bold=bold) <= room:
        return text
    while text and width_of(text + "...", height, bold=bold) > room:
        text = text[:-1]
    return text.rstrip() + "..."


def _page_map(area: Bounds, row: int, column: int, rows: int, columns: int) -> list[Item]:
    if rows * columns == 1:
        return []
    cell = min(0.16, 0.9 / columns, 0.42 / rows)
    x0, y0 = area.right - 0.08 - cell * columns, area.top - 0.25
    items: list[Item] = []
    for r in range(rows):
        for c in range(columns):
            x, y = x0 + c * cell, y0 - (r + 1) * cell
            here = (r, c) == (row, column)
            items.append(
                Polygon(
                    ((x, y), (x + cell, y), (x + cell, y + cell), (x, y + cell)),
                    style="thin",
                    fill="solid" if here else "none",
                )
            )
    return items


def joints(window: Bounds, overlap: float, row: int, column: int, rows: int, columns: int) -> Scene:
    """Cut edges (left and top lap over the neighbour), glue edges and crosses that must come to lie together."""
    items: list[Item] = []
    here = row * columns + column + 1
    w = window
    if column > 0:
        items.append(Line((w.left, w.bottom), (w.left, w.top), "hidden"))
        items.append(Text((w.left - 0.05, w.top - 0.3), f"cut; lay over sheet {here - 1}", 0.07, "end", 90.0))
        items += _crosses_upright(w.left + overlap / 2, w)
    if column < columns - 1:
        items.append(Line((w.right - overlap, w.bottom), (w.right - overlap, w.top), "thin"))
        items.append(
            Text((w.right + 0.1, w.bottom + 0.3), f"glue under sheet {here + 1}", 0.07, "start", 90.0)
        )
        items += _crosses_upright(w.right - overlap / 2, w)
    if row > 0:
        items.append(Line((w.left, w.top), (w.right, w.top), "hidden"))
        items.append(Text((w.left + 0.3, w.top + 0.05), f"cut; lay over sheet {here - columns}", 0.07))
        items += _crosses_level(w.top - overlap / 2, w)
    if row < rows - 1:
        items.append(Line((w.left, w.bottom + overlap), (w.right, w.bottom + overlap), "thin"))
        items.append(Text((w.left + 4.4, w.bottom - 0.09), f"glue under sheet {here + columns}", 0.07))
        items += _crosses_level(w.bottom + overlap / 2, w)
    return Scene(tuple(items))


def _crosses_upright(x: float, w: Bounds) -> list[Item]:
    return [item for share in (0.12, 0.5, 0.88) for item in _cross((x, w.bottom + share * w.height))]


def _crosses_level(y: float, w: Bounds) -> list[Item]:
    return [item for share in (0.12, 0.5, 0.88) for item in _cross((w.left + share * w.width, y))]


def _cross(at: Point, arm: float = 0.12) -> list[Item]:
    x, y = at
    return [Line((x - arm, y), (x + arm, y), "thin"), Line((x, y - arm), (x, y + arm), "thin")]
