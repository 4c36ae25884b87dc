"""A group of fasteners loaded off its middle: elastic by the polar moment, plastic by the instantaneous centre."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, flag, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Reading, Requirement, compare
from ribwright.core.scene import Circle, Item, Leader, Line, Scene, Text
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, OutOfRangeError

Floats = NDArray[np.float64]


def elastic_group_lbf(
    *, points_in: ArrayLike, capacities_lbf: ArrayLike, force_lbf: ArrayLike, at_in: ArrayLike
) -> Floats:
    """Force on each fastener of a stiff plate, shape (n, 2): direct share plus share of the moment.

    Stiffness goes with capacity, so equal fasteners share as their polar moment says.

    Args:
        points_in: centres, shape (n, 2).
        capacities_lbf: shape (n,).
        force_lbf: (x, y) of the load.
        at_in: any point on the load's line.
    """
    p, w = np.asarray(points_in, float), np.asarray(capacities_lbf, float)
    force, at = np.asarray(force_lbf, float), np.asarray(at_in, float)
    middle = (w[:, None] * p).sum(0) / w.sum()
    r = p - middle
    moment = (at - middle)[0] * force[1] - (at - middle)[1] * force[0]
    polar = (w * (r**2).sum(1)).sum()
    turned = np.stack([-r[:, 1], r[:, 0]], axis=1) * w[:, None]
    turn = turned * (moment / polar) if polar > 0 else np.zeros_like(turned)
    return w[:, None] * force / w.sum() + turn


def plastic_group_factor(
    *, points_in: ArrayLike, capacities_lbf: ArrayLike, force_lbf: ArrayLike, at_in: ArrayLike
) -> tuple[float, tuple[float, float] | None]:
    """By what factor the load can grow until every fastener yields, and the instantaneous centre (None: at infinity).

    Upper bound of plastic theory: over all centres, the least ratio of what the fasteners hold to what the
    load brings; it is exact because the work function is convex in the motion (x, y, turn).
    """
    p, w = np.asarray(points_in, float), np.asarray(capacities_lbf, float)
    force, at = np.asarray(force_lbf, float), np.asarray(at_in, float)
    size = max(float(np.ptp(p, axis=0).max()), 1e-6)
    middle = p.mean(0)
    q, a = (p - middle) / size, (at - middle) / size
    moment = a[0] * force[1] - a[1] * force[0]
    goal = np.array([force[0], force[1], moment])
    # minimise sum w |v + turn x q| over motions m with goal . m = 1, by reweighted least squares
    motion = goal / (goal @ goal)
    rows_x = np.stack([np.ones(len(q)), np.zeros(len(q)), -q[:, 1]], axis=1)
    rows_y = np.stack([np.zeros(len(q)), np.ones(len(q)), q[:, 0]], axis=1)
    soft = 1.0
    for _ in range(400):
        speed = np.hypot(rows_x @ motion, rows_y @ motion)
        soft = max(soft * 0.8, 1e-13)
        weight = w / np.sqrt(speed**2 + (soft * max(speed.max(), 1e-12)) ** 2)
        matrix = (rows_x * weight[:, None]).T @ rows_x + (rows_y * weight[:, None]).T @ rows_y
        matrix += np.eye(3) * 1e-14 * np.trace(matrix)
        step = np.linalg.solve(matrix, goal)
        motion = step / (goal @ step)
    speed = np.hypot(rows_x @ motion, rows_y @ motion)
    factor = float((w * speed).sum())
    vx, vy, turn = motion
    if abs(turn) * 1e6 < math.hypot(vx, vy):
        return factor, None
    centre = np.array([-vy / turn, vx / turn]) * size + middle
    return factor, (float(centre[0]), float(centre[1]))


@dataclass(frozen=True, slots=True)
class Fastener:
    """One fastener of the group."""

    x: Quantity = quantity(
        "in", "x", help="to the right of the part's corner", example="0 in", low="-500 in", high="500 in"
    )
    y: Quantity = quantity(
        "in", "y", help="up from the part's corner", example="0 in", low="-500 in", high="500 in"
    )
    capacity: Quantity = quantity(
        "lbf", "Carries", help="least of shear and bearing of this fastener", example="388 lb", low="0.1 lbf", high="100000 lbf"
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Group:
    """Fasteners in one plane and a load in that plane."""

    title: str = text("Group", help="what is held", example="aileron hinge bracket")
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    fasteners: tuple[Fastener, ...] = rows(
        Fastener, "Fasteners", help="every one that shares the load", least=1
    )
    load_x: Quantity = quantity("lbf", "Load, to the right", help="ultimate", example="0 lb", low="-1000000 lbf", high="1000000 lbf", default="0 lbf")  # fmt: skip
    load_y: Quantity = quantity("lbf", "Load, up", help="ultimate", example="-400 lb", low="-1000000 lbf", high="1000000 lbf", default="0 lbf")  # fmt: skip
    at_x: Quantity = quantity(
        "in", "Load acts at, x", help="any point on its line", example="6 in", low="-5000 in", high="5000 in"
    )
    at_y: Quantity = quantity(
        "in", "Load acts at, y", help="any point on its line", example="0 in", low="-5000 in", high="5000 in"
    )

    def __post_init__(self) -> None:
        if math.hypot(self.load_x.value, self.load_y.value) < 1e-9:
            raise OutOfRangeError(
                "Load",
                found="0 lbf",
                allowed="a load that is not zero",
                mend="Enter the load to the right or up.",
            )
        places = {(round(f.x.value, 6), round(f.y.value, 6)) for f in self.fasteners}
        if len(places) != len(self.fasteners):
            raise GeometryError(
                "Fasteners",
                found="two at the same place",
                allowed="each place once",
                mend="Remove one of the two rows.",
            )


@calculation(
    "fastener-group",
    title="Fastener group loaded off its middle",
    summary="Load on every fastener of a group in its plane, elastic by the polar moment and plastic by the instantaneous centre.",
    spec=Group,
    results=(
        "weakest",
        "weakest_load",
        "weakest_use",
        "loads",
        "elastic_factor",
        "plastic_factor",
        "moment",
        "centre",
    ),
)
def fastener_group(spec: Group, ws: Worksheet) -> Outcome:
    """Loads, the weakest fastener, and how far the load may grow in both theories."""
    points = np.array([(f.x.value, f.y.value) for f in spec.fasteners])
    holds = np.array([f.capacity.value for f in spec.fasteners])
    force, at = np.array([spec.load_x.value, spec.load_y.value]), np.array([spec.at_x.value, spec.at_y.value])
    middle = (holds[:, None] * points).sum(0) / holds.sum()
    arm = at - middle
    moment = float(arm[0] * force[1] - arm[1] * force[0])
    if len(points) == 1 and abs(moment) > 1e-6 * np.hypot(*force):
        raise GeometryError(
            "Fasteners", found="one, and a load that does not pass through it", allowed="two or more",
            mend="One fastener can't hold a moment: enter all of them or correct the load's line.",
        )  # fmt: skip
    ws.worked_out(
        "middle of the group",
        f"x {middle[0]:.3f} in, y {middle[1]:.3f} in",
        "centroid weighted with what each carries",
    )
    ws.worked_out("moment about it", f"{moment:.1f} lb·in", "arm times load", value=moment, unit="lb·in")
    each = elastic_group_lbf(points_in=points, capacities_lbf=holds, force_lbf=force, at_in=at)
    loads = np.hypot(each[:, 0], each[:, 1])
    use = loads / holds
    worst = int(use.argmax())
    elastic = float(1 / use[worst])
    plastic, centre = plastic_group_factor(points_in=points, capacities_lbf=holds, force_lbf=force, at_in=at)
    plastic = max(plastic, elastic)
    ws.worked_out("weakest fastener, elastic", f"no. {worst + 1}: {loads[worst]:.1f} lbf of {holds[worst]:.1f}", "direct share and share of the moment added as vectors", value=float(loads[worst]), unit="lbf")  # fmt: skip
    ws.worked_out(
        "load may grow, elastic",
        f"{elastic:.3f} times",
        "until the weakest reaches what it carries",
        value=elastic,
    )
    ws.worked_out("load may grow, plastic", f"{plastic:.3f} times", "until all yield, turning about the instantaneous centre; needs ductile fasteners and full edge distance", value=plastic)  # fmt: skip
    enough = Requirement(
        name="what the load may grow by, elastic", unit="", low=1.0, nominal=None, high=None,
        because=Because.worked_out("the weakest fastener carries its share"), how="this worksheet",
        when_low="Ask the designer: the weakest fastener is over what it carries.", when_high="Go on.", refer_low=1.0,
    )  # fmt: skip
    results = {
        "weakest": Result("weakest fastener", float(worst + 1), "", places=0),
        "weakest_load": Result("load on it", float(loads[worst]), "lbf"),
        "weakest_use": Result("of what it carries", 100 * float(use[worst]), "%"),
        "loads": Result("load on each", tuple(float(x) for x in loads), "lbf"),
        "elastic_factor": Result("load may grow, elastic", elastic, "", places=3),
        "plastic_factor": Result("load may grow, plastic", plastic, "", places=3),
        "moment": Result("moment about the middle", moment, "lb·in"),
        "centre": Result("turns about, plastic", "infinity: it slides" if centre is None else f"x {centre[0]:.3f} in, y {centre[1]:.3f} in"),
    }  # fmt: skip
    cautions = (
        *(("Primary structure: numbers for the question to the designer; nothing is proposed.",) if spec.primary else ()),
        "The plate is taken as stiff and the fasteners as equal in kind.", *CAUTIONS,
    )  # fmt: skip
    finding = compare(enough, Reading(elastic, "", where=f"fastener {worst + 1}"))
    return Outcome(
        tuple(ws.steps), results, (enough,), (finding,), cautions, _picture(spec, points, each, worst)
    )


def _picture(spec: Group, points: Floats, each: Floats, worst: int) -> Scene:
    span = max(float(np.ptp(points, axis=0).max()), 0.5)
    k = 4.0 / span
    p = (points - points.min(0)) * k
    arrow = 1.2 / max(float(np.hypot(each[:, 0], each[:, 1]).max()), 1e-9)
    items: list[Item] = []
    said: list[str] = []
    for n, ((x, y), f) in enumerate(zip(p, each, strict=True)):
        items.append(Circle((float(x), float(y)), 0.14, "heavy" if n == worst else "outline"))
        tip = (float(x + f[0] * arrow), float(y + f[1] * arrow))
        items.append(Line((float(x), float(y)), tip, "thin"))
        items.append(Text((float(x) + 0.2, float(y) + 0.12), f"{n + 1}", 0.14))
        said.append(f"{n + 1}: {math.hypot(*f):.0f} lbf")
    x, y = (float(v) for v in p[worst])
    items.append(Leader((x, y), (x + 0.8, y - 0.9), "weakest", 0.14))
    return Scene(
        tuple(items),
        f"Load on each fastener: {spec.title}",
        f"Elastic load on each fastener: {', '.join(said[:60])}. Weakest: {worst + 1}.",
    )
