"""Closing the edge: opening between mating holes, the stress that stays, and what a reading asks for next.

Method: docs/physics/forming.md, "Closing".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ribwright.core.audit import formula
from ribwright.core.forming.fibre import Array
from ribwright.errors import OutOfRangeError

GOOD_IN = 1.0 / 16.0
ROLL_AGAIN_IN = 1.0 / 4.0


@formula(
    "nose.opening",
    symbol="g",
    shown="2 * (wanted_radius_in * (1 - cos(arc_rad)) - rolled_radius_in * (1 - cos(arc_rad * wanted_radius_in / rolled_radius_in)))",
    unit="in",
    source="forming-method",
    locator="closing: two arcs of the wanted length, let go",
    rung="derived",
    limits={"wanted_radius_in": (0.05, 50.0), "rolled_radius_in": (0.05, 50.0), "arc_rad": (0.1, 3.0)},
    excuse="geometry; common practice quotes its first order, which a reference test compares",
)
def opening_in(*, wanted_radius_in: ArrayLike, rolled_radius_in: ArrayLike, arc_rad: ArrayLike) -> Array:
    """Opening between mating holes of two skins let go, each an arc of the wanted length; positive = stands open.

    Both radii of the same line of the skin. Each skin is held true where its arc begins; its edge stands
    off by R_w (1 - cos a) - R (1 - cos(a R_w / R)), and the opening is twice that.
    """
    w, r = np.asarray(wanted_radius_in, dtype=np.float64), np.asarray(rolled_radius_in, dtype=np.float64)
    a = np.asarray(arc_rad, dtype=np.float64)
    return np.asarray(2.0 * (w * (1.0 - np.cos(a)) - r * (1.0 - np.cos(a * w / r))))


def opening_first_order_in(*, wanted_radius_in: ArrayLike, error_share: ArrayLike) -> Array:
    """The same for quarter arcs and small errors: (pi - 2) R e / (1 + e).

    First order in the curvature; it reads a tenth low at an error of 10 % of the radius.
    """
    e = np.asarray(error_share, dtype=np.float64)
    return np.asarray((np.pi - 2.0) * np.asarray(wanted_radius_in) * e / (1.0 + e))


def radius_from_opening_in(*, wanted_radius_in: float, opening: float, arc_rad: float) -> float:
    """Rolled radius that shows an opening (negative: the skins overlap).

    Raises:
        OutOfRangeError: an opening that no arc of this length shows.
    """
    # sharper than this the edge curls back and one opening has two radii
    low, high = wanted_radius_in * arc_rad / 2.3, 200.0 * wanted_radius_in
    ends = [
        float(opening_in(wanted_radius_in=wanted_radius_in, rolled_radius_in=r, arc_rad=arc_rad))
        for r in (low, high)
    ]
    if not ends[0] <= opening <= ends[1]:
        raise OutOfRangeError(
            "opening between mating holes",
            found=f"{opening:g} in",
            allowed=f"{ends[0]:.2f} to {ends[1]:.2f} in",
            mend="measure again with both skins held true at the spar",
        )
    for _ in range(80):
        middle = np.sqrt(low * high)
        shown = float(opening_in(wanted_radius_in=wanted_radius_in, rolled_radius_in=middle, arc_rad=arc_rad))
        low, high = (middle, high) if shown < opening else (low, middle)
    return float(np.sqrt(low * high))


@formula(
    "nose.standing_stress",
    symbol="sigma",
    shown="modulus_psi / (1 - poisson_ratio**2) * thickness_in * abs(curvature_change_per_in) / 2",
    unit="psi",
    source="strength-of-materials",
    locator="bending of a wide sheet",
    rung="derived",
    limits={
        "modulus_psi": (1e6, 4e7),
        "poisson_ratio": (0.0, 0.45),
        "thickness_in": (0.005, 0.5),
        "curvature_change_per_in": (-20.0, 20.0),
    },
    excuse="textbook bending, plane strain",
)
def standing_stress_psi(
    *,
    modulus_psi: ArrayLike,
    poisson_ratio: ArrayLike,
    thickness_in: ArrayLike,
    curvature_change_per_in: ArrayLike,
) -> Array:
    """Bending stress of a sheet held at another curvature than its own: E' t dk / 2."""
    plane = np.asarray(modulus_psi) / (1.0 - np.asarray(poisson_ratio) ** 2)
    return np.asarray(plane * np.asarray(thickness_in) * np.abs(np.asarray(curvature_change_per_in)) / 2.0)


@dataclass(frozen=True, slots=True)
class Closed:
    """A symmetric lapped nose pulled shut, an inch wide.

    Attributes:
        joint_stress_psi: bending stress at the joint.
        largest_stress_psi: largest bending stress along the skin.
        force_lbf: force between the two skins.
    """

    joint_stress_psi: float
    largest_stress_psi: float
    force_lbf: float


def closed_nose(
    *,
    modulus_psi: float,
    poisson: float,
    thickness_in: float,
    wanted_radius_in: float,
    rolled_radius_in: float,
    arc_rad: float,
    spar_behind_in: float,
) -> Closed:
    """Stress that stays when a nose of the wrong radius is closed, by unit loads on the real profile.

    The half skin is held at the spar; by symmetry its joint neither turns nor parts, and slides freely
    fore and aft. Elastic moment M = M0 + P x must undo the error of curvature in turn and in gap.

    Args:
        modulus_psi, poisson, thickness_in: the sheet.
        wanted_radius_in, rolled_radius_in: middle line.
        arc_rad: arc of one skin.
        spar_behind_in: from the end of the arc to the spar.
    """
    n = 400
    angle = (np.arange(n) + 0.5) * arc_rad / n
    ds_arc = wanted_radius_in * arc_rad / n
    x_arc = wanted_radius_in * (1.0 - np.cos(angle))
    reach, slope = wanted_radius_in * (1.0 - np.cos(arc_rad)), np.sin(arc_rad)
    x_flat = reach + (np.arange(n) + 0.5) * spar_behind_in / n * slope
    ds_flat = spar_behind_in / n
    error = 1.0 / rolled_radius_in - 1.0 / wanted_radius_in
    stiff = modulus_psi / (1.0 - poisson**2) * thickness_in**3 / 12.0
    x = np.concatenate([x_arc, x_flat])
    ds = np.concatenate([np.full(n, ds_arc), np.full(n, ds_flat)])
    s0, s1, s2 = np.sum(ds), np.sum(x * ds), np.sum(x * x * ds)
    right = -stiff * error * np.array([arc_rad * wanted_radius_in, float(np.sum(x_arc) * ds_arc)])
    m0, force = np.linalg.solve(np.array([[s0, s1], [s1, s2]]), right)
    moment = m0 + force * np.concatenate(([0.0], x, [x[-1]]))
    to_stress = 6.0 / thickness_in**2
    return Closed(
        joint_stress_psi=float(abs(m0) * to_stress),
        largest_stress_psi=float(np.max(np.abs(moment)) * to_stress),
        force_lbf=float(abs(force)),
    )


def ring_under_two_loads(
    *, load_lbf: ArrayLike, radius_in: ArrayLike, bending_stiffness_lbf_in2: ArrayLike
) -> tuple[Array, Array, Array, Array]:
    """Thin ring pulled by two opposite loads: moments under and across the load, shortening and growth.

    Energy method on the quarter ring, integrated exactly: P R / pi, P R (1/2 - 1/pi),
    P R^3 / EI (pi/4 - 2/pi), P R^3 / EI (2/pi - 1/2).
    """
    p, r = np.asarray(load_lbf, dtype=np.float64), np.asarray(radius_in, dtype=np.float64)
    flex = p * r**3 / np.asarray(bending_stiffness_lbf_in2)
    return (
        np.asarray(p * r / np.pi),
        np.asarray(p * r * (0.5 - 1.0 / np.pi)),
        np.asarray(flex * (np.pi / 4.0 - 2.0 / np.pi)),
        np.asarray(flex * (2.0 / np.pi - 0.5)),
    )
