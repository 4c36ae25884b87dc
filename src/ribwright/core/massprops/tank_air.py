"""Air in a closed tank: what temperature and barometer do to its pressure, and how much air is gone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import formula
from ribwright.core.massprops.angles import fitted

Floats = NDArray[np.float64]

INH2O_PER_INHG = 3386.389 / 249.0889  # conventional columns, NIST SP 811 appendix B.8
ZERO_F = 459.67  # degrees Fahrenheit from absolute zero, by definition

_BAROMETER = (15.0, 33.0)
_TEMPERATURE = (-40.0, 160.0)


@formula(
    "tank.expected",
    symbol="p",
    shown="(start_inh2o + 13.595098 * start_inhg) * (now_f + 459.67) / (start_f + 459.67) - 13.595098 * now_inhg",
    unit="inH2O",
    source="gas-law",
    locator="a closed volume: pressure over absolute temperature stays; OpenStax Chemistry section 9.2; columns by NIST SP 811",
    rung="derived",
    limits={
        "start_inh2o": (-30.0, 60.0),
        "start_f": _TEMPERATURE,
        "start_inhg": _BAROMETER,
        "now_f": _TEMPERATURE,
        "now_inhg": _BAROMETER,
    },
)
def expected_inh2o(
    *,
    start_inh2o: ArrayLike,
    start_f: ArrayLike,
    start_inhg: ArrayLike,
    now_f: ArrayLike,
    now_inhg: ArrayLike,
) -> Floats:
    """Gauge pressure that a tight tank shows after temperature and barometer have changed."""
    per = 13.595098
    absolute = np.asarray(start_inh2o, float) + per * np.asarray(start_inhg, float)
    warm = (np.asarray(now_f, float) + ZERO_F) / (np.asarray(start_f, float) + ZERO_F)
    return absolute * warm - per * np.asarray(now_inhg, float)


@dataclass(frozen=True, slots=True)
class Loss:
    """Pressure lost to a leak over a log.

    Attributes:
        corrected_inh2o: each reading brought to the first one's temperature and barometer.
        lost_inh2o: fitted fall over the whole log; positive is a loss.
        u_inh2o: half-width of its band: readings' own bands, or the scatter seen where that is wider.
        scatter: of the readings about the line, in the half-widths of their bands.
    """

    corrected_inh2o: Floats
    lost_inh2o: float
    u_inh2o: float
    scatter: float


def pressure_lost(
    gauge_inh2o: ArrayLike,
    temperature_f: ArrayLike,
    barometer_inhg: ArrayLike,
    *,
    hours: ArrayLike,
    u_gauge_inh2o: float,
    u_temperature_f: float,
    u_barometer_inhg: float,
    u_lag_f: float,
) -> Loss:
    """How much of the pressure is gone after temperature and barometer are taken out.

    Args:
        gauge_inh2o, temperature_f, barometer_inhg: one each a reading, in order of time.
        hours: since the first reading.
        u_gauge_inh2o, u_temperature_f, u_barometer_inhg: half-widths, from reading to reading independent.
        u_lag_f: how far the air inside may have been from the thermometer, at the end against the start.
    """
    p, t, b, h = (np.asarray(v, float) for v in (gauge_inh2o, temperature_f, barometer_inhg, hours))
    warm = t + ZERO_F
    absolute = p + INH2O_PER_INHG * b
    corrected = absolute * warm[0] / warm - INH2O_PER_INHG * b[0]
    per_f = float(absolute[0] / warm[0])
    u_one = float(
        np.sqrt(u_gauge_inh2o**2 + (per_f * u_temperature_f) ** 2 + (INH2O_PER_INHG * u_barometer_inhg) ** 2)
    )
    u_one = max(u_one, 1e-6)
    line, cov = fitted(np.column_stack([np.ones_like(h), h]), corrected, u=np.full_like(h, u_one))
    span = float(h[-1] - h[0])
    off = (corrected - line[0] - line[1] * h) / u_one
    freedom = len(h) - 2
    scatter = float(2 * np.sqrt((off**2).sum() / freedom)) if freedom >= 3 else 1.0
    u_fit = span * float(np.sqrt(cov[1, 1])) * max(scatter, 1.0)
    return Loss(corrected, -float(line[1]) * span, float(np.hypot(u_fit, per_f * u_lag_f)), scatter)
