"""Bounding boxes in columns: the plain layout that a builder would draw, repeatable and at once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ribwright.core.geometry.outlines import FloatArray


def in_columns(
    boxes_in: Sequence[Sequence[FloatArray]], tall_in: float, gap_in: float
) -> tuple[list[tuple[int, float, float]], float] | None:
    """Boxes stacked in columns across the strip, widest first.

    Args:
        boxes_in: for each piece the sizes (length, height) it has in its allowed turns.
        tall_in: height of the strip.
        gap_in: between boxes.

    Returns:
        For each piece the number of its turn and its lower left corner, and the length used; None when a
        piece fits in no turn.
    """
    turns = []
    for sizes in boxes_in:
        fitting = [n for n, size in enumerate(sizes) if size[1] <= tall_in + 1e-9]
        if not fitting:
            return None
        # The turn that wastes least of a column: the lowest one, then the shortest.
        turns.append(min(fitting, key=lambda n: (round(float(sizes[n][0]), 6), float(sizes[n][1]))))
    order = sorted(range(len(turns)), key=lambda k: (-float(boxes_in[k][turns[k]][0]), k))
    places: list[tuple[int, float, float]] = [(0, 0.0, 0.0)] * len(turns)
    columns: list[list[float]] = []  # left, width, filled height
    end = 0.0
    for k in order:
        wide, high = (float(v) for v in boxes_in[k][turns[k]])
        for column in columns:
            if column[2] + gap_in + high <= tall_in + 1e-9:
                places[k] = (turns[k], column[0], column[2] + gap_in)
                column[2] += gap_in + high
                break
        else:
            left = end + (gap_in if columns else 0.0)
            columns.append([left, wide, high])
            places[k] = (turns[k], left, 0.0)
            end = left + wide
    return places, float(np.float64(end))
