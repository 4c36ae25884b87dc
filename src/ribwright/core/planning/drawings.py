"""The plan as pictures: the year strip, the dates' chances, what moves the date, the purse with its band."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.calendars import DAY
from ribwright.core.planning.risk import Chance, Move
from ribwright.core.scene import Line, Polygon, Polyline, Scene, Text
from ribwright.core.scene.graph import band, curve, graph
from ribwright.errors import OutOfRangeError

CELL = 0.22
LETTERS = 0.14


def year_strip(year: int, marks: Sequence[tuple[date, str]], off: Sequence[date] = ()) -> Scene:
    """A year ruled like a wall calendar: a row a month, a column a day, weekends tinted, days off crossed.

    The lettering is sized so that it is read at the width of a phone; what a number means stands in the
    description, and as a list beside the drawing.

    Args:
        year: Which year.
        marks: Days to mark; they are numbered in the order of their dates, as `numbered_marks` lists them.
        off: Days without work.
    """
    if not 1 <= year <= 9998:
        raise OutOfRangeError("year", found=year, allowed="1 to 9998")
    items: list[Polygon | Line | Text | Polyline] = []
    free = set(off)
    named = numbered_marks(year, marks)
    numbered = {day: str(k) for k, (day, _) in enumerate(named, 1)}
    for month in range(1, 13):
        y = (12 - month) * CELL
        items.append(Text((-0.08, y + 0.04), calendar.month_abbr[month], LETTERS, "end"))
        days = calendar.monthrange(year, month)[1]
        width = days * CELL
        for number in range(1, days + 1):
            day = date(year, month, number)
            x = (number - 1) * CELL
            box = ((x, y), (x + CELL, y), (x + CELL, y + CELL), (x, y + CELL))
            if day.weekday() >= 5:
                items.append(Polygon(box, "thin", fill="tint"))
            elif number > 1:
                items.append(Line((x, y), (x, y + CELL), "thin"))
            if day in free:
                items.append(Line(box[0], box[2], "thin"))
            if day in numbered:
                items.append(Polyline(box, True, "heavy"))
                items.append(Text((x + CELL / 2, y + 0.04), numbered[day], LETTERS, "middle", bold=True))
        items.append(Polyline(((0, y), (width, y), (width, y + CELL), (0, y + CELL)), True, "thin"))
    for number in (1, 5, 10, 15, 20, 25, 30):
        items.append(Text(((number - 0.5) * CELL, 12 * CELL + 0.05), str(number), LETTERS, "middle"))
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
    """Chances in 10 of being done, over years, with the dates marked."""
    ranked = np.sort(ends) / DAY
    picks = np.linspace(0, len(ranked) - 1, min(len(ranked), 200)).astype(int)
    years = [start.year + (start.timetuple().tm_yday - 1 + float(ranked[k])) / 365.25 for k in picks]
    chances = [10.0 * (k + 1) / len(ranked) for k in picks]
    on, items = graph([min(years), max(years)], [0.0, 10.0], across="year", up="chances in 10 of being done")
    items.append(curve(on, years, chances, "heavy"))
    for chance in dates:
        year = start.year + (start.timetuple().tm_yday - 1 + chance.days) / 365.25
        x, y = on.place(year, 10.0 * chance.chance)
        items.append(Text((x + 0.08, y - 0.12), f"{10 * chance.chance:g} in 10: {chance.day}", 0.1))
        items.append(Line((x, on.at[1]), (x, y), "dimension"))
    said = "; ".join(f"{10 * c.chance:g} chances in 10: {c.day}" for c in dates)
    return Scene(tuple(items), "When it is done", said + ".")


def moves_picture(moves: Sequence[Move], *, most: int = 12) -> Scene:
    """What moves the date: a bar a change, the longest on top; earlier to the left, later to the right."""
    shown = list(moves)[:most]
    widest = max((max(abs(m.days_less), abs(m.days_more)) for m in shown), default=1.0) or 1.0
    items: list[Polygon | Line | Text] = []
    for place, move in enumerate(shown):
        y = -0.34 * place
        for days, fill in ((move.days_less, "tint"), (move.days_more, "solid")):
            x = 2.0 * days / widest
            box = ((0.0, y), (x, y), (x, y + 0.12), (0.0, y + 0.12))
            items.append(Polygon(box, "outline", fill="tint" if fill == "tint" else "solid"))
        items.append(Text((-2.2, y + 0.02), move.what, 0.1, "end"))
        items.append(Text((2.2, y + 0.02), f"{move.days_less:+.0f} / {move.days_more:+.0f} days", 0.1))
    items.append(Line((0.0, 0.3), (0.0, -0.34 * len(shown)), "centre"))
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
    on, items = graph(
        [0.0, max(1.0, float(months[-1]))], [lowest, highest], across=f"months from {start}", up="money there"
    )
    xs = [float(m) for m in months]
    items.append(band(on, xs, [float(v) for v in shown[0]], [float(v) for v in shown[2]]))
    items.append(curve(on, xs, [float(v) for v in shown[1]], "heavy"))
    items.append(Line(on.place(on.left, least), on.place(on.right, least), "hidden"))
    low = int(np.argmin(shown[0]))
    when = start + timedelta(days=round(low * 365.25 / 12))
    said = f"Lowest at 1 chance in 10: {float(shown[0, low]):,.0f} about {when:%B %Y}; never below {least:,.0f} is asked."
    return Scene(tuple(items), "The purse", said)
