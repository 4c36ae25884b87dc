"""Edge distance, pitch, and a row laid out with equal pitch between fixed ends."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula
from ribwright.errors import GeometryError

Floats = NDArray[np.float64]


@formula(
    "spacing.least_edge_distance",
    symbol="e",
    shown="edge_ratio * diameter_in",
    unit="in",
    source="ac43-13-1b",
    locator="par. 4-57c; flush from FAA-H-8083-31",
    rung="memory",
    limits={"edge_ratio": (1.0, 6.0), "diameter_in": (0.0625, 0.375)},
    excuse="a ratio times a diameter: the published number is the ratio itself, which stands in its table",
)
def least_edge_distance_in(*, edge_ratio: ArrayLike, diameter_in: ArrayLike) -> Floats:
    """Least distance from hole centre to the edge of the sheet."""
    return np.asarray(edge_ratio, float) * np.asarray(diameter_in, float)


@formula(
    "spacing.least_pitch",
    symbol="p",
    shown="pitch_ratio * diameter_in",
    unit="in",
    source="navedtra-14018",
    locator="p. 13-24 ff.",
    rung="seen",
    limits={"pitch_ratio": (2.0, 12.0), "diameter_in": (0.0625, 0.375)},
)
def least_pitch_in(*, pitch_ratio: ArrayLike, diameter_in: ArrayLike) -> Floats:
    """Least distance between the centres of neighbours in a row."""
    return np.asarray(pitch_ratio, float) * np.asarray(diameter_in, float)


@formula(
    "spacing.equal_pitch",
    symbol="p",
    shown="(last_in - first_in) / spaces",
    unit="in",
    source="statics",
    locator="equal spaces between fixed ends",
    rung="derived",
    limits={"first_in": (0.0, 2000.0), "last_in": (0.0, 2000.0), "spaces": (1.0, 2000.0)},
    excuse="a division",
)
def equal_pitch_in(*, first_in: ArrayLike, last_in: ArrayLike, spaces: ArrayLike) -> Floats:
    """Pitch of a row with this many equal spaces."""
    return (np.asarray(last_in, float) - np.asarray(first_in, float)) / np.asarray(spaces, float)


@formula(
    "spacing.least_flange",
    symbol="w",
    shown="thickness_in + bend_radius_in + tool_half_width_in + edge_in",
    unit="in",
    source="practice",
    locator="web to edge: metal, bend, tool, edge distance",
    rung="practice",
    limits={
        "thickness_in": (0.01, 0.25),
        "bend_radius_in": (0.0, 1.0),
        "tool_half_width_in": (0.05, 1.0),
        "edge_in": (0.02, 2.0),
    },
    excuse="a sum; no source prints it",
)
def least_flange_in(
    *, thickness_in: ArrayLike, bend_radius_in: ArrayLike, tool_half_width_in: ArrayLike, edge_in: ArrayLike
) -> Floats:
    """Least width of a flange, outside of the web to its edge, on which a usual die or set sits flat."""
    inside_of_it = np.asarray(thickness_in, float) + np.asarray(bend_radius_in, float)
    return inside_of_it + np.asarray(tool_half_width_in, float) + np.asarray(edge_in, float)


def spaces_for(first_in: float, last_in: float, pitch_in: float) -> int:
    """Number of equal spaces so that none is wider than the pitch asked for.

    Raises:
        GeometryError: the last hole doesn't lie beyond the first, or more than 2,000 holes would follow.
    """
    run = last_in - first_in
    if run <= 0:
        raise GeometryError(
            "Last hole", found=f"{last_in:g} in, the first at {first_in:g} in", allowed="beyond the first hole",
            mend="Measure both from the same end of the row.",
        )  # fmt: skip
    # a pitch that divides the run to within a thousandth of an inch over the whole row counts as dividing it
    spaces = max(1, int(np.ceil(run / pitch_in - 0.001 / pitch_in)))
    if spaces > 2000:
        raise GeometryError(
            "Pitch",
            found=f"{pitch_in:g} in",
            allowed="at most 2,001 holes in a row",
            mend="Check pitch and length.",
        )
    return spaces


def row_positions_in(first_in: float, last_in: float, spaces: int) -> Floats:
    """Positions along the row, shape (spaces + 1,)."""
    return np.linspace(first_in, last_in, spaces + 1)
