"""Fuel-flow test: what ran out of the line at the carburettor, against what the engine takes with its margin."""

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
    formula,
    quantity,
    rows,
    text,
)
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.tables import table
from ribwright.core.units import Quantity, shown

Floats = NDArray[np.float64]


@formula(
    "fuel.flow",
    symbol="Q",
    shown="volume_gal / time_h",
    unit="gal/h",
    source="statics",
    locator="volume over time",
    rung="derived",
    limits={"volume_gal": (0.0, 100.0), "time_h": (0.0005, 24.0)},
    excuse="volume over time",
)
def flow_gph(*, volume_gal: ArrayLike, time_h: ArrayLike) -> Floats:
    """Fuel flow from a measured volume and time."""
    return np.asarray(volume_gal, float) / np.asarray(time_h, float)


@formula(
    "fuel.needed",
    symbol="Q_min",
    shown="takeoff_gph * margin_percent / 100",
    unit="gal/h",
    source="14-cfr",
    locator="23.955(b), (c), edition of 2014: 150 percent by gravity, 125 percent by pump",
    rung="seen",
    limits={"takeoff_gph": (0.0, 200.0), "margin_percent": (100.0, 300.0)},
)
def needed_gph(*, takeoff_gph: ArrayLike, margin_percent: ArrayLike) -> Floats:
    """Flow that the system must give."""
    return np.asarray(takeoff_gph, float) * np.asarray(margin_percent, float) / 100


@dataclass(frozen=True, slots=True)
class Run:
    """One run into a can."""

    name: str = text("Run", help="tank and pump", example="left tank, electric pump")
    volume: Quantity = quantity("gal", "Volume", help="that ran out", example="1.0", low="0.01 gal", high="100 gal")  # fmt: skip
    time: Quantity = quantity("min", "Time", help="by stopwatch", example="4 min", low="0.05 min", high="600 min")  # fmt: skip


@dataclass(frozen=True, slots=True)
class FuelFlow:
    """The fuel system at its worst attitude, line open at the carburettor or injector inlet."""

    title: str = text("System", help="which aeroplane", example="Dunlin", default="")
    drawing: str = text("Drawing number", help="that gives the margin, if one does", example="DN-8100", default="")  # fmt: skip
    system: str = choice("System", ("gravity", "pump"), help="how the fuel gets to the engine")
    takeoff: Quantity = quantity(
        "gal/h", "Take-off fuel use", help="of the engine at full power, by its maker's data", example="9.5", low="0.5 gal/h", high="200 gal/h"
    )  # fmt: skip
    margin: Quantity | None = quantity(
        "%", "Margin called out", help="the designer's; else the published one", example="150 %", low="100 %", high="300 %", optional=True
    )  # fmt: skip
    runs: tuple[Run, ...] = rows(Run, "Runs", help="each tank, each pump, little fuel in the tank", least=1)
    volume_u: Quantity = quantity("gal", "Volume, plus or minus", help="how far it may be off", example="0.02", low="0.0005 gal", high="2 gal", default="0.02 gal")  # fmt: skip
    time_u: Quantity = quantity("s", "Time, plus or minus", help="how far it may be off", example="1 s", low="0.05 s", high="60 s", default="1 s")  # fmt: skip
    attitude: str = choice(
        "Attitude", ("nose up as in the steepest climb", "level or three-point"), help="how the aeroplane stood"
    )  # fmt: skip


@calculation(
    "fuel-flow",
    title="Fuel-flow test",
    summary="Measured flow of each run with its band, against take-off fuel use with the margin called for.",
    spec=FuelFlow,
    results=("flows", "needed", "least_flow", "least_share", "runs_bands"),
)
def fuel_flow(spec: FuelFlow, ws: Worksheet) -> Outcome:
    """Every run against the flow that is needed."""
    takeoff = spec.takeoff.to("gal/h")
    if spec.margin is not None:
        ws.called_out("margin", spec.margin, f"drawing {spec.drawing or 'without number'}")
        margin = 100 * spec.margin.value
        because = Because.drawing(spec.drawing, "", "margin as called out")
    else:
        cell = table("massprops/fuel-flow").cell(spec.system, "margin")
        margin = 100 * ws.look_up(f"margin, {spec.system} system", cell)
        because = Because.cell(cell, "flow over take-off use")
    needed = ws.step("flow needed", needed_gph, takeoff_gph=takeoff, margin_percent=margin)
    requirement = Requirement(
        name="fuel flow", unit="gal/h", low=needed, nominal=None, high=None, because=because, how="let more run out, time it longer",
        when_low="Too little flow: look for a kink, a small vent, a screen, a check valve. Don't fly so.", when_high="Go on.",
    )  # fmt: skip
    findings: list[Finding] = []
    flows: list[float] = []
    bands: list[float] = []
    for run in spec.runs:
        volume, time = run.volume.to("gal"), run.time.to("h")
        flow = ws.step(f"flow, {run.name}", flow_gph, volume_gal=volume, time_h=time)
        u = flow * float(np.hypot(spec.volume_u.to("gal") / volume, spec.time_u.to("h") / time))
        flows.append(flow)
        bands.append(u)
        findings.append(compare(requirement, Reading(flow, "gal/h", u, where=run.name)))
    if spec.attitude != "nose up as in the steepest climb":
        ws.note(
            "Test it nose up as in the steepest climb with little fuel in the tank: that is where gravity helps least."
        )
    least = min(flows)
    results = {
        "flows": Result("flows, run by run", tuple(flows), "gal/h"),
        "needed": Result("flow needed", needed, "gal/h", limit="least"),
        "least_flow": Result("least flow", least, "gal/h"),
        "least_share": Result("least flow, of take-off fuel use", 100 * least / takeoff, "%"),
        "runs_bands": Result("each, plus or minus", tuple(bands), "gal/h", places=2),
    }
    cautions = (
        "Fuel runs into an open can: outdoors, earthed, fire extinguisher at hand, nobody smokes, battery master off where it can be.",
        f"Flow at the inlet with the vent as it flies; {shown(takeoff, 'gal/h')} is the engine maker's figure, check it.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, (requirement,), tuple(findings), cautions)
