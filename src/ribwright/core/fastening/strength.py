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
    "rivet.thin_sheet_factor_double",
    symbol="k_2",
    shown="clip(1 - 0.13 * (diameter_in / middle_thickness_in - 1.5), 0, 1)",
    unit="",
    source="mil-hdbk-5j",
    locator="table 8.1.2.1, double shear",
    rung="derived",
    limits={"diameter_in": (0.0625, 0.375), "middle_thickness_in": (0.012, 0.5)},
)
def thin_sheet_factor_double(*, diameter_in: ArrayLike, middle_thickness_in: ArrayLike) -> Floats:
    """Part of the double shear strength left when the middle sheet is thin against the rivet."""
    ratio = np.asarray(diameter_in, float) / np.asarray(middle_thickness_in, float)
    return np.clip(1.0 - 0.13 * (ratio - 1.5), 0.0, 1.0)


@formula(
    "sheet.bearing_stress",
    symbol="F_bru",
    shown="f_bru_15_psi + (f_bru_20_psi - f_bru_15_psi) * (edge_ratio - 1.5) / 0.5",
    unit="psi",
    source="mil-hdbk-5j",
    locator="section 1.4.7: linear between e/D 1.5 and 2.0",
    rung="seen",
    limits={
        "f_bru_15_psi": (10_000.0, 250_000.0),
        "f_bru_20_psi": (10_000.0, 250_000.0),
        "edge_ratio": (1.5, 2.0),
    },
    excuse="the source states the interpolation and prints only its two ends, which are table cells",
)
def bearing_stress_psi(*, f_bru_15_psi: ArrayLike, f_bru_20_psi: ArrayLike, edge_ratio: ArrayLike) -> Floats:
    """Ultimate bearing stress for an edge distance between 1.5 and 2 diameters; not valid below."""
    low, high = np.asarray(f_bru_15_psi, float), np.asarray(f_bru_20_psi, float)
    return low + (high - low) * (np.asarray(edge_ratio, float) - 1.5) / 0.5


@formula(
    "sheet.net_section",
    symbol="P_t",
    shown="(width_in - hole_count * hole_in) * thickness_in * f_tu_psi",
    unit="lbf",
    source="statics",
    locator="the sheet left between the holes of one line across the load",
    rung="derived",
    limits={
        "width_in": (0.1, 500.0),
        "hole_count": (0.0, 5000.0),
        "hole_in": (0.05, 0.6),
        "thickness_in": (0.01, 0.5),
        "f_tu_psi": (10_000.0, 120_000.0),
    },
    excuse="an area times a stress; the stress is a table cell",
)
def net_section_lbf(
    *,
    width_in: ArrayLike,
    hole_count: ArrayLike,
    hole_in: ArrayLike,
    thickness_in: ArrayLike,
    f_tu_psi: ArrayLike,
) -> Floats:
    """Tension that tears the sheet across a line of holes."""
    left = np.asarray(width_in, float) - np.asarray(hole_count, float) * np.asarray(hole_in, float)
    return left * np.asarray(thickness_in, float) * np.asarray(f_tu_psi, float)


@formula(
    "sheet.tear_out",
    symbol="P_e",
    shown="2 * (edge_in - hole_in / 2) * thickness_in * f_su_psi",
    unit="lbf",
    source="statics",
    locator="two shear planes from the hole to the edge",
    rung="derived",
    limits={
        "edge_in": (0.0, 20.0),
        "hole_in": (0.05, 0.6),
        "thickness_in": (0.01, 0.5),
        "f_su_psi": (5_000.0, 80_000.0),
    },
    excuse="two areas times a stress; the planes are taken from the hole's side, which is the shorter choice",
)
def tear_out_lbf(
    *, edge_in: ArrayLike, hole_in: ArrayLike, thickness_in: ArrayLike, f_su_psi: ArrayLike
) -> Floats:
    """Load that pushes the strip between hole and edge out; zero or less when the hole cuts the edge."""
    length = np.asarray(edge_in, float) - np.asarray(hole_in, float) / 2
    return 2 * length * np.asarray(thickness_in, float) * np.asarray(f_su_psi, float)


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
