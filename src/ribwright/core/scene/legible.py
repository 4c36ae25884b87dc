"""Lettering on a narrow page: how large its letters must be drawn to be read, and whether they then find room."""

from __future__ import annotations

from dataclasses import replace

from ribwright.core.scene.items import Primitive, Text
from ribwright.core.scene.lettering import CAPITAL_HEIGHT
from ribwright.core.scene.scene import Bounds, around
from ribwright.core.scene.strokes import box_of

MARGIN = 0.03
"""Free space round a drawing on a page, as a share of its larger side."""
NOTE = 44
"""Letters from which on a line is a note."""
_NARROWER = 0.84
"""The page's narrow face runs so much less wide than the face that widths are counted in."""
_ROUNDS = 12
_TOUCH = 0.2
"""Lettering may come so near its neighbour, as a share of its height."""


def least_height(parts: tuple[Primitive, ...], *, across_px: float, letters_px: float) -> float | None:
    """The capitals' height to which small lettering must be raised on a page that is ``across_px`` wide.

    Args:
        parts: the drawing as plain strokes and lettering.
        across_px: how wide the drawing is shown.
        letters_px: the least type size that is read there.

    Returns:
        A height in the drawing's own unit; 0 when nothing has to be raised; None when raised lettering would run into other
        lettering, so that the drawing has to be shown larger instead.
    """
    words = [item for item in parts if isinstance(item, Text) and item.text.strip() and not is_note(item)]
    if not words:
        return 0.0
    boxes = tuple(box_of(item) for item in parts if not isinstance(item, Text) or is_note(item))
    rest = (around(boxes),) if boxes else ()
    least = min(item.height for item in words)
    height = 0.0
    for _ in range(_ROUNDS):  # raised lettering may stand out, which makes all else smaller
        view = around((*rest, *(_box(item, height) for item in words)))
        across = view.width + 2 * MARGIN * max(view.width, view.height)
        needed = letters_px * CAPITAL_HEIGHT * across / across_px
        if needed <= max(least, height) * 1.001:
            break
        height = needed * 1.02
    else:
        return None
    return height if height == 0.0 or not _collide(words, height) else None


def is_note(item: Primitive) -> bool:
    """Whether this is a whole sentence lettered on the drawing: a narrow page says it under the drawing instead."""
    return isinstance(item, Text) and len(item.text) > NOTE and not item.bold and not item.angle_deg


def raised(parts: tuple[Primitive, ...], height: float) -> tuple[Primitive, ...]:
    """The same strokes with all lettering at least so high."""
    return tuple(
        replace(item, height=height)
        if isinstance(item, Text) and item.height < height and not is_note(item)
        else item
        for item in parts
    )


def _box(item: Text, height: float) -> Bounds:
    """Where a line of lettering stands at its raised height, in the page's face."""
    tall = max(item.height, height)
    full = box_of(replace(item, height=tall))
    if item.angle_deg:
        return full
    spare = full.width * (1 - _NARROWER)
    left = {"start": 0.0, "middle": spare / 2, "end": spare}[item.anchor]
    return Bounds(full.left + left, full.bottom, full.right - (spare - left), full.top)


def _collide(words: list[Text], height: float) -> bool:
    """Whether raised lettering runs into other lettering that it was clear of."""
    placed = sorted(
        ((_box(item, height), _box(item, 0.0), item.height < height) for item in words),
        key=lambda one: one[0].left,
    )
    for n, (box, was, small) in enumerate(placed):
        for other, other_was, other_small in placed[n + 1 :]:
            if other.left > box.right:
                break
            if (small or other_small) and _over(box, other) and not _over(was, other_was):
                return True
    return False


def _over(a: Bounds, b: Bounds) -> bool:
    free = _TOUCH * min(a.height, b.height)
    across = min(a.right, b.right) - max(a.left, b.left)
    up = min(a.top, b.top) - max(a.bottom, b.bottom)
    return across > free and up > free
