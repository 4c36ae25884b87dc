"""The round tools on hand, and what the sheet does on each of them.

A tool is anything round whose diameter was measured; turns of sheet or tape make it larger.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.forming.fibre import Array
from ribwright.core.forming.roll import polar_moment_in4, tail, tip_length_in
from ribwright.core.forming.section import curvature_per_in, moment_lbf, pick
from ribwright.core.forming.world import Fan, on_tool_per_in, release_of
from ribwright.errors import FormingError, OutOfRangeError, UnknownNameError

Rows = NDArray[np.intp]
SHARES = 65
SHEAR_MODULUS_PSI = {
    "PVC pipe": 1.45e5,
    "steel": 11.5e6,
    "aluminium": 3.8e6,
    "copper": 6.4e6,
    "hardwood": 1.0e5,
}
"""Working values from memory; hardwood across wide limits."""


@dataclass(frozen=True, slots=True)
class Tool:
    """A round tool.

    Attributes:
        name: as the builder calls it.
        outside_diameter_in: measured.
        inside_diameter_in: 0 for a solid bar.
        shear_modulus_psi: of its material.
        turns: turns of wrap on it (0 = bare).
        wrap_in: thickness of one turn.
    """

    name: str
    outside_diameter_in: float
    inside_diameter_in: float = 0.0
    shear_modulus_psi: float = 1.45e5
    turns: int = 0
    wrap_in: float = 0.0

    @property
    def radius_in(self) -> float:
        """Outside radius with its wrap."""
        return 0.5 * self.outside_diameter_in + self.turns * self.wrap_in

    @property
    def polar_in4(self) -> float:
        """Polar second moment of the tool alone; wrap carries no torque."""
        return float(
            polar_moment_in4(
                outside_diameter_in=self.outside_diameter_in, inside_diameter_in=self.inside_diameter_in
            )
        )


def shear_modulus_psi(material: str) -> float:
    """Working shear modulus of a tool's material.

    Raises:
        UnknownNameError: a material that is not listed.
    """
    if material not in SHEAR_MODULUS_PSI:
        raise UnknownNameError(
            "tool material",
            found=material,
            allowed=", ".join(SHEAR_MODULUS_PSI),
            mend="choose the nearest one; without it the tool's own twist can't be worked out",
        )
    return SHEAR_MODULUS_PSI[material]


def built_up(tools: tuple[Tool, ...], *, wrap_in: float, most_turns: int) -> tuple[Tool, ...]:
    """The tools bare and with 1 to ``most_turns`` turns of wrap, smallest first, near doubles left out."""
    out: list[Tool] = []
    for tool in tools:
        for turns in range(most_turns + 1 if wrap_in > 0.0 else 1):
            out.append(
                Tool(
                    tool.name,
                    tool.outside_diameter_in,
                    tool.inside_diameter_in,
                    tool.shear_modulus_psi,
                    turns,
                    wrap_in,
                )
            )
    out.sort(key=lambda tool: (tool.radius_in, tool.turns))
    kept: list[Tool] = []
    for tool in out:
        if kept and tool.radius_in - kept[-1].radius_in < 0.004:
            if tool.turns < kept[-1].turns:
                kept[-1] = tool
            continue
        kept.append(tool)
    return tuple(kept)


@dataclass(frozen=True, slots=True)
class OnTools:
    """What the sheets of a fan do on each tool; m sheets, T tools.

    Attributes:
        moment_lbf: to lie on the tool, shape (m, T).
        left_per_in: curvature left where it lay on the tool, shape (m, T).
        lag_rad, fall_in: where the working sheet leaves the tool and how its moment dies, shape (T,).
        table_per_in: curvature left against share of that moment, shape (m, T, SHARES).
        thickness_in: of the working sheet.
    """

    moment_lbf: Array
    left_per_in: Array
    lag_rad: Array
    fall_in: Array
    table_per_in: Array
    thickness_in: float


def on_tools(world: Fan, radii_in: Array, *, held_in: float, rows: Rows | None = None) -> OnTools:
    """Work out the tools once for a search.

    Args:
        world: the fan; row 0 is its middle.
        radii_in: outside radii, shape (T,).
        held_in: tool centre line to the held part when the roll ends.
        rows: which sheets of the fan (row 0 alone for a search, all for a band).

    Raises:
        OutOfRangeError: a radius or length that can't be.
        OutsideTableError: a tool so small that the sheet is strained beyond the tables.
    """
    radii = np.atleast_1d(np.asarray(radii_in, dtype=np.float64))
    if not bool(np.all((radii > 0.01) & (radii < 50.0))):
        raise OutOfRangeError("tool diameter", found=f"{2 * radii[0]:g} in", allowed="0.02 to 100 in")
    if not 0.05 <= held_in <= 20.0:
        raise OutOfRangeError("held distance", found=f"{held_in:g} in", allowed="0.05 to 20 in")
    part = world if rows is None else sheets_of(world, rows)
    k, moment = on_tool_per_in(part, radii)
    share = np.linspace(0.0, 1.0, SHARES)
    m, count = moment.shape
    loads = (moment[:, :, None] * share).reshape(m, -1)
    peak = curvature_per_in(part.table, loads)
    peak = peak.reshape(m, count, SHARES)
    peak[:, :, -1] = k
    left = release_of(part, peak.reshape(m, -1), loads).reshape(m, count, SHARES)
    # elastic shares leave nothing; rounding must not leave a trace
    left = np.where(left > 1e-6 * peak, left, 0.0)
    lag, fall = tail(
        pick(world.table, np.zeros(radii.size, dtype=np.intp)), tool_radius_in=radii, held_in=held_in
    )
    return OnTools(
        moment_lbf=moment,
        left_per_in=left[:, :, -1],
        lag_rad=lag,
        fall_in=fall,
        table_per_in=left,
        thickness_in=float(world.table.thickness_in[0]),
    )


def sheets_of(world: Fan, rows: Rows) -> Fan:
    """Some sheets of a fan."""
    at = np.asarray(rows, dtype=np.intp)
    return Fan(
        table=pick(world.table, at),
        yield_factor=world.yield_factor[at],
        overbend=world.overbend[at],
        softening=world.softening[at],
        bauschinger=world.bauschinger[at],
        layered_strain=world.layered_strain,
        layered_share=world.layered_share,
    )


def radius_for_in(world: Fan, *, inner_radius_in: float, rows: Rows | None = None) -> Array:
    """Tool radius that leaves a given inside radius, for each sheet of the fan; shape (m,).

    Raises:
        FormingError: even the sharpest bend of the tables springs back beyond it.
        OutOfRangeError: a radius that can't be.
    """
    if not 0.02 <= inner_radius_in <= 50.0:
        raise OutOfRangeError("inside radius", found=f"{inner_radius_in:g} in", allowed="0.02 to 50 in")
    part = world if rows is None else sheets_of(world, rows)
    t = part.table.thickness_in
    wanted = 1.0 / (inner_radius_in + 0.5 * t)
    sharp = 1.0 / (np.maximum(3.2 * t, 0.011) + 0.5 * t)
    over = _left(part, sharp) - wanted
    if bool(np.any(over < 0.0)):
        raise FormingError(
            "inside radius",
            because="no tool leaves so small a radius in this sheet",
            found=f"{inner_radius_in:g} in",
            allowed=f"from about {3.0 * float(t.max()):.3f} in",
            mend="use a larger radius or a thinner sheet",
        )
    gentle = 1.0 / (max(inner_radius_in, 0.03) + 0.5 * t)
    under = _left(part, gentle) - wanted
    side = np.zeros(t.size)
    # false position in the tool's curvature, in which the curvature left is nearly straight; an end that is
    # kept twice counts half (Illinois)
    for _ in range(60):
        span = over - under
        k = gentle - under * (sharp - gentle) / np.where(span > 0.0, span, 1.0)
        k = np.clip(k, np.minimum(gentle, sharp), np.maximum(gentle, sharp))
        miss = _left(part, k) - wanted
        above = miss > 0.0
        under = np.where(above, np.where(side > 0.0, 0.5 * under, under), miss)
        over = np.where(above, miss, np.where(side < 0.0, 0.5 * over, over))
        sharp, gentle = np.where(above, k, sharp), np.where(above, gentle, k)
        side = np.where(above, 1.0, -1.0)
        if float(np.max(np.abs(miss) / wanted)) < 1e-11:
            break
    return np.asarray(1.0 / k - 0.5 * t)


def _left(part: Fan, k: Array) -> Array:
    """Curvature left on a tool of a curvature, over-bend included; shape (m,)."""
    bent = ((1.0 + part.overbend) * k)[:, None]
    return release_of(part, bent, moment_lbf(part.table, bent))[:, 0]


def tips_in(moment_lbf: Array, radii_in: Array, tape_lbf_per_in: Array) -> Array:
    """Tip length for every tool and tape load; shape (..., T) with ``tape`` broadcast in front."""
    return tip_length_in(
        moment_lbf_in_per_in=moment_lbf, tool_radius_in=radii_in, tape_lbf_per_in=tape_lbf_per_in
    )
