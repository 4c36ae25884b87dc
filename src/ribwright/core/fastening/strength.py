"""What a fastener carries: shear, bearing, thin sheet; and how many a splice needs."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula

Floats = NDArray[np.float64]


@formula(
    "rivet.shear",
    symbol="P_s",
    shown="pi / 4 * hole_in**2 * f_su_psi",
    unit="lbf",
    source="mil-hdbk-5j",
    locator="section 8.1.2",
    rung="seen",
    limits={"hole_in": (0.05, 0.4), "f_su_psi": (5_000.0, 60_000.0)},
)
def rivet_shear_lbf(*, hole_in: ArrayLike, f_su_psi: ArrayLike) -> Floats:
    """Single shear of a driven rivet, which fills its nominal hole."""
    return np.pi / 4 * np.asarray(hole_in, float) ** 2 * np.asarray(f_su_psi, float)


@formula(
    "rivet.thin_sheet_factor",
    symbol="k",
    shown="minimum(1, 1 - 0.04 * (diameter_in / thickness_in - 3))",
    unit="",
    source="mil-hdbk-5j",
    locator="table 8.1.2.1, single shear",
    rung="derived",
    limits={"diameter_in": (0.0625, 0.375), "thickness_in": (0.012, 0.5)},
)
def thin_sheet_factor(*, diameter_in: ArrayLike, thickness_in: ArrayLike) -> Floats:
    """Part of the shear strength left when the thinner sheet is thin against the rivet; single shear."""
    ratio = np.asarray(diameter_in, float) / np.asarray(thickness_in, float)
    return np.minimum(1.0, 1.0 - 0.04 * (ratio - 3.0))


@formula(
    "sheet.bearing",
    symbol="P_b",
    shown="f_bru_psi * diameter_in * thickness_in",
    unit="lbf",
    source="mil-hdbk-5j",
    locator="section 1.4.7 and 8.1.2.1",
    rung="seen",
    limits={"f_bru_psi": (10_000.0, 250_000.0), "diameter_in": (0.0625, 0.375), "thickness_in": (0.01, 0.5)},
)
def sheet_bearing_lbf(*, f_bru_psi: ArrayLike, diameter_in: ArrayLike, thickness_in: ArrayLike) -> Floats:
    """Ultimate bearing load of one fastener in one sheet, on the nominal shank."""
    return np.asarray(f_bru_psi, float) * np.asarray(diameter_in, float) * np.asarray(thickness_in, float)


@formula(
    "splice.rivets_per_inch",
    symbol="N",
    shown="maximum(thickness_in / (shear_ratio * pi / 4 * hole_in**2), 1 / (bearing_ratio * hole_in))",
    unit="per in",
    source="ac43-13-1b",
    locator="engineering notes to tables 4-9 to 4-11",
    rung="derived",
    limits={
        "thickness_in": (0.01, 0.14),
        "shear_ratio": (0.2, 1.0),
        "bearing_ratio": (1.0, 2.0),
        "hole_in": (0.06, 0.3),
    },
    deviation="The note to table 4-10 lacks its shear ratio (.50 reproduces the table); 4-11 follows 1.65 in bearing, not the printed 1.60.",
)
def splice_rivets_per_inch(
    *, thickness_in: ArrayLike, shear_ratio: ArrayLike, bearing_ratio: ArrayLike, hole_in: ArrayLike
) -> Floats:
    """Rivets per inch of width that carry the sheet's full tension, by shear or by bearing."""
    hole = np.asarray(hole_in, float)
    shear = np.asarray(thickness_in, float) / (np.asarray(shear_ratio, float) * np.pi / 4 * hole**2)
    return np.maximum(shear, 1.0 / (np.asarray(bearing_ratio, float) * hole))
