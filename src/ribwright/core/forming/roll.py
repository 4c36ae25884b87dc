"""The round tool on the sheet, fast: tape, tip, arc, tail, torque and the tool's own wind-up.

Closed forms where the geometry allows, one small Newton solution for the tail. All functions take arrays.
Method and equations: docs/physics/forming.md, "The roll".
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ribwright.core.audit import formula
from ribwright.core.forming.fibre import Array
from ribwright.core.forming.section import SectionTable, curvature_per_in, moment_lbf

FLAT_SHARE = 0.75
"""Share of the tip that takes no lasting set worth seeing; found from the moment's rise along it."""

TAIL_NODES = 49


def conforming_curvature_per_in(*, tool_radius_in: ArrayLike, thickness_in: ArrayLike) -> Array:
    """Curvature of the sheet's middle when it lies on the tool: 1 / (R + t / 2)."""
    return np.asarray(1.0 / (np.asarray(tool_radius_in) + 0.5 * np.asarray(thickness_in)))


@formula(
    "roll.tape_load",
    symbol="T",
    shown="tape_shear_psi * overlap_in",
    unit="lb/in",
    source="forming-method",
    locator="the roll: tape in shear over its lap",
    rung="derived",
    limits={"tape_shear_psi": (0.5, 5000.0), "overlap_in": (0.05, 6.0)},
    excuse="a definition; the strength itself is the builder's pull test",
)
def tape_load_lbf_per_in(*, tape_shear_psi: ArrayLike, overlap_in: ArrayLike) -> Array:
    """Pull an inch of edge that a lap of tape carries, by its shear strength over the lap."""
    return np.asarray(np.asarray(tape_shear_psi) * np.asarray(overlap_in))


def tape_needed_lbf_per_in(*, moment_lbf_in_per_in: ArrayLike, tool_radius_in: ArrayLike) -> Array:
    """Least pull that can lay the edge on the tool at all (the tip as long as the tool's radius)."""
    return np.asarray(np.asarray(moment_lbf_in_per_in) / np.asarray(tool_radius_in))


@formula(
    "roll.tip_length",
    symbol="l",
    shown="tool_radius_in * sqrt(moment_lbf_in_per_in / (2 * tool_radius_in * tape_lbf_per_in - moment_lbf_in_per_in))",
    unit="in",
    source="forming-method",
    locator="the roll: the edge in balance",
    rung="derived",
    limits={
        "moment_lbf_in_per_in": (0.01, 5.0),
        "tool_radius_in": (0.25, 20.0),
        "tape_lbf_per_in": (20.0, 2000.0),
    },
    excuse="balance of one lever; the tape load it implies is held against the finite-element rolls",
)
def tip_length_in(
    *, moment_lbf_in_per_in: ArrayLike, tool_radius_in: ArrayLike, tape_lbf_per_in: ArrayLike
) -> Array:
    """Edge strip that stands off the tool: from M = T l sin(2 atan(l / R)), l = R sqrt(M / (2 R T - M)).

    Longer than the tool's radius means that the edge can't be laid on; where not even the formula has an
    answer the length is infinite.
    """
    m, r, t = np.broadcast_arrays(
        np.asarray(moment_lbf_in_per_in, dtype=np.float64),
        np.asarray(tool_radius_in, dtype=np.float64),
        np.asarray(tape_lbf_per_in, dtype=np.float64),
    )
    spare = 2.0 * r * t - m
    return np.asarray(np.where(spare > 0.0, r * np.sqrt(m / np.where(spare > 0.0, spare, 1.0)), np.inf))


def tail(table: SectionTable, *, tool_radius_in: ArrayLike, held_in: float) -> tuple[Array, Array]:
    """Where the sheet leaves the tool, and how far on its moment has fallen to nothing.

    Args:
        table: m sheets.
        tool_radius_in: round tool, one for all sheets or one for each, shape (m,).
        held_in: from the tool's centre line to the held part when the roll ends.

    Returns:
        ``lag`` in rad, shape (m,): the sheet leaves the tool this far behind the tool's lowest line;
        ``fall`` in in, shape (m,): from there to the point without moment.
    """
    t = table.thickness_in
    rho = np.asarray(tool_radius_in, dtype=np.float64) + 0.5 * t
    k_tool = 1.0 / rho
    m_tool = moment_lbf(table, k_tool[:, None])[:, 0]
    # small deflections decide the first guess, the large ones the answer
    lag = np.full(t.size, 0.3) * np.minimum(1.0, held_in / rho)
    fall = np.full(t.size, 0.7 * held_in)
    share = np.linspace(0.0, 1.0, TAIL_NODES)
    weight = np.full(TAIL_NODES, 1.0 / (TAIL_NODES - 1))
    weight[[0, -1]] *= 0.5

    def miss(a: Array, c: Array) -> tuple[Array, Array, Array]:
        reach = held_in + rho * np.sin(a)
        # the path is a little longer than its reach; the slope is small, so second order is enough
        path = reach * (1.0 + a**2 / 12.0)
        moment = m_tool[:, None] * (1.0 - path[:, None] * share / c[:, None])
        kappa = curvature_per_in(table, np.clip(moment, -m_tool[:, None], m_tool[:, None]))
        turned = np.cumsum((kappa[:, 1:] + kappa[:, :-1]) / 2.0, axis=1) * (path / (TAIL_NODES - 1))[:, None]
        slope = a[:, None] - np.concatenate([np.zeros((t.size, 1)), turned], axis=1)
        drop = path * np.sum(np.sin(slope) * weight, axis=1)
        return slope[:, -1], drop - rho * (1.0 - np.cos(a)), path

    for _ in range(14):
        f, g, _ = miss(lag, fall)
        da, dc = 1e-4, 1e-4 * fall
        fa, ga, _ = miss(lag + da, fall)
        fc, gc, _ = miss(lag, fall + dc)
        j11, j12, j21, j22 = (fa - f) / da, (fc - f) / dc, (ga - g) / da, (gc - g) / dc
        det = j11 * j22 - j12 * j21
        det = np.where(np.abs(det) > 1e-14, det, 1e-14)
        step_a = -(f * j22 - g * j12) / det
        step_c = -(j11 * g - j21 * f) / det
        lag = np.clip(lag + np.clip(step_a, -0.1, 0.1), 1e-3, 1.2)
        fall = np.clip(
            fall + np.clip(step_c, -0.3 * fall, 0.5 * fall), 0.05 * held_in, 5.0 * held_in + 5.0 * rho
        )
        if max(float(np.max(np.abs(step_a))), float(np.max(np.abs(step_c) / fall))) < 1e-11:
            break
    return np.asarray(lag), np.asarray(fall)


def turn_rad(
    *, rolled_to_in: ArrayLike, start_in: ArrayLike, pitch_radius_in: ArrayLike, lag_rad: ArrayLike
) -> Array:
    """How far to turn the tool so that the arc ends at ``rolled_to_in`` from the edge."""
    return np.asarray((np.asarray(rolled_to_in) - np.asarray(start_in)) / pitch_radius_in + lag_rad)


def polar_moment_in4(*, outside_diameter_in: ArrayLike, inside_diameter_in: ArrayLike) -> Array:
    """Polar second moment of a round bar or tube: pi / 32 (D^4 - d^4)."""
    d4 = np.asarray(outside_diameter_in, dtype=np.float64) ** 4
    return np.asarray(np.pi / 32.0 * (d4 - np.asarray(inside_diameter_in, dtype=np.float64) ** 4))


@formula(
    "roll.windup",
    symbol="phi",
    shown="degrees(torque_lbf_in_per_in * length_in**2 / (2 * shear_modulus_psi * pi / 32"
    " * (outside_diameter_in**4 - inside_diameter_in**4))) / lever_count**2",
    unit="deg",
    source="strength-of-materials",
    locator="torsion of a round bar or tube under an even torque along it",
    rung="derived",
    limits={
        "torque_lbf_in_per_in": (0.001, 500.0),
        "length_in": (0.5, 400.0),
        "shear_modulus_psi": (1e4, 2e7),
        "outside_diameter_in": (1.0, 20.0),
        "inside_diameter_in": (0.0, 0.98),
        "lever_count": (1.0, 2.0),
    },
    deviation="two levers drive half the length each: a quarter of the lag",
)
def windup_deg(
    *,
    torque_lbf_in_per_in: ArrayLike,
    length_in: ArrayLike,
    shear_modulus_psi: ArrayLike,
    outside_diameter_in: ArrayLike,
    inside_diameter_in: ArrayLike,
    lever_count: ArrayLike,
) -> Array:
    """How far the farthest point of the tool lags behind the lever."""
    m, length, g, n = (
        np.asarray(a, dtype=np.float64)
        for a in (torque_lbf_in_per_in, length_in, shear_modulus_psi, lever_count)
    )
    polar = polar_moment_in4(outside_diameter_in=outside_diameter_in, inside_diameter_in=inside_diameter_in)
    return np.asarray(np.degrees(m * length**2 / (2.0 * g * polar)) / n**2)


def windup_along_rad(
    *,
    place_in: ArrayLike,
    torque_lbf_in_per_in: ArrayLike,
    length_in: ArrayLike,
    shear_modulus_psi: ArrayLike,
    polar_moment_in4: ArrayLike,
    levers: ArrayLike = 1,
) -> Array:
    """Lag behind the lever at a place along the section (from the lever's end): m (x L' - x^2 / 2) / (G J).

    With two levers the section is two halves, each driven from its own end.
    """
    x, length = np.asarray(place_in, dtype=np.float64), np.asarray(length_in, dtype=np.float64)
    both = np.asarray(levers) > 1
    near = np.where(both, np.minimum(x, length - x), x)
    arm = np.where(both, 0.5 * length, length)
    stiff = np.asarray(shear_modulus_psi) * np.asarray(polar_moment_in4)
    return np.asarray(np.asarray(torque_lbf_in_per_in) * (near * arm - 0.5 * near**2) / stiff)


@formula(
    "roll.lever",
    symbol="a",
    shown="torque_lbf_in_per_in * length_in / (lever_count * hand_lbf)",
    unit="in",
    source="strength-of-materials",
    locator="balance of moments",
    rung="derived",
    limits={
        "torque_lbf_in_per_in": (0.001, 500.0),
        "length_in": (0.5, 400.0),
        "hand_lbf": (1.0, 200.0),
        "lever_count": (1.0, 2.0),
    },
    excuse="one balance of moments",
)
def lever_length_in(
    *, torque_lbf_in_per_in: ArrayLike, length_in: ArrayLike, hand_lbf: ArrayLike, lever_count: ArrayLike
) -> Array:
    """Length of each lever for a hand's pull."""
    return np.asarray(
        np.asarray(torque_lbf_in_per_in)
        * np.asarray(length_in)
        / (np.asarray(lever_count, dtype=np.float64) * np.asarray(hand_lbf))
    )
