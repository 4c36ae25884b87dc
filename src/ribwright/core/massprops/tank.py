"""Leak test of a tank by air, corrected for temperature and barometer: a cooling night is not a leak."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Reading, Requirement, compare
from ribwright.core.massprops.tank_air import expected_inh2o, pressure_lost
from ribwright.core.scene import Scene, Text
from ribwright.core.scene.graph import NUMBERS, curve, dot, graph
from ribwright.core.units import Quantity, number_text
from ribwright.errors import GeometryError, OutOfRangeError

_LEAK = "A leak: soap the seams, rivets and fittings at low pressure, mark it, seal it, test again."
_GAIN = "It can't gain air: read thermometer and barometer again; the tank was not at the thermometer's temperature."


@dataclass(frozen=True, slots=True)
class Logged:
    """One reading of the log."""

    hours: Quantity = quantity(
        "h", "Time", help="since the first reading", example="0", low="0 h", high="1000 h"
    )
    pressure: Quantity = quantity(
        "inH2O", "Pressure", help="gauge, by water column", example="27.7 inH2O", low="-30 inH2O", high="60 inH2O"
    )  # fmt: skip
    temperature: Quantity = quantity(
        "°F", "Temperature", help="at the tank's skin, in the shade", example="64", low="-40 °F", high="160 °F"
    )  # fmt: skip
    barometer: Quantity = quantity(
        "inHg", "Barometer", help="station pressure, not reduced to sea level; its change counts", example="29.92 inHg", low="15 inHg", high="33 inHg"
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class TankTest:
    """A closed tank under a little air, read now and then."""

    title: str = text("Tank", help="which one", example="left tank", default="")
    log: tuple[Logged, ...] = rows(
        Logged, "Log", help="first reading after the air has settled, an hour or more", least=2
    )
    allowed: Quantity = quantity(
        "inH2O", "Loss allowed over the log", help="corrected; the designer's, or what your readings can tell", example="1 inH2O", low="0.05 inH2O", high="20 inH2O", default="1 inH2O"
    )  # fmt: skip
    pressure_u: Quantity = quantity(
        "inH2O", "Pressure, plus or minus", help="of one reading", example="0.05 inH2O", low="0.005 inH2O", high="2 inH2O", default="0.06 inH2O"
    )  # fmt: skip
    temperature_u: Quantity = quantity(
        "°F", "Temperature, plus or minus", help="of one reading, in degrees", example="0.3", low="0.02 °F", high="20 °F", default="0.4 °F"
    )  # fmt: skip
    barometer_u: Quantity = quantity(
        "inHg", "Barometer, plus or minus", help="of one reading", example="0.01 inHg", low="0.001 inHg", high="0.5 inHg", default="0.01 inHg"
    )  # fmt: skip
    lag: Quantity = quantity(
        "°F", "Air inside may lag by", help="inside against thermometer, end against start, in degrees", example="0.5", low="0 °F", high="20 °F", default="0.5 °F"
    )  # fmt: skip

    def __post_init__(self) -> None:
        for before, after in pairwise(self.log):
            if after.hours.value <= before.hours.value:
                raise GeometryError(
                    "Log, time", found=f"{after.hours.text} after {before.hours.text}", allowed="later from row to row", mend="Put the rows in order.",
                )  # fmt: skip
        if self.log[0].pressure.to("inH2O") < 2:
            raise OutOfRangeError(
                "Log, pressure at the start", found=self.log[0].pressure.text, allowed="2 inH2O or more",
                because="an empty balloon can't lose air", mend="Pump it to what the designer allows, a little over 1 psi at most.",
            )  # fmt: skip


@calculation(
    "tank-leak",
    title="Leak test of a tank",
    summary="Pressure log corrected for temperature and barometer: how much air is really gone, with its band.",
    spec=TankTest,
    results=("lost", "raw_fall", "expected_end", "by_temperature", "by_barometer", "per_day", "corrected", "scatter"),
)  # fmt: skip
def tank_leak(spec: TankTest, ws: Worksheet) -> Outcome:
    """The gas law takes the weather out; what still falls is a leak."""
    log = spec.log
    p = [one.pressure.to("inH2O") for one in log]
    t = [one.temperature.to("°F") for one in log]
    b = [one.barometer.to("inHg") for one in log]
    hours = [one.hours.to("h") - log[0].hours.to("h") for one in log]
    end = ws.step(
        "a tight tank would show at the end", expected_inh2o,
        start_inh2o=p[0], start_f=t[0], start_inhg=b[0], now_f=t[-1], now_inhg=b[-1],
    )  # fmt: skip
    start = {"start_inh2o": p[0], "start_f": t[0], "start_inhg": b[0]}
    warm = float(expected_inh2o(**start, now_f=t[-1], now_inhg=b[0])) - p[0]
    press = float(expected_inh2o(**start, now_f=t[0], now_inhg=b[-1])) - p[0]
    loss = pressure_lost(
        p, t, b, hours=hours, u_gauge_inh2o=spec.pressure_u.to("inH2O"), u_temperature_f=_degrees(spec.temperature_u),
        u_barometer_inhg=spec.barometer_u.to("inHg"), u_lag_f=_degrees(spec.lag),
    )  # fmt: skip
    ws.worked_out(
        "lost, weather taken out", f"{number_text(loss.lost_inh2o, 2)} ± {number_text(loss.u_inh2o, 2)} inH2O",
        f"straight line through {len(log)} corrected readings", value=loss.lost_inh2o, unit="inH2O",
    )  # fmt: skip
    if loss.scatter > 2:
        ws.note(
            f"The readings scatter {number_text(loss.scatter, 1)} times as far as their bands say: the band was widened. "
            "Sun on the tank, a warm hand, or a thermometer that is not at the skin."
        )
    if len(log) < 4:
        ws.note(
            "Few readings: read every hour, at least five times, best from evening to evening at the same temperature."
        )
    allowed = spec.allowed.to("inH2O")
    gain = Requirement(
        name="pressure lost", unit="inH2O", low=-(allowed + 2 * loss.u_inh2o), nominal=0.0, high=allowed,
        because=Because.drawing("", "", "loss allowed, as entered"), how="log it longer, back at the starting temperature, a better thermometer at the skin",
        when_low=_GAIN, when_high=_LEAK,
    )  # fmt: skip
    finding = compare(gain, Reading(loss.lost_inh2o, "inH2O", loss.u_inh2o, where=spec.title or "tank"))
    per_day, u_day = loss.lost_inh2o * 24 / hours[-1], loss.u_inh2o * 24 / hours[-1]
    results = {
        "lost": Result("lost to a leak", loss.lost_inh2o, "inH2O", loss.lost_inh2o - loss.u_inh2o, loss.lost_inh2o + loss.u_inh2o, 2),
        "raw_fall": Result("fall as read", p[0] - p[-1], "inH2O", places=2),
        "expected_end": Result("a tight tank would show at the end", end, "inH2O", places=2),
        "by_temperature": Result("of the change, by temperature", warm, "inH2O", places=2),
        "by_barometer": Result("of the change, by the barometer", press, "inH2O", places=2),
        "per_day": Result("lost a day at this rate", per_day, "inH2O", per_day - u_day, per_day + u_day, 2),
        "corrected": Result(
            "readings at the first one's temperature and barometer", tuple(float(v) for v in loss.corrected_inh2o), "inH2O", places=2
        ),
        "scatter": Result("scatter about the line, in bands", loss.scatter, "", places=2),
    }  # fmt: skip
    cautions = (
        "Air stores energy and a tank is thin: a little over 1 psi (27.7 inH2O) bursts seams. Use a water column open at the top, never a compressor.",
        "No fuel and no fuel vapour in the tank; no flame, no lamp.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, (gain,), (finding,), cautions, _picture(spec, hours, p, loss.corrected_inh2o.tolist()))  # fmt: skip


def _degrees(value: Quantity) -> float:
    """A difference of temperature: 0.5 °C is 0.9 degrees Fahrenheit, without the offset of the scale."""
    return float(value.number * value.unit.factor)


def _picture(spec: TankTest, hours: list[float], read: list[float], corrected: list[float]) -> Scene:
    on, items = graph(
        hours, [*read, *corrected], across="hours since the first reading", up="pressure (inH2O)"
    )
    items += [curve(on, hours, read, "hidden"), curve(on, hours, corrected, "heavy")]
    items += [dot(on, h, c) for h, c in zip(hours, corrected, strict=True)]
    for said, value in (("as read", read[-1]), ("weather taken out", corrected[-1])):
        x, y = on.place(hours[-1], value)
        items.append(Text((x - 0.1, y + 0.1), said, NUMBERS, "end"))
    title = spec.title or "Tank"
    return Scene(
        tuple(items),
        title=f"{title}, leak test",
        described=f"{title}: read from {number_text(read[0], 1)} to {number_text(read[-1], 1)} inH2O in {number_text(hours[-1], 1)} h; "
        f"with temperature and barometer taken out it ends at {number_text(corrected[-1], 1)} inH2O.",
    )
