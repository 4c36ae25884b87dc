"""Weight and CG while it is built: what is in place, what it will come to, against the designer's range."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from sys import intern
from typing import Any

import numpy as np

from ribwright.core.audit import form_to_raw, read
from ribwright.core.bench import Finding
from ribwright.core.massprops.buildup_picture import buildup_picture
from ribwright.core.massprops.chord import empty_cg_finding
from ribwright.core.massprops.designer import DesignerRange, empty_weight_finding, usual_empty_lb
from ribwright.core.massprops.estimate import Estimate, Mass, estimated
from ribwright.core.massprops.moments import percent_mac
from ribwright.core.scene import Scene
from ribwright.core.units import parse
from ribwright.errors import ConflictError, InputError, MissingError, OutOfRangeError
from ribwright.services.airframe import newest_aircraft, of_other_aircraft
from ribwright.services.bench import finished_stages
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries, get_object, objects, readings, set_object
from ribwright.services.remembered import of_each, until_the_record_moves
from ribwright.store.objects import StoredObject

SETTING = "WEIGHT"
WEIGHT, ARM = "weight", "arm"
"""Requirements of the readings on a part that say what it weighs and where its CG sits."""
PUT_IN = ("rivet", "install", "close")
"""Stages that leave the parts of their operation in the aeroplane."""
WEIGH_NEXT = 12


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part of the list.

    Attributes:
        ref, title, assembly: of the part.
        estimate_lb, weighed_lb: ``None`` where there is none; one of them there is.
        u_lb: half-width of the band of its weight as entered.
        arm_in, u_arm_in: of its own CG, aft of the datum.
        in_place: an operation that lists it has finished riveting, installing or closing.
    """

    ref: str
    title: str
    assembly: str
    estimate_lb: float | None
    weighed_lb: float | None
    u_lb: float
    arm_in: float
    u_arm_in: float
    in_place: bool

    @property
    def weight_lb(self) -> float:
        """Weighed, else estimated."""
        return self.weighed_lb if self.weighed_lb is not None else self.estimate_lb or 0.0


@dataclass(frozen=True, slots=True)
class AssemblyWeight:
    """What the parts of an assembly weigh together, as entered."""

    ref: str
    title: str
    parts: int
    in_place: int
    weighed: int
    weight_lb: float


@dataclass(frozen=True, slots=True)
class WeightView:
    """The parts list summed up.

    Attributes:
        aircraft: which aeroplane, or "".
        range: the designer's figures.
        entered: the same as they were entered, for the form.
        lines: parts that count.
        unknown: parts without a weight or an arm, with why; they don't count.
        made: the sums, ``None`` while no part counts.
        assemblies: by reference.
        findings: forecast against the designer's limits.
        usual: what amateur-built aeroplanes of this design usually come to, lb.
        running_mac, forecast_mac: CG in % MAC.
        picture: forecast band and what is in place against the limits.
    """

    aircraft: str
    range: DesignerRange
    entered: Mapping[str, Any]
    lines: tuple[PartLine, ...]
    unknown: tuple[tuple[str, str, str], ...]
    made: Estimate | None
    assemblies: tuple[AssemblyWeight, ...]
    findings: tuple[Finding, ...]
    usual: tuple[float, float] | None
    running_mac: float | None
    forecast_mac: float | None
    picture: Scene | None

    @property
    def weighed(self) -> int:
        """How many parts were on a scale."""
        return sum(1 for line in self.lines if line.weighed_lb is not None)

    @property
    def in_place(self) -> int:
        """How many parts are in the aeroplane."""
        return sum(1 for line in self.lines if line.in_place)

    @property
    def weigh_next(self) -> tuple[PartLine, ...]:
        """Heaviest parts not weighed yet: those narrow the forecast most; those that can still be lifted first."""
        left = [line for line in self.lines if line.weighed_lb is None]
        return tuple(sorted(left, key=lambda p: (p.in_place, -p.weight_lb, p.ref))[:WEIGH_NEXT])


@until_the_record_moves
def weight_view(project: Project) -> WeightView:
    """Where weight and CG stand."""
    aircraft = newest_aircraft(project)
    entered = _entered(project, aircraft)
    limits = read(DesignerRange, entered)
    lines, unknown = _parts(project, aircraft, limits)
    made = _summed(lines, limits) if sum(line.weight_lb for line in lines) > 0 else None
    findings: list[Finding] = []
    if made is not None:
        mass = made.forecast
        findings += empty_weight_finding(mass.weight_lb, mass.u_weight_lb, limits.most)[1]
        findings += empty_cg_finding(mass.cg_in, mass.u_cg_in, limits.forward_limit, limits.aft_limit, "forecast")[1]  # fmt: skip
    title = aircraft.title if aircraft else project.name
    return WeightView(
        title, limits, entered, lines, unknown, made, _assemblies(project, lines), tuple(findings),
        usual_empty_lb(limits.designer.value) if limits.designer else None,
        _share(made.running if made else None, limits), _share(made.forecast if made else None, limits),
        buildup_picture(f"{title}, empty", made, tuple(None if q is None else q.value for q in (limits.designer, limits.most, limits.forward_limit, limits.aft_limit))) if made else None,  # type: ignore[arg-type]
    )  # fmt: skip


def set_range(
    project: Project, *, actor: Actor, request_id: str, form: Mapping[str, str] | None = None, raw: Mapping[str, Any] | None = None,
    seen_revision: int | None = None,
) -> StoredObject:  # fmt: skip
    """Enter the designer's figures; what is left out of ``raw`` stays.

    Args:
        form: as a page sends them, all fields of it; or
        raw: some of them by name.

    Raises:
        InputError, GeometryError: figures that can't be used, by name.
    """
    before = _entered(project, newest_aircraft(project))
    entered = form_to_raw(DesignerRange, form) if form is not None else {**before, **(raw or {})}
    read(DesignerRange, entered)
    data = {name: str(value) for name, value in entered.items() if str(value).strip()}
    return set_object(
        project, actor=actor, request_id=request_id, noun="setting", ref=SETTING, data=data, title="Empty weight: the designer's figures",
        seen_revision=seen_revision,
    )  # fmt: skip


def weigh_part(
    project: Project, *, actor: Actor, request_id: str, ref: str, weight: str = "", u: str = "", arm: str = "", arm_u: str = "",
    instrument: str = "",
) -> None:  # fmt: skip
    """Enter what a part weighs on a scale, where its CG sits, or both.

    Args:
        u: half-width of the band of the weight; "" takes the scale's own.
        arm: of its CG, from the datum, positive aft.
        arm_u: half-width of its band.

    Raises:
        UnknownNameError: no such object.
        ConflictError: it is no part.
        InputError: values that can't be; nothing entered.
    """
    one = get_object(project, ref.strip())
    if one.noun != "part":
        raise ConflictError(
            "Part",
            found=f"{ref}, a {one.noun}",
            allowed="a part",
            mend="Name the part that was on the scale.",
        )
    if not weight.strip() and not arm.strip():
        raise MissingError("Weight", allowed="a weight, an arm or both", mend="Enter what the scale shows.")
    items = []
    for name, said, band, unit, least, most in (
        (WEIGHT, weight, u, "lb", 0.0, 10_000.0), (ARM, arm, arm_u, "in", -1000.0, 1000.0),
    ):  # fmt: skip
        if not said.strip():
            continue
        field = f"{name} of {one.title or one.ref}"
        value = parse(said, unit, field=field)
        if not least <= value.to(unit) <= most or (name == WEIGHT and value.to(unit) == 0):
            raise OutOfRangeError(field, found=said, allowed=f"{least:g} to {most:g} {unit}")
        body = {"requirement": name, "value": value.text, "unit": unit, "stage": "", "instrument": instrument}
        if band.strip():
            good = parse(band, unit, field=f"{field}, plus or minus")
            if not 0 <= good.to(unit) <= 100:
                raise OutOfRangeError(f"{field}, plus or minus", found=band, allowed=f"0 to 100 {unit}")
            body["u"] = good.text
        items.append(NewEntry("reading", body, one.ref))
    add_entries(project, actor=actor, request_id=request_id, items=items)


def _entered(project: Project, aircraft: StoredObject | None) -> dict[str, Any]:
    """The designer's figures: as set, else what the aeroplane itself carries."""
    setting = next((one for one in objects(project, noun="setting") if one.ref == SETTING), None)
    if setting is not None:
        return dict(setting.data)
    own = aircraft.data if aircraft else {}
    named = (("designer", "empty_weight_lb"), ("lemac", "mac_leading_edge_in"), ("mac", "mac_in"))
    found = {name: str(own[key]) for name, key in named if own.get(key)}
    try:
        read(DesignerRange, found)
    except InputError:  # what a project's own aeroplane carries was never checked as these figures
        return {}
    return found


def _parts(
    project: Project, aircraft: StoredObject | None, limits: DesignerRange
) -> tuple[tuple[PartLine, ...], tuple[tuple[str, str, str], ...]]:
    others, done = of_other_aircraft(project), finished_stages(project)
    here = {
        part
        for ref, parts in _put_in(project).items()
        if any(f"{ref}/{stage}" in done for stage in PUT_IN)
        for part in parts
    }
    read_on: dict[tuple[str, str], dict[str, Any]] = {}
    for row in readings(project):
        if row["requirement"] in (WEIGHT, ARM):
            read_on[row["about"], row["requirement"]] = row
    lines, unknown = [], []
    for ref, part in _listed(project).items():
        if part.parent in others:
            continue
        try:
            lines.append(_line(ref, part, read_on, ref in here, limits))
        except InputError as wrong:
            unknown.append((ref, part.title, wrong.sentence()))
    return tuple(lines), tuple(unknown)


@dataclass(frozen=True, slots=True)
class _Listed:
    """A part as the drawing data list it; weight and arm as they were entered, "" where they were not."""

    title: str
    parent: str
    weight: str
    arm: str


@of_each("part")
def _listed(one: StoredObject) -> _Listed:
    """The parts of the project."""
    weight, arm = (str(one.data.get(name) or "") for name in ("weight_lb", "arm_in"))
    return _Listed(one.title, intern(one.parent), weight, intern(arm))


@of_each("operation")
def _put_in(one: StoredObject) -> tuple[str, ...] | None:
    """The parts that each operation leaves in the aeroplane once it is done."""
    return tuple(map(str, one.data.get("parts") or ())) or None


def _line(
    ref: str,
    part: _Listed,
    read_on: Mapping[tuple[str, str], Mapping[str, Any]],
    here: bool,
    limits: DesignerRange,
) -> PartLine:
    weighed, arm = read_on.get((ref, WEIGHT)), read_on.get((ref, ARM))
    estimate = _number(part.weight, "lb", "weight")
    on_scale = _number(weighed["value"], "lb", "weight") if weighed else None
    if estimate is None and on_scale is None:
        raise MissingError("Weight", mend="Weigh it, or enter what it should weigh.")
    if min(w for w in (estimate, on_scale) if w is not None) < 0:
        raise OutOfRangeError("Weight", found="less than nothing", allowed="0 lb or more")
    at = _number(arm["value"] if arm else part.arm, "in", "arm")
    if at is None:
        raise MissingError("Arm", mend="Measure where its CG sits from the datum.")
    return PartLine(
        ref, part.title, part.parent, estimate, on_scale,
        (_number(weighed["u"], "lb", "plus or minus") if weighed else None) or limits.scale_u.value, at,
        (_number(arm["u"], "in", "plus or minus") if arm else None) or limits.list_arm_u.value, here,
    )  # fmt: skip


def _number(text: object, unit: str, field: str) -> float | None:
    said = str(text or "").strip()
    return parse(said, unit, field=field).to(unit) if said else None


def _summed(lines: tuple[PartLine, ...], limits: DesignerRange) -> Estimate:
    def column(values: list[float | None]) -> list[float]:
        return [np.nan if value is None else value for value in values]

    return estimated(
        column([p.estimate_lb for p in lines]), column([p.weighed_lb for p in lines]),
        arm_in=[p.arm_in for p in lines], u_arm_in=[p.u_arm_in for p in lines], u_weighed_lb=[p.u_lb for p in lines],
        u_share=limits.estimate_u.value, here=[p.in_place for p in lines],
    )  # fmt: skip


def _share(mass: Mass | None, limits: DesignerRange) -> float | None:
    if mass is None or limits.lemac is None or limits.mac is None:
        return None
    return float(percent_mac(cg_in=mass.cg_in, lemac_in=limits.lemac.value, mac_in=limits.mac.value))


def _assemblies(project: Project, lines: tuple[PartLine, ...]) -> tuple[AssemblyWeight, ...]:
    titles = {one.ref: one.title for one in objects(project, noun="assembly")}
    made = []
    for ref in sorted({line.assembly for line in lines}):
        own = [line for line in lines if line.assembly == ref]
        made.append(
            AssemblyWeight(
                ref, titles.get(ref, ref), len(own), sum(p.in_place for p in own), sum(p.weighed_lb is not None for p in own),
                sum(p.weight_lb for p in own),
            )
        )  # fmt: skip
    return tuple(made)
