"""Weight times arm: centre of gravity, its band, % MAC, ballast; arms are positive aft of the datum."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula

Floats = NDArray[np.float64]

_WEIGHT = (1e-3, 20_000.0)
_ARM = (-1000.0, 1000.0)


@formula(
    "moment",
    symbol="M",
    shown="weight_lb * arm_in",
    unit="lb·in",
    source="ac43-13-1b",
    locator="chapter 10, figure 10-10",
    rung="seen",
    limits={"weight_lb": (-20_000.0, 20_000.0), "arm_in": _ARM},
)
def moment_lb_in(*, weight_lb: ArrayLike, arm_in: ArrayLike) -> Floats:
    """Moment about the datum; an item taken out has a negative weight."""
    return np.asarray(weight_lb, float) * np.asarray(arm_in, float)


@formula(
    "cg",
    symbol="CG",
    shown="total_lb_in / total_lb",
    unit="in",
    source="ac43-13-1b",
    locator="chapter 10, figure 10-10",
    rung="seen",
    limits={"total_lb_in": (-2e7, 2e7), "total_lb": _WEIGHT},
)
def cg_in(*, total_lb_in: ArrayLike, total_lb: ArrayLike) -> Floats:
    """Centre of gravity: sum of the moments over sum of the weights."""
    return np.asarray(total_lb_in, float) / np.asarray(total_lb, float)


@formula(
    "cg.third_wheel",
    symbol="CG",
    shown="main_arm_in + third_lb * third_from_main_in / total_lb",
    unit="in",
    source="faa-h-8083-1b",
    locator="chapter 10, electronic calculator; empty-weight CG formulas",
    rung="seen",
    limits={
        "main_arm_in": _ARM,
        "third_lb": (0.0, 20_000.0),
        "third_from_main_in": (-500.0, 500.0),
        "total_lb": _WEIGHT,
    },
)
def third_wheel_cg_in(
    *, main_arm_in: ArrayLike, third_lb: ArrayLike, third_from_main_in: ArrayLike, total_lb: ArrayLike
) -> Floats:
    """CG from the nose or tail wheel's weight; its distance from the mains is negative for a nosewheel."""
    lever = np.asarray(third_lb, float) * np.asarray(third_from_main_in, float)
    return np.asarray(main_arm_in, float) + lever / np.asarray(total_lb, float)


@formula(
    "cg.percent_mac",
    symbol="% MAC",
    shown="100 * (cg_in - lemac_in) / mac_in",
    unit="%",
    source="faa-h-8083-1b",
    locator="percent of mean aerodynamic chord",
    rung="seen",
    limits={"cg_in": (-1000.0, 2000.0), "lemac_in": (-1000.0, 2000.0), "mac_in": (10.0, 2000.0)},
)
def percent_mac(*, cg_in: ArrayLike, lemac_in: ArrayLike, mac_in: ArrayLike) -> Floats:
    """CG in per cent of the mean aerodynamic chord behind its leading edge."""
    return 100 * (np.asarray(cg_in, float) - np.asarray(lemac_in, float)) / np.asarray(mac_in, float)


@formula(
    "cg.shift",
    symbol="dCG",
    shown="moved_lb * distance_in / total_lb",
    unit="in",
    source="faa-h-8083-1b",
    locator="weight shift: weight moved / total weight = CG change / distance moved",
    rung="seen",
    limits={"moved_lb": (0.0, 20_000.0), "distance_in": (-1000.0, 1000.0), "total_lb": _WEIGHT},
    excuse="the rule was seen, no numbers with it; it is held against the sum of moments instead",
)
def cg_shift_in(*, moved_lb: ArrayLike, distance_in: ArrayLike, total_lb: ArrayLike) -> Floats:
    """How far the CG moves when a weight on board moves, positive aft."""
    return np.asarray(moved_lb, float) * np.asarray(distance_in, float) / np.asarray(total_lb, float)


@formula(
    "ballast",
    symbol="B",
    shown="total_lb * (wanted_in - present_in) / (ballast_in - wanted_in)",
    unit="lb",
    source="faa-test-questions",
    locator="ballast to bring the CG to its limit",
    rung="second-hand",
    limits={
        "total_lb": (10.0, 20_000.0),
        "wanted_in": (0.0, 50.0),
        "present_in": (0.0, 50.0),
        "ballast_in": (60.0, 1000.0),
    },
)
def ballast_lb(
    *, total_lb: ArrayLike, wanted_in: ArrayLike, present_in: ArrayLike, ballast_in: ArrayLike
) -> Floats:
    """Ballast at an arm that brings the CG to where it is wanted; negative means it can't be done there."""
    wanted = np.asarray(wanted_in, float)
    lever = np.asarray(ballast_in, float) - wanted
    return np.asarray(total_lb, float) * (wanted - np.asarray(present_in, float)) / lever


@formula(
    "fuel.minimum",
    symbol="F_min",
    shown="power_hp / 12 * fuel_lb_per_gal",
    unit="lb",
    source="ac43-13-1b",
    locator="par. 10-2p and figure 10-10: half an hour at METO power, hp/12 gallons",
    rung="seen",
    limits={"power_hp": (10.0, 2000.0), "fuel_lb_per_gal": (5.5, 7.0)},
)
def minimum_fuel_lb(*, power_hp: ArrayLike, fuel_lb_per_gal: ArrayLike) -> Floats:
    """Least fuel on board in the forward check when the tank lies behind the forward limit."""
    return np.asarray(power_hp, float) / 12 * np.asarray(fuel_lb_per_gal, float)


def cg_band(
    weight_lb: ArrayLike, arm_in: ArrayLike, u_weight_lb: ArrayLike, u_arm_in: ArrayLike
) -> tuple[float, float, float, float]:
    """Total weight and CG with the half-widths of their bands, first order.

    Args:
        weight_lb, arm_in: one each a weighing point or item.
        u_weight_lb, u_arm_in: half-widths of the single bands, independent of each other.

    Returns:
        total weight, its half-width, CG, its half-width.
    """
    w, a = np.asarray(weight_lb, float), np.asarray(arm_in, float)
    uw, ua = np.asarray(u_weight_lb, float), np.asarray(u_arm_in, float)
    total = float(w.sum())
    cg = float((w * a).sum()) / total
    u_total = float(np.sqrt((uw**2).sum()))
    u_cg = float(np.sqrt((((a - cg) * uw) ** 2 + (w * ua) ** 2).sum())) / abs(total)
    return total, u_total, cg, u_cg
