"""The round tool on the sheet, fast: tape, tip, arc, tail, torque and the tool's own wind-up.

Closed forms where the geometry allows, one small Newton solution for the tail. All functions take arrays.
Method and equations: docs/physics/forming.md, "The roll".
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from ribwright.core.forming.fibre import Array
from ribwright.core.forming.section import SectionTable, curvature_per_in, moment_lbf

FLAT_SHARE = 0.75
"""Share of the tip that takes no lasting set worth seeing; found from the moment's rise along it."""

TAIL_NODES = 49


def conforming_curvature_per_in(*, tool_radius_in: ArrayLike, thickness_in: ArrayLike) -> Array:
    """Curvature of the sheet's middle when it lies on the tool: 1 / (R + t / 2)."""
    return np.asarray(1.0 / (np.asarray(tool_radius_in) + 0.5 * np.asarray(thickness_in)))


def tape_load_lbf_per_in(*, tape_shear_psi: ArrayLike, overlap_in: ArrayLike) -> Array:
    """Pull an inch of edge that a lap of tape carries, by its shear strength over the lap."""
    return np.asarray(np.asarray(tape_shear_psi) * np.asarray(overlap_in))


def tape_needed_lbf_per_in(*, moment_lbf_in_per_in: ArrayLike, tool_radius_in: ArrayLike) -> Array:
    """Least pull that can lay the edge on the tool at all (the tip as long as the tool's radius)."""
    return np.asarray(np.asarray(moment_lbf_in_per_in) / np.asarray(tool_radius_in))


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


def tail(table: SectionTable, *, tool_radius_in: float, held_in: float) -> tuple[Array, Array]:
    """Where the sheet leaves the tool, and how far on its moment has fallen to nothing.

    Args:
        table: m sheets.
        tool_radius_in: round tool.
        held_in: from the tool's centre line to the held part when the roll ends.

    Returns:
        ``lag`` in rad, shape (m,): the sheet leaves the tool this far behind the tool's lowest line;
        ``fall`` in in, shape (m,): from there to the point without moment.
    """
    t = table.thickness_in
    rho = tool_radius_in + 0.5 * t
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


def windup_rad(
    *,
    torque_lbf_in_per_in: ArrayLike,
    length_in: ArrayLike,
    shear_modulus_psi: ArrayLike,
    polar_moment_in4: ArrayLike,
    levers: ArrayLike = 1,
) -> Array:
    """How far the farthest point of the tool lags behind the lever: m L^2 / (2 G J), levers at both ends a quarter.

    Args:
        torque_lbf_in_per_in: torque that an inch of edge takes.
        length_in: length of the section.
        shear_modulus_psi: of the tool.
        polar_moment_in4: of the tool.
        levers: 1 or 2.
    """
    single = (
        np.asarray(torque_lbf_in_per_in, dtype=np.float64)
        * np.asarray(length_in, dtype=np.float64) ** 2
        / (2.0 * np.asarray(shear_modulus_psi) * np.asarray(polar_moment_in4))
    )
    return np.asarray(single / np.asarray(levers, dtype=np.float64) ** 2)


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


def lever_length_in(
    *, torque_lbf_in_per_in: ArrayLike, length_in: ArrayLike, hand_lbf: ArrayLike, levers: ArrayLike = 1
) -> Array:
    """Length of each lever for a hand's pull: torque x length / (levers x pull)."""
    return np.asarray(
        np.asarray(torque_lbf_in_per_in)
        * np.asarray(length_in)
        / (np.asarray(levers, dtype=np.float64) * np.asarray(hand_lbf))
    )
