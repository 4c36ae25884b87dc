"""Electric loads by phase of flight, wire size by current and voltage drop, and the fuse or breaker before it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    flag,
    formula,
    quantity,
    rows,
    text,
)
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import OutsideTableError

Floats = NDArray[np.float64]
PHASES = ("start", "climb", "cruise", "landing", "alternator out")


@formula(
    "wire.drop",
    symbol="VD",
    shown="resistance_ohm / 1000 * length_ft * current_a * (234.5 + conductor_c) / 254.5",
    unit="V",
    source="ac43-13-1b",
    locator="par. 11-66, tables 11-7 to 11-9: resistance times length times current; warm copper by (234.5 + T) / 254.5",
    rung="seen",
    limits={"resistance_ohm": (0.01, 100.0), "length_ft": (0.1, 500.0), "current_a": (0.01, 500.0), "conductor_c": (-40.0, 200.0)},
    deviation="the paragraph shortens the length for warm conductors; the same ratio is put on the drop",
)  # fmt: skip
def drop_v(
    *, resistance_ohm: ArrayLike, length_ft: ArrayLike, current_a: ArrayLike, conductor_c: ArrayLike
) -> Floats:
    """Voltage lost along a copper wire; the resistance is of 1,000 ft at 20 °C."""
    cold = (
        np.asarray(resistance_ohm, float)
        / 1000.0
        * np.asarray(length_ft, float)
        * np.asarray(current_a, float)
    )
    return np.asarray(cold * (234.5 + np.asarray(conductor_c, float)) / 254.5)


@dataclass(frozen=True, slots=True)
class Circuit:
    """One circuit from the bus and back."""

    name: str = text("Circuit", help="what it feeds", example="landing light")
    current: Quantity = quantity(
        "A", "Current", help="by its maker, or measured", example="8 A", low="0.05 A", high="200 A"
    )
    length: Quantity = quantity("ft", "Wire length", help="out, and back too where a wire returns it", example="14 ft", low="0.2 ft", high="200 ft")  # fmt: skip
    drop: Quantity = quantity("V", "Allowed drop", help="volts that may be lost; table 11-6 of the circular gives it by bus voltage", example="0.5 V", low="0.05 V", high="10 V")  # fmt: skip
    start: bool = flag("Engine start", help="runs during the start")
    climb: bool = flag("Climb", help="runs in take-off and climb")
    cruise: bool = flag("Cruise", help="runs in cruise")
    landing: bool = flag("Landing", help="runs in approach and landing")
    emergency: bool = flag("Alternator out", help="kept running on the battery alone")


@dataclass(frozen=True, slots=True)
class Wiring:
    """All circuits of an aeroplane."""

    title: str = text("Wiring", help="which aeroplane", example="Dunlin", default="")
    circuits: tuple[Circuit, ...] = rows(Circuit, "Circuits", help="one row a circuit", least=1)
    insulation: str = choice(
        "Wire rated for", ("105", "150", "200"), help="°C, from the wire's own marking", default="150"
    )
    conductor: Quantity = quantity("°C", "Conductor temperature", help="20 °C where it runs cool and lightly loaded", example="20 °C", low="-20 °C", high="150 °C", default="20 °C")  # fmt: skip
    alternator: Quantity | None = quantity("A", "Alternator gives", help="what may be drawn all the time", example="35 A", low="1 A", high="300 A", optional=True)  # fmt: skip
    battery: Quantity | None = quantity("", "Battery holds, ampere-hours", help="what is left to count on", example="12", low="1", high="200", optional=True)  # fmt: skip


@calculation(
    "wire",
    title="Wire and fuse",
    summary="Electric loads by phase of flight, wire size by current and allowed drop, fuse or breaker by wire.",
    spec=Wiring,
    results=("sizes", "protectors", "drops", "loads", "most_load", "battery_minutes"),
)
def wire(spec: Wiring, ws: Worksheet) -> Outcome:
    """The smallest wire that carries the current and loses no more than allowed, and what must protect it."""
    sizes, guards, drops, findings, requirements = [], [], [], [], []
    for c in spec.circuits:
        gauge = _smallest(spec, c)
        column = f"amps_{spec.insulation}"
        carries = ws.look_up(
            f"{c.name}: No. {gauge} carries", table("flight/copper-wire").cell(gauge, column)
        )
        ohms = ws.look_up(
            f"{c.name}: ohms in 1,000 ft", table("flight/copper-wire").cell(gauge, "resistance")
        )
        lost = ws.step(f"{c.name}: drop", drop_v, resistance_ohm=ohms, length_ft=c.length.to("ft"), current_a=c.current.to("A"), conductor_c=spec.conductor.to("°C"))  # fmt: skip
        cell = table("flight/circuit-protector").cell(gauge, "breaker")
        most = ws.look_up(f"{c.name}: largest breaker for No. {gauge}", cell)
        allowed = Requirement(
            name=f"drop in {c.name}", unit="V", low=None, nominal=None, high=c.drop.to("V"), because=Because.drawing("", "", "the drop allowed, as entered"),
            how="volts at the bus less volts at the load, under load", when_low="Go on.", when_high="Use a larger wire.",
        )  # fmt: skip
        amps = Requirement(
            name=f"current in {c.name}", unit="A", low=None, nominal=None, high=min(carries, most), because=Because.cell(cell, "the lesser of wire and breaker"),
            how="a clamp meter", when_low="Go on.", when_high="Use a larger wire and breaker.",
        )  # fmt: skip
        requirements += [allowed, amps]
        findings += [
            compare(allowed, Reading(lost, "V", where=c.name)),
            compare(amps, Reading(c.current.to("A"), "A", where=c.name)),
        ]
        guard = next(v for v in _ratings() if v >= c.current.to("A"))
        sizes.append(f"{c.name}: No. {gauge}")
        guards.append(
            f"{c.name}: {guard:g} A" + (f" (at most {most:g} A on this wire)" if guard < most else "")
        )
        drops.append(lost)
    loads = {
        phase: sum(c.current.to("A") for c in spec.circuits if getattr(c, attribute))
        for phase, attribute in zip(PHASES, ("start", "climb", "cruise", "landing", "emergency"), strict=True)
    }
    for phase, amps_sum in loads.items():
        ws.worked_out(
            f"load, {phase}",
            f"{amps_sum:.1f} A",
            "sum of the circuits that run then",
            value=amps_sum,
            unit="A",
        )
    if spec.alternator is not None:
        running = max(v for k, v in loads.items() if k not in ("start", "alternator out"))
        limit = Requirement(
            name="load in flight", unit="A", low=None, nominal=None, high=spec.alternator.to("A"), because=Because.drawing("", "", "the alternator, as entered"),
            how="ammeter with everything of that phase on", when_low="Go on.", when_high="Switch something off, or fit a larger alternator.",
        )  # fmt: skip
        requirements.append(limit)
        findings.append(compare(limit, Reading(running, "A", where="worst phase")))
    ws.note("Rated as printed: bundles of 33 or more (9 for No. 8 and larger), 70 °C around them, 60,000 ft. Table 11-3 sizes the breaker for the wire; a maker's own smaller fuse wins.")  # fmt: skip
    ws.note("Allowed drop is entered: the cells of table 11-6 were not read, so none is proposed.")
    out = loads["alternator out"]
    results = {
        "sizes": Result("copper wire", "; ".join(sizes)),
        "protectors": Result("breaker or fuse, next size up", "; ".join(guards)),
        "drops": Result("drop, circuit by circuit", tuple(drops), "V"),
        "loads": Result("load by phase", "; ".join(f"{k} {v:.1f} A" for k, v in loads.items())),
        "most_load": Result("largest load of a phase", max(loads.values()), "A"),
        "battery_minutes": Result("on the battery alone", spec.battery.to("") / out * 60, "min")
        if spec.battery is not None and out > 0
        else Result("on the battery alone", "enter the battery and what is kept running"),
    }
    cautions = ("Protect at the bus, not at the load. A breaker protects the wire: never larger than the wire carries.", *CAUTIONS)  # fmt: skip
    return Outcome(tuple(ws.steps), results, tuple(requirements), tuple[Finding, ...](findings), cautions)


def _ratings() -> tuple[float, ...]:
    made = table("flight/circuit-protector")
    return tuple(made.cell(gauge, "breaker").value for gauge in made.row_keys())


def _smallest(spec: Wiring, circuit: Circuit) -> str:
    copper, guards = table("flight/copper-wire"), table("flight/circuit-protector")
    amps = circuit.current.to("A")
    for gauge in guards.row_keys():  # from the thinnest on
        lost = float(
            drop_v(
                resistance_ohm=copper.cell(gauge, "resistance").value, length_ft=circuit.length.to("ft"), current_a=amps,
                conductor_c=spec.conductor.to("°C"),
            )
        )  # fmt: skip
        carries = min(
            copper.cell(gauge, f"amps_{spec.insulation}").value, guards.cell(gauge, "breaker").value
        )
        if carries >= amps and lost <= circuit.drop.to("V"):
            return gauge
    raise OutsideTableError(
        f"Circuit {circuit.name}", found=f"{amps:g} A over {circuit.length.text}, {circuit.drop.text} allowed", allowed=f"what No. {guards.row_keys()[-1]} carries",
        mend="Shorten the run, split the circuit, or ask an avionics technician.",
    )  # fmt: skip
