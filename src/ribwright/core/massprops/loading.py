"""Stations against the envelope: this loading, the fuel burnt, and the worst of all loadings."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.chord import check_chord, chord_result, lemac_field, mac_field
from ribwright.core.massprops.envelope import Envelope, Worst, envelope, worst_loadings
from ribwright.core.massprops.loading_picture import loading_picture
from ribwright.core.massprops.moments import ballast_lb, cg_in, minimum_fuel_lb, moment_lb_in
from ribwright.core.tables import table
from ribwright.core.units import Quantity, number_text, shown
from ribwright.errors import GeometryError, OutOfRangeError

KINDS = ("occupant", "baggage", "fuel", "oil", "ballast")


@dataclass(frozen=True, slots=True)
class Station:
    """A place that carries load. Fuel and oil may be entered in gallons or quarts and are weighed here."""

    name: str = text("Station", help="pilot, passenger, baggage, fuel", example="pilot")
    kind: str = choice("Kind", KINDS, help="what it carries", default="occupant")
    arm: Quantity = quantity(
        "in", "Arm", help="from the datum, positive aft", example="76.5", low="-1000 in", high="1000 in"
    )
    load: Quantity = quantity(
        "lb", "Load now", help="in this loading", example="170", low="0 lb", high="10000 lb", default="0 lb"
    )
    least: Quantity = quantity(
        "lb", "Least load", help="the least that it ever carries (a pilot; fuel is burnt to nothing)", example="120", low="0 lb", high="10000 lb", default="0 lb"
    )  # fmt: skip
    most: Quantity | None = quantity(
        "lb",
        "Greatest load",
        help="what the station may carry",
        example="250",
        low="0 lb",
        high="10000 lb",
        optional=True,
    )
    volume: Quantity | None = quantity(
        "gal", "Volume now", help="fuel or oil in this loading, instead of its weight", example="20", low="0 gal", high="1000 gal", optional=True
    )  # fmt: skip
    capacity: Quantity | None = quantity(
        "gal",
        "Capacity",
        help="of the tank, instead of the greatest load",
        example="32",
        low="0 gal",
        high="1000 gal",
        optional=True,
    )


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of the envelope."""

    cg: Quantity = quantity(
        "in", "CG", help="arm of the corner", example="70.1", low="-1000 in", high="1000 in"
    )
    weight: Quantity = quantity(
        "lb", "Weight", help="at the corner", example="1420", low="1 lb", high="20000 lb"
    )


@dataclass(frozen=True, slots=True)
class Loading:
    """An aeroplane loaded, against its designer's envelope."""

    title: str = text("Loading", help="which aeroplane and flight", example="Dunlin, two aboard", default="")
    empty_weight: Quantity = quantity(
        "lb", "Empty weight", help="from the last weighing", example="780", low="1 lb", high="20000 lb"
    )
    empty_cg: Quantity = quantity(
        "in", "Empty CG", help="from the last weighing", example="66.2", low="-1000 in", high="1000 in"
    )
    stations: tuple[Station, ...] = rows(Station, "Stations", help="everything that is loaded", least=1)
    envelope: tuple[Corner, ...] = rows(
        Corner, "Envelope", help="the designer's corners in order, walking once round", least=3
    )
    lemac: Quantity | None = lemac_field()
    mac: Quantity | None = mac_field()
    power: Quantity | None = quantity(
        "hp", "Engine power", help="greatest except take-off, for the least fuel of the forward check", example="150 hp", low="10 hp", high="2000 hp", optional=True
    )  # fmt: skip
    ballast_arm: Quantity | None = quantity(
        "in",
        "Ballast could go at",
        help="an arm the designer allows",
        example="200",
        low="-1000 in",
        high="1000 in",
        optional=True,
    )

    def __post_init__(self) -> None:
        for s in self.stations:
            if s.kind not in ("fuel", "oil") and (s.volume is not None or s.capacity is not None):
                raise GeometryError(
                    f"Volume at {s.name}",
                    found=s.kind,
                    allowed="fuel or oil",
                    mend="Enter the weight instead.",
                )
            if s.volume is not None and s.load.value > 0:
                raise GeometryError(
                    f"Load at {s.name}",
                    found="weight and volume",
                    allowed="one of them",
                    mend="Clear one of the two.",
                )
            if s.most is not None and s.most.value < s.least.value:
                raise OutOfRangeError(
                    f"Greatest load at {s.name}",
                    found=s.most.text,
                    allowed=f"at least {s.least.text}",
                    mend="Check least and greatest.",
                )
        check_chord(self.lemac, self.mac)
        envelope([c.cg.value for c in self.envelope], [c.weight.value for c in self.envelope])


@dataclass(frozen=True, slots=True)
class Loaded:
    """A station as plain numbers, in pounds."""

    name: str
    kind: str
    arm_in: float
    now_lb: float
    least_lb: float
    most_lb: float


def loaded_stations(spec: Loading, ws: Worksheet) -> tuple[Loaded, ...]:
    """Every station weighed: volumes by the published weights of fuel and oil."""
    densities: dict[str, float] = {}

    def per_gallon(kind: str) -> float:
        if kind not in densities:
            cell = table("massprops/standard-weights").cell(kind, "weight")
            ws.look_up(f"{kind} weighs", cell)
            densities[kind] = cell.value
        return densities[kind]

    made = []
    for s in spec.stations:
        now = s.volume.to("gal") * per_gallon(s.kind) if s.volume is not None else s.load.value
        most = (
            s.most.value
            if s.most is not None
            else s.capacity.to("gal") * per_gallon(s.kind)
            if s.capacity is not None
            else max(now, s.least.value)
        )
        made.append(
            Loaded(s.name, s.kind, s.arm.value, now, 0.0 if s.kind == "fuel" else s.least.value, most)
        )
    return tuple(made)


@calculation(
    "loading",
    title="Loading against the envelope",
    summary="Weight and CG of a loading, landing after the fuel is burnt, adverse loadings, and the worst of all exactly.",
    spec=Loading,
    results=(
        "weight", "cg", "moment", "percent_mac", "zero_fuel_weight", "zero_fuel_cg", "forward_margin", "aft_margin", "weight_margin",
        "adverse_forward_cg", "adverse_aft_cg", "most_forward_cg", "most_forward_weight", "most_forward_margin", "most_forward_load",
        "most_aft_cg", "most_aft_weight", "most_aft_margin", "most_aft_load", "heaviest_weight", "least_fuel", "ballast",
    ),
)  # fmt: skip
def loading(spec: Loading, ws: Worksheet) -> Outcome:
    """This loading and every other one against the designer's envelope."""
    limits = envelope([c.cg.value for c in spec.envelope], [c.weight.value for c in spec.envelope])
    stations = loaded_stations(spec, ws)
    empty, arm = spec.empty_weight.value, spec.empty_cg.value
    empty_moment = ws.step("empty moment", moment_lb_in, weight_lb=empty, arm_in=arm)
    moments = [
        ws.step(f"moment of {s.name}", moment_lb_in, weight_lb=s.now_lb, arm_in=s.arm_in) for s in stations
    ]
    weight = empty + sum(s.now_lb for s in stations)
    ws.worked_out("loaded weight", shown(weight, "lb"), "empty weight and all loads", value=weight, unit="lb")
    cg = ws.step("loaded CG", cg_in, total_lb_in=empty_moment + sum(moments), total_lb=weight)
    burnt_weight = weight - sum(s.now_lb for s in stations if s.kind == "fuel")
    burnt_moment = empty_moment + sum(m for m, s in zip(moments, stations, strict=True) if s.kind != "fuel")
    burnt = ws.step("CG with the fuel burnt", cg_in, total_lb_in=burnt_moment, total_lb=burnt_weight)
    ends = worst_loadings(
        empty_lb=empty, empty_lb_in=empty_moment, least_lb=[s.least_lb for s in stations], most_lb=[s.most_lb for s in stations],
        arm_in=[s.arm_in for s in stations], limits=limits,
    )  # fmt: skip
    requirements: list[Requirement] = []
    findings: list[Finding] = []
    for where, w, c in (("this loading", weight, cg), ("fuel burnt", burnt_weight, burnt)):
        findings += _against(limits, w, c, where, requirements)
    for where, one in (("most forward of all loadings", ends[0]), ("most aft of all loadings", ends[1])):
        findings += _against(limits, one.weight_lb, one.cg_in, where, requirements)
    forward, aft = (float(v) for v in limits.limits_in(weight))
    heaviest = empty + sum(s.most_lb for s in stations)
    if heaviest > limits.most_lb:
        ws.note(
            f"Everything full is {number_text(heaviest, 0)} lb, {number_text(heaviest - limits.most_lb, 0)} lb too heavy: trade fuel for load."
        )
    results = {
        "weight": Result("loaded weight", weight, "lb", places=1),
        "cg": Result("loaded CG, aft of the datum", cg, "in", places=2),
        "moment": Result("loaded moment", empty_moment + sum(moments), "lb·in", places=0),
        "percent_mac": chord_result(ws, "loaded CG in % MAC", cg, spec.lemac, spec.mac),
        "zero_fuel_weight": Result("weight with the fuel burnt", burnt_weight, "lb", places=1),
        "zero_fuel_cg": Result("CG with the fuel burnt", burnt, "in", places=2),
        "forward_margin": Result("behind the forward limit by", cg - forward, "in", places=2),
        "aft_margin": Result("ahead of the aft limit by", aft - cg, "in", places=2),
        "weight_margin": Result("below the greatest weight by", limits.most_lb - weight, "lb", places=1),
        **_adverse(spec, ws, stations, limits, empty, empty_moment),
        **_end_results("most_forward", "most forward of all loadings", ends[0], stations),
        **_end_results("most_aft", "most aft of all loadings", ends[1], stations),
        "heaviest_weight": Result("everything full", heaviest, "lb", places=1),
        "ballast": Result("ballast", "none asked for"),
    }
    if spec.ballast_arm is not None:
        results["ballast"] = _ballast(spec.ballast_arm.value, weight, cg, forward, aft)
    cautions = (
        "The designer's limits and the weighing of this aeroplane decide; weigh people and baggage, don't guess.",
        "Only points inside the envelope at take-off and with the fuel burnt are safe; the fuel burnt may move the CG past a limit.",
        *CAUTIONS,
    )
    picture = loading_picture(spec, stations, limits, ((weight, cg), (burnt_weight, burnt)), ends)
    return Outcome(tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions, picture)


def _against(
    limits: Envelope, weight: float, cg: float, where: str, requirements: list[Requirement]
) -> list[Finding]:
    forward, aft = (float(v) for v in limits.limits_in(weight))
    because = Because.drawing("", "", "the designer's envelope")
    heavy = Requirement(
        name="weight", unit="lb", low=None, nominal=None, high=limits.most_lb, because=because, how="scales",
        when_low="Go on.", when_high="Too heavy: take something out.",
    )  # fmt: skip
    lies = Requirement(
        name="CG", unit="in", low=forward, nominal=None, high=aft, because=because, how="sum of weights and moments, weighed not guessed",
        when_low="Don't fly so: too far forward. Move load aft or fly with less up front.",
        when_high="Don't fly so: too far aft. Move load forward.",
    )  # fmt: skip
    requirements += [heavy, lies]
    return [compare(heavy, Reading(weight, "lb", where=where)), compare(lies, Reading(cg, "in", where=where))]


def _end_results(key: str, label: str, one: Worst, stations: tuple[Loaded, ...]) -> dict[str, Result]:
    aboard = ", ".join(f"{s.name} {number_text(w, 0)} lb" for s, w in zip(stations, one.load_lb, strict=True))
    return {
        f"{key}_cg": Result(f"{label}, CG", one.cg_in, "in", places=2),
        f"{key}_weight": Result(f"{label}, weight", one.weight_lb, "lb", places=1),
        f"{key}_margin": Result(f"{label}, inside its limit by", one.margin_in, "in", places=2),
        f"{key}_load": Result(f"{label}, on board", aboard),
    }


def _adverse(
    spec: Loading,
    ws: Worksheet,
    stations: tuple[Loaded, ...],
    limits: Envelope,
    empty: float,
    empty_moment: float,
) -> dict[str, Result]:
    """The published check: everything ahead of the limit full and behind it empty, and the other way round.

    The pilot stays on board, and least fuel when the tank lies on the empty side (AC 43.13-1B par. 10-16, 10-17).
    """
    least_fuel = None
    if spec.power is not None:
        per_gallon = (
            ws.look_up("fuel weighs", table("massprops/standard-weights").cell("fuel", "weight")) * 231.0
        )
        least_fuel = ws.step(
            "least fuel", minimum_fuel_lb, power_hp=spec.power.value, fuel_lb_per_gal=per_gallon
        )
    made: dict[str, Result] = {}
    for key, limit, side in (
        ("adverse_forward_cg", min(limits.forward_in), -1.0),
        ("adverse_aft_cg", max(limits.aft_in), 1.0),
    ):
        weight, moment = empty, empty_moment
        tank_done = False
        for s in stations:
            load = s.most_lb if side * (s.arm_in - limit) > 0 else s.least_lb
            if (
                side * (s.arm_in - limit) <= 0
                and s.kind == "fuel"
                and least_fuel is not None
                and not tank_done
            ):
                load, tank_done = min(least_fuel, s.most_lb), True
            weight += load
            moment += load * s.arm_in
        cg = ws.step(key.replace("_", " ").replace("cg", "CG"), cg_in, total_lb_in=moment, total_lb=weight)
        made[key] = Result(
            f"{key.split('_')[1]} check by the published method, CG at {number_text(weight, 0)} lb",
            cg,
            "in",
            places=2,
        )
    made["least_fuel"] = (
        Result("least fuel in the forward check", least_fuel, "lb", places=1)
        if least_fuel is not None
        else Result("least fuel in the forward check", "no engine power entered")
    )
    return made


def _ballast(at: float, weight: float, cg: float, forward: float, aft: float) -> Result:
    if forward <= cg <= aft:
        return Result("ballast", "none needed for this loading")
    wanted = forward if cg < forward else aft
    if abs(at - wanted) < 1e-9 or (at - wanted) * (wanted - cg) <= 0:
        return Result(
            "ballast", f"can't help at {number_text(at, 1)} in: it must lie on the other side of the limit"
        )
    return Result(
        "ballast for this loading",
        float(ballast_lb(total_lb=weight, wanted_in=wanted, present_in=cg, ballast_in=at)),
        "lb",
        places=1,
    )
