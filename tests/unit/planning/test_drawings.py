"""Pictures of the plan say what they show, and mark each thing once."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from ribwright.core.planning.drawings import date_chances, moves_picture, purse_picture, year_strip
from ribwright.core.planning.risk import Move, chance_day
from ribwright.core.scene import Polygon, Text


def test_year_has_every_day_and_its_marks():
    strip = year_strip(2028, [(date(2028, 2, 29), "order"), (date(2027, 1, 1), "gone")], [date(2028, 5, 1)])
    tinted = sum(isinstance(i, Polygon) for i in strip.items)
    assert tinted == sum((date(2028, 1, 1) + timedelta(days=k)).weekday() >= 5 for k in range(366))
    assert sum(isinstance(i, Text) and i.text == "1" and i.bold for i in strip.items) == 1
    assert "2028-02-29: order" in strip.described
    assert "gone" not in strip.described


def test_dates_moves_and_purse():
    ends = np.random.default_rng(1).integers(10**6, 3 * 10**6, 500)
    dates = [chance_day(date(2026, 3, 2), ends, c) for c in (0.5, 0.8)]
    picture = date_chances(date(2026, 3, 2), ends, dates)
    assert str(dates[1].day) in picture.described
    assert any(isinstance(i, Text) and i.text == f"{dates[1].day:%b %Y}" for i in picture.items)
    assert "helper: -3 or +5 days" in moves_picture([Move("helper", -3, 5, 1)]).described
    shown = np.array([[500.0, -100.0], [600.0, 300.0], [900.0, 700.0]])
    assert "-100" in purse_picture(date(2026, 3, 2), shown, 0.0).described
