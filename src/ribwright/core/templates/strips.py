"""A fan of lines that divides any length into equal spaces."""

from __future__ import annotations

import numpy as np

from ribwright.core.scene import Item, Line, Scene, Text
from ribwright.errors import OutOfRangeError


def fan_strip(
    spaces: int, *, least_pitch_in: float, greatest_pitch_in: float, width_in: float = 6.0, title: str = ""
) -> Scene:
    """Lines that spread: moved up or down until its outer lines meet the end holes, it divides the row evenly.

    Args:
        spaces: number of equal spaces.
        least_pitch_in, greatest_pitch_in: pitch at the lower and the upper edge.
        width_in: distance between the two edges.

    Raises:
        OutOfRangeError: no spaces, or pitches that don't grow.
    """
    if not 1 <= spaces <= 500:
        raise OutOfRangeError("spaces", found=spaces, allowed="1 to 500")
    if not (0.1 <= least_pitch_in < greatest_pitch_in <= 12):
        raise OutOfRangeError(
            "pitch range",
            found=f"{least_pitch_in:g} to {greatest_pitch_in:g} in",
            allowed="growing, between 0.1 and 12 in",
        )
    if not 1 <= width_in <= 24:
        raise OutOfRangeError("width of the fan", found=width_in, allowed="1 to 24 in")
    half = spaces / 2
    items: list[Item] = []
    for n in range(spaces + 1):
        a, b = (n - half) * least_pitch_in, (n - half) * greatest_pitch_in
        items.append(Line((a, 0.0), (b, width_in), "outline" if n in (0, spaces) else "thin"))
        items.append(Text((b, width_in + 0.06), str(n + 1), 0.08, "middle"))
    steps = int(np.floor((greatest_pitch_in - least_pitch_in) / 0.0625 + 1e-9))
    first = np.ceil(least_pitch_in / 0.0625 - 1e-9) * 0.0625
    for k in range(steps + 1):
        pitch = first + k * 0.0625
        if pitch > greatest_pitch_in + 1e-9:
            break
        y = width_in * (pitch - least_pitch_in) / (greatest_pitch_in - least_pitch_in)
        reach = half * pitch
        items.append(Line((-reach - 0.1, y), (-reach, y), "thin"))
        items.append(Text((-reach - 0.15, y - 0.035), f"{pitch:.4g}", 0.07, "end"))
    name = title or f"Fan of {spaces} spaces"
    items.append(
        Text(
            (0, -0.25),
            f"{name}: slide until the outer lines meet the end holes, square to the row",
            0.09,
            "middle",
        )
    )
    return Scene(
        tuple(items),
        name,
        f"Fan of {spaces + 1} lines; pitch from {least_pitch_in:g} in at the lower edge to {greatest_pitch_in:g} in.",
    )
