"""Blanks on sheets: placed by a strip packer and split over the sheets at hand.

The packer (spyrrow) places shapes in one strip, without using holes, and is not repeatable under a time
limit: its placements are a result to keep, and :func:`~ribwright.core.templates.nested.checked` says whether
they hold.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from ribwright.core.geometry import flattened
from ribwright.core.geometry.outlines import FloatArray
from ribwright.core.templates.nested import (
    CHORD_IN,
    TURNS,
    Blank,
    Nest,
    Placed,
    Sheet,
    laid_out,
    moved,
    ring_area,
)
from ribwright.core.templates.shelves import in_columns
from ribwright.errors import DoesNotFitError, GeometryError, OutOfRangeError


def nest(
    blanks: Sequence[Blank],
    sheets: Sequence[Sheet],
    *,
    gap_in: float,
    margin_in: float,
    seconds: int = 8,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
) -> Nest:
    """Place all blanks on the sheets, offcuts and small sheets first.

    Args:
        blanks: what is needed.
        sheets: what is at hand, each piece once; they are used in the order given.
        gap_in: least distance between blanks (kerf and a finger's width).
        margin_in: free border for clamps.
        seconds: time for the packer, in all; 0 lays the blanks out in columns of boxes, at once and repeatably.
        seed: for the packer; the result is still not repeatable when time runs out.
        progress: called with the share done between sheets; may raise Stopped.

    Raises:
        OutOfRangeError: no blanks or sheets, a negative gap, more than 2000 pieces.
        DoesNotFitError: a blank larger than every sheet, or more blanks than the sheets hold.
    """
    if not blanks or not sheets:
        raise OutOfRangeError("blanks and sheets", found="none", allowed="at least one of each")
    pieces = sum(b.count for b in blanks)
    if not 1 <= pieces <= 2000:
        raise OutOfRangeError("number of blanks", found=pieces, allowed="1 to 2000")
    if not (0 <= gap_in <= 4 and 0 <= margin_in <= 12):
        raise OutOfRangeError(
            "gap or margin", found=f"{gap_in:g}, {margin_in:g} in", allowed="0 to 4 and 0 to 12 in"
        )
    names = [b.name for b in blanks]
    if len(set(names)) != len(names):
        raise GeometryError("blanks", because="two blanks have one name", mend="Name them apart")
    for sheet in sheets:
        if sheet.length_in <= 2 * margin_in or sheet.width_in <= 2 * margin_in:
            raise OutOfRangeError(
                f"sheet {sheet.name}",
                found=f"{sheet.length_in:g} by {sheet.width_in:g} in",
                allowed="larger than its margins",
            )
    rings = {b.name: flattened(b.shape, chord_error_in=CHORD_IN) for b in blanks}
    _refuse_too_large(blanks, rings, sheets, margin_in)
    left = {b.name: b.count for b in blanks}
    placed: list[Placed] = []
    used: list[Sheet] = []
    area_left = sum(b.count * abs(ring_area(rings[b.name])) for b in blanks)
    for sheet in sheets:
        if not any(left.values()):
            break
        if progress is not None:
            progress(1 - sum(left.values()) / pieces)
        # A sheet that may take all that is left gets all of the time.
        alone = area_left < 0.7 * sheet.length_in * sheet.width_in
        share = 0 if seconds == 0 else max(1, seconds if alone else seconds // len(sheets))
        fitted = _fill(sheet, blanks, rings, left, gap_in, margin_in, share, seed, len(used))
        if not fitted:
            continue
        for one in fitted:
            left[one.name] -= 1
            area_left -= abs(ring_area(rings[one.name]))
        placed += fitted
        used.append(sheet)
    if any(left.values()):
        missing = ", ".join(f"{n} of {name}" for name, n in left.items() if n)
        raise DoesNotFitError(
            "blanks",
            found=f"left over: {missing}",
            allowed=f"what {len(sheets)} sheets hold",
            mend="Add a sheet, make the gap smaller, or let the grain run either way",
        )
    return laid_out(placed, blanks, used, gap_in=gap_in, margin_in=margin_in)


def _turns(blank: Blank) -> tuple[float, ...]:
    allowed = TURNS[blank.grain]
    return tuple(np.arange(0, 180, 3.0)) if allowed is None else allowed


def _fits(blank: Blank, ring: FloatArray, sheet: Sheet, margin: float) -> bool:
    for turn in _turns(blank):
        turned = moved(ring, Placed(blank.name, 0, turn, 0, 0))
        wide, tall = np.ptp(turned, axis=0)
        if wide <= sheet.length_in - 2 * margin + 1e-9 and tall <= sheet.width_in - 2 * margin + 1e-9:
            return True
    return False


def _refuse_too_large(
    blanks: Sequence[Blank], rings: dict[str, FloatArray], sheets: Sequence[Sheet], margin: float
) -> None:
    for blank in blanks:
        if not any(_fits(blank, rings[blank.name], sheet, margin) for sheet in sheets):
            wide, tall = np.ptp(rings[blank.name], axis=0)
            raise DoesNotFitError(
                f"blank {blank.name}",
                found=f"{wide:.2f} by {tall:.2f} in, grain {blank.grain}",
                allowed="; ".join(f"{s.name} {s.length_in:g} by {s.width_in:g} in" for s in sheets[:6]),
                mend="Use a larger sheet, or split the part",
            )


def _fill(
    sheet: Sheet,
    blanks: Sequence[Blank],
    rings: dict[str, FloatArray],
    left: dict[str, int],
    gap: float,
    margin: float,
    seconds: int,
    seed: int,
    number: int,
) -> list[Placed]:
    """As many of the blanks left as this sheet takes: largest first, fewer until the strip is short enough."""
    room = sheet.length_in - 2 * margin
    tall = sheet.width_in - 2 * margin
    queue = [
        b
        for b in sorted(blanks, key=lambda b: -abs(ring_area(rings[b.name])))
        for _ in range(left[b.name])
        if _fits(b, rings[b.name], sheet, margin)
    ]
    if not queue:
        return []
    areas = np.array([abs(ring_area(rings[b.name])) for b in queue])
    # Never more than the sheet's own area; then as many as the packer brings in under the length.
    many = int(np.searchsorted(np.cumsum(areas), room * tall * 0.98, side="right"))
    many = max(1, min(many, len(queue)))
    best: list[Placed] = []
    low, high, trial = 0, many, many
    tries = 0
    while trial > low and tries < 5:
        strip, width = _packed(
            queue[:trial], rings, tall, gap, seconds if not tries else (seconds + 1) // 2, seed
        )
        tries += 1
        if width <= room + 1e-6:
            best, low = strip, trial
            if trial == high:
                break
        else:
            high = trial - 1
        trial = high if width <= room * 1.02 else max(low + 1, min(high, int(trial * room / width)))
    return [Placed(p.name, number, p.turn_deg, p.dx_in + margin, p.dy_in + margin) for p in best]


GOOD_ENOUGH = 0.85
SETTLED_IN_A_SECOND = 12


def _packed(
    queue: Sequence[Blank], rings: dict[str, FloatArray], tall: float, gap: float, seconds: int, seed: int
) -> tuple[list[Placed], float]:
    """The better of columns of boxes and the packer's layout; the packer is not asked where columns will do."""
    plain = _in_columns(queue, rings, tall, gap)
    area = sum(abs(ring_area(rings[b.name])) for b in queue)
    if plain is not None and (seconds == 0 or area >= GOOD_ENOUGH * plain[1] * tall):
        return plain
    # Few pieces settle at once: more time would only be waited for.
    packer = _by_packer(
        queue, rings, tall, gap, min(seconds, max(1, int((len(queue) / SETTLED_IN_A_SECOND) ** 2))), seed
    )
    return plain if plain is not None and plain[1] <= packer[1] else packer


def _in_columns(
    queue: Sequence[Blank], rings: dict[str, FloatArray], tall: float, gap: float
) -> tuple[list[Placed], float] | None:
    spun = {
        b.name: [moved(rings[b.name], Placed(b.name, 0, turn, 0, 0)) for turn in _turns(b)] for b in queue
    }
    found = in_columns([[np.ptp(ring, axis=0) for ring in spun[b.name]] for b in queue], tall, gap)
    if found is None:
        return None
    placed = []
    for blank, (turn, x, y) in zip(queue, found[0], strict=True):
        low = spun[blank.name][turn].min(axis=0)
        placed.append(Placed(blank.name, 0, float(_turns(blank)[turn]), x - float(low[0]), y - float(low[1])))
    return placed, found[1]


def _by_packer(
    queue: Sequence[Blank], rings: dict[str, FloatArray], tall: float, gap: float, seconds: int, seed: int
) -> tuple[list[Placed], float]:
    import spyrrow

    counts: dict[str, int] = {}
    for blank in queue:
        counts[blank.name] = counts.get(blank.name, 0) + 1
    by_name = {b.name: b for b in queue}
    items = [
        spyrrow.Item(
            name,
            [(float(x), float(y)) for x, y in rings[name]],
            demand=count,
            allowed_orientations=_packer_turns(by_name[name]),
        )
        for name, count in counts.items()
    ]
    instance = spyrrow.StripPackingInstance("blanks", strip_height=float(tall), items=items)
    settings: dict[str, Any] = {"total_computation_time": int(seconds), "num_workers": 1, "seed": seed}
    if gap > 0:
        settings["min_items_separation"] = float(gap)
    found = instance.solve(spyrrow.StripPackingConfig(**settings))
    placed = [
        Placed(p.id, 0, float(p.rotation), float(p.translation[0]), float(p.translation[1]))
        for p in found.placed_items
    ]
    corner = np.min([moved(rings[p.name], p).min(axis=0) for p in placed], axis=0)
    shifted = [
        Placed(p.name, 0, p.turn_deg, p.dx_in - float(corner[0]), p.dy_in - float(corner[1])) for p in placed
    ]
    return shifted, float(max(moved(rings[p.name], p)[:, 0].max() for p in shifted))


def _packer_turns(blank: Blank) -> list[float] | None:
    allowed = TURNS[blank.grain]
    return None if allowed is None else list(allowed)
