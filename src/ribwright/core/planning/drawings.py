"""The plan as pictures: the year strip, the dates' chances, what moves the date, the purse with its band."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.calendars import DAY
from ribwright.core.planning.risk import Chance, Move
from ribwright.core.scene import Item, Line, Polygon, Polyline, Scene, Text
from ribwright.core.scene.graph import NAMES, NUMBERS, band, curve, graph, tick_beside
from ribwright.errors import OutOfRangeError

COLUMN = 0.36
ROW = 0.2


def year_strip(year: int, marks: Sequence[tuple[date, str]], off: Sequence[date] = ()) -> Scene:
    """A year ruled like a wall calendar: a column a month, a row a day, weekends tinted, days off crossed.

    It stands upright so that it is read at the width of a phone; what a number means stands in the description, and as
    a list beside the drawing.

    Args:
        year: Which year.
        marks: Days to mark; they are numbered in the order of their dates, as `numbered_marks` lists them.
        off: Days without work.
    """
    if not 1 <= year <= 9998:
        raise OutOfRangeError("year", found=year, allowed="1 to 9998")
    items: list[Item] = []
    free = set(off)
    named = numbered_marks(year, marks)
    numbered = {day: str(k) for k, (day, _) in enumerate(named, 1)}
    for month in range(1, 13):
        x = (month - 1) * COLUMN
        items.append(Text((x + COLUMN / 2, 0.07), calendar.month_abbr[month], NUMBERS, "middle"))
        days = calendar.monthrange(year, month)[1]
        for number in range(1, days + 1):
            day = date(year, month, number)
            y = -number * ROW
            box = ((x, y), (x + COLUMN, y), (x + COLUMN, y + ROW), (x, y + ROW))
            if day.weekday() >= 5:
                items.append(Polygon(box, "ruled", fill="tint"))
            elif number > 1:
                items.append(Line((x, y + ROW), (x + COLUMN, y + ROW), "ruled"))
            if day in free:
                items.append(Line(box[0], box[2], "thin"))
            if day in numbered:
                items.append(Polyline(box, True, "heavy"))
                items.append(Text((x + COLUMN / 2, y + 0.04), numbered[day], NUMBERS, "middle", bold=True))
        foot = -days * ROW
        items.append(Polyline(((x, foot), (x + COLUMN, foot), (x + COLUMN, 0.0), (x, 0.0)), True, "thin"))
    for number in (1, 5, 10, 15, 20, 25, 30):
        items += tick_beside((0.0, 0.09 - number * ROW), str(number))
    said = "; ".join(f"{day}: {word}" for day, word in named) or "nothing marked"
    return Scene(tuple(items), f"The year {year}", f"Calendar of {year}. {said}.")


def numbered_marks(year: int, marks: Sequence[tuple[date, str]]) -> tuple[tuple[date, str], ...]:
    """The marks of a year in the order of their dates, one a day; the first is number 1 on the strip."""
    days: dict[date, list[str]] = {}
    for day, word in sorted(marks):
        if day.year == year:
            days.setdefault(day, []).append(word)
    return tuple((day, ", ".join(words)) for day, words in days.items())


def date_chances(start: date, ends: npt.NDArray[np.int64], dates: Sequence[Chance]) -> Scene:
    """Chances in 10 of being done, over years, with the dates marked; the last 2 in 100 are left out."""
    ranked = np.sort(ends) / DAY
    picks = np.unique(np.linspace(0, 0.98 * (len(ranked) - 1), min(len(ranked), 200)).astype(int))
    years = [start.year + (start.timetuple().tm_yday - 1 + float(ranked[k])) / 365.25 for k in picks]
    chances = [10.0 * (k + 1) / len(ranked) for k in picks]
    first = float(np.floor(min(years)))
    step = next((k for k in (1, 2, 5, 10) if first + 6 * k >= max(years)), 20)  # whole years at the ticks
    on, items = graph([first, first + 6 * step], [0.0, 10.0], across="year", up="chances in 10 of being done", width=4.6, height=3.2)  # fmt: skip
    items.append(curve(on, years, chances, "heavy"))
    for chance in dates:
        year = start.year + (start.timetuple().tm_yday - 1 + chance.days) / 365.25
        if year <= on.right:
            x, y = on.place(year, 10.0 * chance.chance)
            items.append(Line((on.at[0], y), (x, y), "dimension"))
            items.append(Line((x, on.at[1]), (x, y), "dimension"))
            items.append(Text((on.at[0] + 0.08, y + 0.04), f"{chance.day:%b %Y}", NUMBERS))
    said = "; ".join(f"{10 * c.chance:g} chances in 10: {c.day}" for c in dates)
    return Scene(tuple(items), "When it is done", said + ".")


def moves_picture(moves: Sequence[Move], *, most: int = 12) -> Scene:
    """What moves the date: a bar a change under its name, the longest on top; earlier to the left, later to the right."""
    shown = list(moves)[:most]
    widest = max((max(abs(m.days_less), abs(m.days_more)) for m in shown), default=1.0) or 1.0
    items: list[Polygon | Line | Text] = []
    for place, move in enumerate(shown):
        y = -0.52 * place
        items.append(Text((-2.5, y + 0.2), move.what, NAMES))
        for days, fill in ((move.days_less, "tint"), (move.days_more, "solid")):
            x = 1.9 * days / widest
            box = ((0.0, y), (x, y), (x, y + 0.13), (0.0, y + 0.13))
            items.append(Polygon(box, "outline", fill="tint" if fill == "tint" else "solid"))
        items.append(Line((0.0, y - 0.06), (0.0, y + 0.19), "thin"))
        left, right = min(move.days_less, move.days_more, 0.0), max(move.days_less, move.days_more, 0.0)
        for days, side in ((left, -1), (right, 1)):
            if round(days):
                x = 1.9 * days / widest + 0.06 * side
                items.append(Text((x, y + 0.02), f"{days:+.0f}", NUMBERS, "start" if side > 0 else "end"))
    items.append(Text((-0.08, -0.52 * len(shown) + 0.2), "days earlier", NUMBERS, "end"))
    items.append(Text((0.08, -0.52 * len(shown) + 0.2), "days later", NUMBERS))
    said = "; ".join(f"{m.what}: {m.days_less:+.0f} or {m.days_more:+.0f} days" for m in shown)
    return Scene(tuple(items), "What moves the date", said + ".")


def purse_picture(start: date, shown: npt.NDArray[np.floating], least: float) -> Scene:
    """Money at each month's end: the middle as a line, 1 to 9 chances in 10 hatched, the least as a dashed line.

    Args:
        start: Today.
        shown: The band of `cash.band`, shape (3, months).
        least: What must never be gone below.
    """
    months = np.arange(shown.shape[1], dtype=float)
    lowest, highest = min(float(shown.min()), least), max(float(shown.max()), least)
    # In thousands where there are many: a tick is to be read at a glance.
    unit, word = (
        (1000.0, "money there, thousands") if max(-lowest, highest) >= 10_000 else (1.0, "money there")
    )
    shown, least_there = shown / unit, least / unit
    on, items = graph(
        [0.0, max(1.0, float(months[-1]))], [lowest / unit, highest / unit], across=f"months from {start}", up=word,
        width=4.6, height=3.2,
    )  # fmt: skip
    xs = [float(m) for m in months]
    items.append(band(on, xs, [float(v) for v in shown[0]], [float(v) for v in shown[2]]))
    items.append(curve(on, xs, [float(v) for v in shown[1]], "heavy"))
    items.append(Line(on.place(on.left, least_there), on.place(on.right, least_there), "hidden"))
    low = int(np.argmin(shown[0]))
    when = start + timedelta(days=round(low * 365.25 / 12))
    said = f"Lowest at 1 chance in 10: {float(shown[0, low]) * unit:,.0f} about {when:%B %Y}; never below {least:,.0f} is asked."
    return Scene(tuple(items), "The purse", said)
