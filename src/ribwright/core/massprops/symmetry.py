"""Symmetry by measured points: the centreline fitted by least squares, and every pair held against the rest.

Each pair is compared with the centreline of everything else, so that one bad corner does not pull the
line it is judged by. Equations: docs/physics/massprops.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.angles import fitted
from ribwright.core.massprops.chord import arm_field
from ribwright.core.massprops.rigging_picture import symmetry_picture
from ribwright.core.massprops.unpublished import say_unpublished
from ribwright.core.units import Quantity, number_text, shown
from ribwright.errors import GeometryError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pair:
    """The same point on both sides, plumbed to the floor."""

    name: str = text("Pair", help="the point that both sides have", example="wing tip, rear corner")
    left_aft: Quantity = arm_field("Left, aft", help="along the chalk line", example="110.2")
    left_out: Quantity = quantity(
        "in", "Left, out", help="square from the chalk line, to the left", example="163.9", low="0 in", high="1000 in"
    )  # fmt: skip
    right_aft: Quantity = arm_field("Right, aft", help="along the chalk line", example="110.4")
    right_out: Quantity = quantity(
        "in", "Right, out", help="square from the chalk line, to the right", example="164.1", low="0 in", high="1000 in"
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.left_out.value + self.right_out.value < 2:
            raise GeometryError(
                f"Pair {self.name}", found="both points on the chalk line", allowed="points well apart, left and right",
                mend="Take the tips of wing and tailplane.",
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Centre:
    """A point that lies on the centreline: spinner, tail post."""

    name: str = text("Point", help="on the centreline", example="tail post")
    aft: Quantity = arm_field("Aft", help="along the chalk line", example="230")
    right: Quantity = arm_field(
        "To the right", help="square from the chalk line, left negative", example="0.1"
    )


@dataclass(frozen=True, slots=True)
class Symmetry:
    """Points of the levelled aeroplane on the floor."""

    title: str = text("Aeroplane", help="which one", example="Dunlin", default="")
    drawing: str = text("Drawing number", help="that gives the tolerance", example="DN-0000", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    pairs: tuple[Pair, ...] = rows(Pair, "Pairs", help="left and right of each point", least=1)
    centres: tuple[Centre, ...] = rows(Centre, "Points on the centreline", help="spinner, tail post")
    point_u: Quantity = quantity(
        "in", "Point, plus or minus", help="of one measure, plumb line and tape", example="0.1", low="0.005 in", high="5 in", default="0.12 in"
    )  # fmt: skip
    aside: Quantity | None = quantity(
        "in", "Sideways by at most", help="the designer's, middle of a pair off the centreline", example="0.5", low="0.01 in", high="20 in", optional=True
    )  # fmt: skip
    skew: Quantity | None = quantity(
        "in", "One side ahead by at most", help="the designer's", example="0.5", low="0.01 in", high="20 in", optional=True
    )  # fmt: skip

    def __post_init__(self) -> None:
        if len(self.pairs) < 2 and len(self.centres) < 2:
            raise GeometryError(
                "Points on the centreline", found=f"{len(self.pairs)} pair and {len(self.centres)} points", allowed="two pairs, or two points on the centreline",
                because="each pair is held against the others", mend="Measure the tailplane too, or spinner and tail post.",
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Equations:
    """Linear in the centreline's offset and slope; one row a measure, with the pair or point that it came from."""

    design: Floats
    observed: Floats
    u: Floats
    owner: NDArray[np.int64]


def equations(spec: Symmetry) -> Equations:
    """Middles of pairs and centre points lie on ``y = a + b x``; the line through a pair stands square to it."""
    u = spec.point_u.value
    rows_: list[tuple[float, float, float, float, int]] = []
    for k, p in enumerate(spec.pairs):
        aft, across = (
            (p.left_aft.value + p.right_aft.value) / 2,
            (p.right_out.value - p.left_out.value) / 2,
        )
        wide = p.left_out.value + p.right_out.value
        rows_.append((1.0, aft, across, u / 2**0.5, k))
        rows_.append((0.0, -wide, p.right_aft.value - p.left_aft.value, u * 2**0.5, k))
    for k, c in enumerate(spec.centres, start=len(spec.pairs)):
        rows_.append((1.0, c.aft.value, c.right.value, u, k))
    table = np.array([row[:4] for row in rows_])
    return Equations(table[:, :2], table[:, 2], table[:, 3], np.array([row[4] for row in rows_]))


@calculation(
    "symmetry",
    title="Symmetry by measured points",
    summary="Centreline by least squares from points on the floor; each pair's offset and skew with its band.",
    spec=Symmetry,
    results=("centreline_angle", "centreline_offset", "aside", "ahead", "bands", "worst_pair", "scatter"),
)
def symmetry(spec: Symmetry, ws: Worksheet) -> Outcome:
    """Fit the centreline, then judge every pair by the line of all the others."""
    made = equations(spec)
    line, cov = fitted(made.design, made.observed, u=made.u)
    left_over = (made.observed - made.design @ line) / made.u
    freedom = len(made.observed) - 2
    scatter = float(np.sqrt((left_over**2).sum() / freedom)) * 2 if freedom > 0 else 0.0
    # scatter is in half-widths of the band, that is in two sigma: well above one says the tape is worse than stated
    ws.worked_out(
        "centreline", f"{number_text(float(line[0]), 2)} in to the right at the datum, turned {number_text(float(np.degrees(np.arctan(line[1]))), 3)}°",
        f"least squares through {len(spec.pairs)} pairs and {len(spec.centres)} points",
    )  # fmt: skip
    findings: list[Finding] = []
    requirements: list[Requirement] = []
    aside: list[float] = []
    ahead: list[float] = []
    bands: list[float] = []
    for k, pair in enumerate(spec.pairs):
        (off, u_off), (skew, u_skew) = held_against_the_rest(made, k)
        aside.append(off)
        ahead.append(skew)
        bands += [u_off, u_skew]
        for name, limit, value, u in (
            ("middle off the centreline", spec.aside, off, u_off),
            ("one side ahead of the other", spec.skew, skew, u_skew),
        ):
            ws.worked_out(f"{pair.name}, {name}", f"{shown(value, 'in', places=2)} ± {number_text(u, 2)} in", "against the line of all others", value=value, unit="in")  # fmt: skip
            if limit is not None:
                needed = Requirement(
                    name=name, unit="in", low=-limit.value, nominal=0.0, high=limit.value,
                    because=Because.drawing(spec.drawing, spec.revision, "symmetry as drawn"), how="plumb and measure that pair again, then the others",
                    when_low="Measure it again; if it stays, ask the designer before anything is drilled.",
                    when_high="Measure it again; if it stays, ask the designer before anything is drilled.",
                )  # fmt: skip
                requirements.append(needed)
                findings.append(compare(needed, Reading(value, "in", u, where=pair.name)))
    if not findings:
        ws.note("No tolerance entered, so nothing is judged: it comes from the designer's drawing.")
    if scatter > 2:
        ws.note(
            "The points scatter more than their bands allow: one was measured wrong, or the aeroplane is not straight."
        )
    worst = int(
        np.argmax(
            [abs(a) / bands[2 * k] + abs(s) / bands[2 * k + 1] for k, (a, s) in enumerate(zip(aside, ahead, strict=True))]
        )
    )  # fmt: skip
    angle, u_angle = float(np.degrees(np.arctan(line[1]))), float(np.degrees(np.sqrt(cov[1, 1])))
    offset, u_offset = float(line[0]), float(np.sqrt(cov[0, 0]))
    results = {
        "centreline_angle": Result("centreline turned from the chalk line", angle, "deg", angle - u_angle, angle + u_angle, 3),
        "centreline_offset": Result("centreline right of the chalk line at the datum", offset, "in", offset - u_offset, offset + u_offset, 2),
        "aside": Result("middle of each pair to the right of it", tuple(aside), "in", places=2),
        "ahead": Result("right side farther aft, each pair", tuple(ahead), "in", places=2),
        "bands": Result("bands: sideways, aft, pair by pair", tuple(bands), "in", places=2),
        "worst_pair": Result("farthest off for its band", spec.pairs[worst].name),
        "scatter": Result("scatter of all points, in their own bands", scatter / 2, "", places=2),
    }  # fmt: skip
    say_unpublished(ws, "the fitted centreline and the pairs' offsets are")
    cautions = (
        "Level both ways, chalk line under the fuselage, plumb lines still; measure square from the chalk line.",
        *CAUTIONS,
    )
    picture = symmetry_picture(spec, offset, float(line[1]))
    return Outcome(tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions, picture=picture)


def held_against_the_rest(made: Equations, k: int) -> tuple[tuple[float, float], tuple[float, float]]:
    """Sideways offset and skew of pair ``k`` against the line of all others, each with its half-width."""
    mine = made.owner == k
    line, cov = fitted(made.design[~mine], made.observed[~mine], u=made.u[~mine])
    off = made.observed[mine] - made.design[mine] @ line
    spread = np.einsum("ij,jk,ik->i", made.design[mine], cov, made.design[mine])
    u = np.sqrt(made.u[mine] ** 2 + spread)
    return (float(off[0]), float(u[0])), (float(off[1]), float(u[1]))
