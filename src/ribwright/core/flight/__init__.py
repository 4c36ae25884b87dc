"""Before and after the first flight: the paper, the cards, and what the numbers flown say about this aeroplane.

- :mod:`~ribwright.core.flight.atmosphere`: the standard atmosphere of 1976 up to the tropopause.
- :mod:`~ribwright.core.flight.airspeed`: indicated, calibrated, equivalent and true airspeed, exact and compressible.
- :mod:`~ribwright.core.flight.fit`: least squares with its 80 % band, and where a fitted curve has its top.
- :mod:`~ribwright.core.flight.legs`: true airspeed and wind from legs over the ground.
- :mod:`~ribwright.core.flight.calibration`: the airspeed indicator's error over the speeds flown.
- :mod:`~ribwright.core.flight.climbs`: sawtooth climbs to best angle and best rate.
- :mod:`~ribwright.core.flight.level`: level speed against power.
- :mod:`~ribwright.core.flight.repeats`: stall speeds, take-off and landing distances.
- :mod:`~ribwright.core.flight.wire`: loads by phase, wire size, fuse.
- :mod:`~ribwright.core.flight.paper`: the path of papers before the first flight.
- :mod:`~ribwright.core.flight.inspection`: the inspection before flight, from what was built.
- :mod:`~ribwright.core.flight.cards`: test cards flight by flight.

Everything here defers to the inspector, the local rules and a qualified instructor.
"""
