"""A strip, a round tool rolled along it, and the tape that holds the edge: solved as a chain of hinges.

The full mechanical problem in two dimensions, with contact and history: it knows the tip, the conforming
arc, the tail and the case where the edge cannot conform without being told which is which. It is the check
on the fast solution of :mod:`roll`, and what answers for a set-up as odd as a tape too weak for its sheet.

Method and equations: docs/physics/forming.md, "The chain".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.forming.fibre import Array
from ribwright.core.forming.section import SectionTable, moment_lbf, release_masing_per_in
from ribwright.errors import FormingError, OutOfRangeError

LINKS_PER_THICKNESS = 1.4
NEWTON_LIMIT = 60


@dataclass(frozen=True, slots=True)
class RollSetup:
    """A strip to be rolled, an inch wide.

    Attributes:
        tool_radius_in: outside radius of the round tool.
        wrap_rad: how far the tool is turned, rolling without slip towards the held part.
        overhang_in: from the free edge to the first contact at the start.
        tape_lbf_per_in2: tape as a tension-only spring, force an inch of width for an inch of stretch.
        held_in: left between the tool's centre line and the held part at the end.
        contact_lbf_per_in3: pressure for an inch of interference between sheet and tool.
    """

    tool_radius_in: float
    wrap_rad: float
    overhang_in: float
    tape_lbf_per_in2: float
    held_in: float
    contact_lbf_per_in3: float


@dataclass(frozen=True, slots=True)
class RolledStrip:
    """What the chain found; arrays run from the held part to the free edge.

    Attributes:
        peak_per_in: largest curvature reached at each hinge, shape (links,).
        loaded_in: middle line at the end of the wrap, held-part frame, shape (links + 1, 2).
        in_contact: nodes that touch the tool, shape (links + 1,).
        tape_lbf_per_in: tape load at the end of the wrap.
        link_in: length of a link.
    """

    peak_per_in: Array
    loaded_in: Array
    in_contact: Array
    tape_lbf_per_in: float
    link_in: float


def roll_chain(
    table: SectionTable, setup: RollSetup, *, steps: int | None = None, memory: bool = True
) -> RolledStrip:
    """Roll a strip step by step and keep the largest curvature each point has seen.

    With ``memory`` a point that the lift-off line has bent sharper than the tool relaxes elastically
    behind it, as it does in the sheet; that gives the shape, and a tape load that is a little low.
    Without, every point follows the first curve both ways, and the tape load is a little high.

    Args:
        table: one sheet (m = 1).
        setup: tool, tape, lengths.
        steps: load steps; about one a degree when left out (a dozen without memory).
        memory: keep the largest curvature.

    Raises:
        OutOfRangeError: a length or stiffness that is not positive, or a wrap over 300 degrees.
        FormingError: no balance was found.
        OutsideTableError: the sheet would be strained beyond its table.
    """
    _refuse(setup)
    thickness = float(table.thickness_in[0])
    pitch_radius = setup.tool_radius_in + 0.5 * thickness
    length = setup.overhang_in + pitch_radius * setup.wrap_rad + setup.held_in
    links = int(np.clip(np.ceil(length / (thickness / LINKS_PER_THICKNESS)), 60, 260))
    ds = length / links
    law = _HingeLaw(table, links, memory)
    problem = _Problem(setup, table, pitch_radius, length, links, ds)
    angle = np.zeros(links)
    degrees = float(np.degrees(setup.wrap_rad))
    count = steps or max(16, int(np.ceil(degrees * (0.8 if memory else 0.2))))
    done, step = 0.0, 1.0 / count
    while done < 1.0 - 1e-12:
        part = min(1.0, done + step)
        solved = problem.solve(angle, part * setup.wrap_rad, law)
        if solved is None:
            step *= 0.5
            if step < 1e-5:
                raise FormingError(
                    "roll",
                    because="no balance of sheet, tape and tool was found",
                    mend="hold the sheet farther from the tool, or use a larger tool",
                )
            continue
        angle = solved
        law.remember(problem.curvature(angle))
        problem.stretch(angle, part * setup.wrap_rad)
        done = part
        step = min(step * 1.5, 1.0 / count)
    for _ in range(3):  # lengths and forces agree at the end
        again = problem.solve(angle, setup.wrap_rad, law)
        angle = angle if again is None else again
        law.remember(problem.curvature(angle))
        problem.stretch(angle, setup.wrap_rad)
    points = problem.points(angle)
    gap = np.hypot(*(points - problem.centre(setup.wrap_rad)).T) - problem.standoff
    return RolledStrip(
        peak_per_in=law.peak.copy(),
        loaded_in=points,
        in_contact=gap < 0.0,
        tape_lbf_per_in=problem.tape_load(angle, setup.wrap_rad),
        link_in=ds,
    )


def released_profile_in(curvature: Array, *, link_in: float) -> Array:
    """Middle line of a strip of hinges from its held end: shape (links + 1, 2), x towards the free edge < 0.

    Args:
        curvature: at each hinge, held end first.
        link_in: length of a link.
    """
    weights = np.full(curvature.size, link_in)
    weights[0] = 0.5 * link_in
    angle = np.cumsum(curvature * weights)
    out = np.zeros((curvature.size + 1, 2))
    out[1:, 0] = np.cumsum(-np.cos(angle) * link_in)
    out[1:, 1] = np.cumsum(np.sin(angle) * link_in)
    return out


def released_curvature_per_in(table: SectionTable, strip: RolledStrip, *, masing: bool) -> Array:
    """Curvature left at each hinge when tape and tool are gone.

    ``masing`` takes the Masing rule, else elastic release (isotropic hardening in plain sheet).
    """
    peak = np.maximum(strip.peak_per_in, 0.0)
    if masing:
        return np.asarray(release_masing_per_in(table, peak)[0])
    return np.asarray(peak - moment_lbf(table, peak)[0] / table.stiffness_lbf_in[0])


class _HingeLaw:
    """Moment of each hinge with its history: virgin curve, elastic below the largest curvature reached."""

    def __init__(self, table: SectionTable, links: int, memory: bool) -> None:
        self.table = table
        self.memory = memory
        self.stiffness = float(table.stiffness_lbf_in[0])
        self.peak = np.zeros(links)
        self.set = np.zeros(links)
        top = float(np.exp(table.log_curvature[0, -1]))
        self._k = np.concatenate(([0.0], np.exp(table.log_curvature[0])))
        self._m = np.concatenate(([0.0], np.exp(table.log_moment[0])))
        self.top = top

    def moment(self, curvature: Array) -> tuple[Array, Array]:
        """Moment and tangent stiffness."""
        size = np.clip(np.abs(curvature), 0.0, self.top)
        at = np.clip(np.searchsorted(self._k, size, side="right") - 1, 0, self._k.size - 2)
        slope = (self._m[at + 1] - self._m[at]) / (self._k[at + 1] - self._k[at])
        virgin = np.copysign(self._m[at] + slope * (size - self._k[at]), curvature)
        elastic = self.stiffness * (curvature - self.set)
        back = (curvature < self.peak) & (elastic > virgin - 2.0 * np.abs(virgin) - 1e-9)
        back &= self.set > 0.0
        return np.where(back, elastic, virgin), np.where(back, self.stiffness, slope)

    def remember(self, curvature: Array) -> None:
        more = curvature > self.peak
        if bool(np.any(more)):
            self.peak = np.where(more, curvature, self.peak)
            if not self.memory:
                return
            left = self.peak - moment_lbf(self.table, np.maximum(self.peak, 0.0))[0] / self.stiffness
            self.set = np.where(left > 1e-9 * self.top, left, 0.0)


class _Problem:
    """Geometry, forces and stiffness of the chain; node 0 is held, links turn towards the free edge."""

    def __init__(
        self, setup: RollSetup, table: SectionTable, pitch_radius: float, length: float, links: int, ds: float
    ) -> None:
        self.setup, self.rho, self.length, self.links, self.ds = setup, pitch_radius, length, links, ds
        thickness = self.t = float(table.thickness_in[0])
        self.axial_lbf_per_in = float(table.core.modulus_psi[0]) * thickness
        self.link = np.full(links, ds)
        # bending thins the outer half and thickens the inner: the middle material line moves out by k t^2 / 8
        self.standoff = pitch_radius + thickness**2 / (8.0 * pitch_radius)
        self.hinge = np.full(links, ds)
        self.hinge[0] = 0.5 * ds
        # tape: from the lower corner of the edge to the far tangent point of the tool, tight at the start
        corner = np.array([-length, -0.5 * thickness])
        to_centre = self.centre(0.0) - corner
        reach = float(np.hypot(*to_centre))
        self.free_tape = float(np.sqrt(reach**2 - setup.tool_radius_in**2))
        half = np.arcsin(setup.tool_radius_in / reach)
        base = np.arctan2(to_centre[1], to_centre[0]) + half
        anchor = corner + self.free_tape * np.array([np.cos(base), np.sin(base)])
        self.anchor_arm = anchor - self.centre(0.0)

    def centre(self, turned: float) -> Array:
        return np.array([-self.length + self.setup.overhang_in + self.rho * turned, self.rho])

    def anchor(self, turned: float) -> Array:
        c, s = np.cos(turned), np.sin(turned)
        # the tool rolls towards the held part, so it turns clockwise seen with that part on the right
        x, y = self.anchor_arm
        return self.centre(turned) + np.array([c * x + s * y, -s * x + c * y])

    def points(self, angle: Array) -> Array:
        out = np.zeros((self.links + 1, 2))
        out[1:, 0] = np.cumsum(-np.cos(angle) * self.link)
        out[1:, 1] = np.cumsum(np.sin(angle) * self.link)
        return out

    def stretch(self, angle: Array, turned: float) -> None:
        """Lengthen the links by bending (the middle line lies outside the neutral one) and by pull."""
        _, _, _, _, _, _, force, along, _, load = self._residual(angle, turned, None)
        beyond = np.cumsum(force[::-1], axis=0)[::-1][1:] + along * load
        pull = -(beyond[:, 0] * -np.cos(angle) + beyond[:, 1] * np.sin(angle))
        bent = (self.curvature(angle) * self.t) ** 2 / 8.0
        self.link = self.ds * (1.0 + bent + pull / self.axial_lbf_per_in)

    def curvature(self, angle: Array) -> Array:
        return np.asarray(np.diff(angle, prepend=0.0) / self.hinge)

    def _corner(self, angle: Array, points: Array) -> Array:
        last = angle[-1]
        return np.asarray(points[-1] - 0.5 * self.t * np.array([np.sin(last), np.cos(last)]))

    def tape_load(self, angle: Array, turned: float) -> float:
        reach = self._corner(angle, self.points(angle)) - self.anchor(turned)
        return self.setup.tape_lbf_per_in2 * max(0.0, float(np.hypot(*reach)) - self.free_tape)

    def _residual(
        self, angle: Array, turned: float, law: _HingeLaw | None
    ) -> tuple[Array, Array, Array, Array, Array, Array, Array, Array, float, float]:
        points = self.points(angle)
        moment, tangent = law.moment(self.curvature(angle)) if law else (angle, angle)
        from_centre = points - self.centre(turned)
        reach = np.hypot(from_centre[:, 0], from_centre[:, 1])
        normal = from_centre / reach[:, None]
        stiff = self.setup.contact_lbf_per_in3 * self.ds
        depth = np.maximum(self.standoff - reach, 0.0)
        depth[0] = 0.0
        force = -stiff * depth[:, None] * normal  # gradient of the contact energy
        pull = self._corner(angle, points) - self.anchor(turned)
        span = float(np.hypot(*pull))
        along = pull / span
        load = self.setup.tape_lbf_per_in2 * max(0.0, span - self.free_tape)
        return points, moment, tangent, normal, reach, depth, force, along, span, load

    def solve(self, start: Array, turned: float, law: _HingeLaw) -> Array | None:
        """Newton from ``start``; None when it does not settle."""
        angle = start.copy()
        n = self.links
        index = np.arange(n)
        scale = float(law._m[-1])
        tape, stiff = self.setup.tape_lbf_per_in2, self.setup.contact_lbf_per_in3 * self.ds
        for _ in range(NEWTON_LIMIT):
            _, moment, tangent, normal, reach, depth, force, along, span, load = self._residual(
                angle, turned, law
            )
            u = np.stack([np.sin(angle), np.cos(angle)], axis=1) * self.link[:, None]
            v = np.stack([np.cos(angle), -np.sin(angle)], axis=1) * self.link[:, None]
            tail_force = np.cumsum(force[::-1], axis=0)[::-1][1:]  # nodes beyond each link
            corner_u = u.copy()
            corner_u[-1] -= 0.5 * self.t * np.array([np.cos(angle[-1]), -np.sin(angle[-1])])
            corner_v = v.copy()
            corner_v[-1] += 0.5 * self.t * np.array([np.sin(angle[-1]), np.cos(angle[-1])])
            gradient = moment - np.append(moment[1:], 0.0)
            gradient += np.sum(u * tail_force, axis=1) + corner_u @ along * load
            if float(np.max(np.abs(gradient))) < 1e-7 * scale:
                return angle
            touching = (depth > 0.0).astype(np.float64)
            normal_part = touching * stiff
            bend = touching * stiff * depth / reach
            block = normal_part[:, None, None] * normal[:, :, None] * normal[:, None, :] - bend[
                :, None, None
            ] * (np.eye(2) - normal[:, :, None] * normal[:, None, :])
            sums = np.cumsum(block[::-1], axis=0)[::-1][1:]
            # what lies beyond both links resists: only the farther link's sum counts
            upper = np.triu(u @ np.einsum("kab,kb->ka", sums, u).T)
            hessian = upper + np.triu(upper, 1).T
            side = np.array([-along[1], along[0]])
            if load > 0.0:
                cu, cs = corner_u @ along, corner_u @ side
                hessian += tape * np.outer(cu, cu) + load / span * np.outer(cs, cs)
            h = tangent / self.hinge
            hessian[index, index] += h + np.append(h[1:], 0.0)
            hessian[index[1:], index[:-1]] -= h[1:]
            hessian[index[:-1], index[1:]] -= h[1:]
            hessian[index, index] += np.sum(v * tail_force, axis=1) + corner_v @ along * load
            try:
                move = np.linalg.solve(hessian, -gradient)
            except np.linalg.LinAlgError:
                return None
            largest = float(np.max(np.abs(move)))
            if not np.isfinite(largest):
                return None
            move *= min(1.0, 0.1 / largest)
            best = float(np.linalg.norm(gradient))
            factor = 1.0
            for _ in range(8):
                trial = angle + factor * move
                if self._norm(trial, turned, law) < best * (1.0 - 1e-3 * factor):
                    break
                factor *= 0.5
            angle = angle + factor * move
        return None

    def _norm(self, angle: Array, turned: float, law: _HingeLaw) -> float:
        _, moment, _, _, _, _, force, along, _, load = self._residual(angle, turned, law)
        u = np.stack([np.sin(angle), np.cos(angle)], axis=1) * self.link[:, None]
        tail_force = np.cumsum(force[::-1], axis=0)[::-1][1:]
        corner_u = u.copy()
        corner_u[-1] -= 0.5 * self.t * np.array([np.cos(angle[-1]), -np.sin(angle[-1])])
        gradient = moment - np.append(moment[1:], 0.0)
        gradient += np.sum(u * tail_force, axis=1) + corner_u @ along * load
        return float(np.linalg.norm(gradient))


def _refuse(setup: RollSetup) -> None:
    for field, value, low, high in (
        ("tool radius", setup.tool_radius_in, 0.02, 20.0),
        ("wrap", setup.wrap_rad, 1e-3, np.radians(300.0)),
        ("overhang", setup.overhang_in, 1e-3, 20.0),
        ("tape stiffness", setup.tape_lbf_per_in2, 1e-3, 1e8),
        ("held distance", setup.held_in, 1e-3, 40.0),
        ("contact stiffness", setup.contact_lbf_per_in3, 1.0, 1e9),
    ):
        if not low <= value <= high:
            raise OutOfRangeError(field, found=f"{value:g}", allowed=f"{low:g} to {high:g}")
