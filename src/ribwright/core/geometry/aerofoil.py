"""Aerofoil sections: the NACA four- and five-digit families, and plain coordinate files.

A section is an array (n, 2) of x/c, y/c that starts at the trailing edge, runs over the upper side to the
nose and back along the lower side.
"""

from __future__ import annotations

import numpy as np

from ribwright.core.geometry.curves import evaluate, spline
from ribwright.core.geometry.outlines import FloatArray
from ribwright.errors import FormatError, GeometryError, OutOfRangeError

_SIMPLE = {
    1: (0.0580, 361.4),
    2: (0.1260, 51.64),
    3: (0.2025, 15.957),
    4: (0.2900, 6.643),
    5: (0.3910, 3.230),
}
"""Mean lines 210 to 250: where the cubic ends and its factor for an ideal lift of 0.3.

Source: E. N. Jacobs, R. M. Pinkerton, NACA Report 537 (1935); recalled from memory, agree with
:func:`ideal_lift_factor` to 0.7 % (210: 3 %, where theory and print part)."""

_REFLEXED = {1: (0.1300, 51.990), 2: (0.2170, 15.793), 3: (0.3180, 6.520), 4: (0.4410, 3.191)}
"""Reflexed mean lines 221 to 251: where the cubic ends and its factor for an ideal lift of 0.3.

Source: E. N. Jacobs, R. M. Pinkerton, NACA Report 537 (1935); recalled from memory, not compared."""


def naca_thickness(*, x_c: FloatArray, t_c: float, closed: bool = False) -> FloatArray:
    """Half thickness y/c of the four- and five-digit families at stations x/c, square to the mean line.

    Source: E. N. Jacobs, K. E. Ward, R. M. Pinkerton, NACA Report 460 (1933). ``closed`` changes the last
    coefficient so that the trailing edge has no thickness (common practice; not in the report).
    """
    last = 0.1036 if closed else 0.1015
    x = np.asarray(x_c, dtype=np.float64)
    return np.asarray(
        t_c / 0.2 * (0.2969 * np.sqrt(x) + x * (-0.1260 + x * (-0.3516 + x * (0.2843 - last * x))))
    )


def naca_section(code: str, *, count: int = 201, closed: bool = False) -> FloatArray:
    """Ordinates of a NACA four- or five-digit section.

    Args:
        code: "0012", "2412", "23012", "23112" (third digit 1: reflexed).
        count: points on each side, closely spaced at nose and trailing edge.
        closed: a sharp trailing edge instead of the report's open one.

    Raises:
        FormatError: not four or five digits.
        OutOfRangeError: a digit that the family does not define.
    """
    digits = code.strip().upper().removeprefix("NACA").strip()
    if not digits.isascii() or not digits.isdigit() or len(digits) not in (4, 5):
        raise FormatError(
            "section",
            found=code,
            allowed="four or five digits, such as 2412 or 23012",
            mend="Check the number",
        )
    t_c = int(digits[-2:]) / 100
    if t_c == 0:
        raise OutOfRangeError("section", found=code, allowed="a thickness of 01 to 99 (the last two digits)")
    # Twice-cosine spacing puts points where the curve bends.
    x = (1 - np.cos(np.linspace(0, np.pi, count))) / 2
    y_mean, slope = _mean_line_4(digits, x) if len(digits) == 4 else _mean_line_5(digits, x)
    half = naca_thickness(x_c=x, t_c=t_c, closed=closed)
    angle = np.arctan(slope)
    upper = np.stack([x - half * np.sin(angle), y_mean + half * np.cos(angle)], axis=1)
    lower = np.stack([x + half * np.sin(angle), y_mean - half * np.cos(angle)], axis=1)
    return np.concatenate([upper[::-1], lower[1:]])


def _mean_line_4(digits: str, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    m, p = int(digits[0]) / 100, int(digits[1]) / 10
    if (m == 0) != (p == 0):
        raise OutOfRangeError(
            "section", found=digits, allowed="first two digits both 0 (no camber) or both 1 to 9"
        )
    if m == 0:
        return np.zeros_like(x), np.zeros_like(x)
    fore = x < p
    y = np.where(fore, m / p**2 * (2 * p * x - x**2), m / (1 - p) ** 2 * (1 - 2 * p + 2 * p * x - x**2))
    slope = np.where(fore, 2 * m / p**2 * (p - x), 2 * m / (1 - p) ** 2 * (p - x))
    return y, slope


def _mean_line_5(digits: str, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    lift, place, reflexed = int(digits[0]), int(digits[1]), int(digits[2])
    if not (lift >= 1 and 1 <= place <= 5 and reflexed in (0, 1)) or (reflexed and place == 1):
        raise OutOfRangeError(
            "section",
            found=digits,
            allowed="first digit 1 to 9, second 1 to 5 (2 to 5 when reflexed), third 0 or 1",
        )
    scale = lift * 0.15 / 0.3
    if reflexed:
        p = place / 20
        m, k1 = _REFLEXED[place - 1]
        ratio = (3 * (m - p) ** 2 - m**3) / (1 - m) ** 3
        k = scale * k1 / 6
        fore = x < m
        y = k * np.where(fore, (x - m) ** 3, ratio * (x - m) ** 3) + k * (
            m**3 - x * (ratio * (1 - m) ** 3 + m**3)
        )
        slope = k * (np.where(fore, 3 * (x - m) ** 2, 3 * ratio * (x - m) ** 2) - ratio * (1 - m) ** 3 - m**3)
        return y, slope
    m, k1 = _SIMPLE[place]
    k = scale * k1 / 6
    fore = x < m
    y = k * np.where(fore, x**3 - 3 * m * x**2 + m**2 * (3 - m) * x, m**3 * (1 - x))
    slope = k * np.where(fore, 3 * x**2 - 6 * m * x + m**2 * (3 - m), -(m**3))
    return y, slope


def ideal_lift_factor(*, end_c: float) -> float:
    """Factor of the cubic that ends at ``end_c`` and has an ideal lift coefficient of 0.3.

    From thin-aerofoil theory; the printed constants of the five-digit family are checked against it.
    """
    m = end_c
    q = (3 * m - 7 * m**2 + 8 * m**3 - 4 * m**4) / np.sqrt(m * (1 - m)) - 1.5 * (1 - 2 * m) * (
        np.pi / 2 - np.arcsin(1 - 2 * m)
    )
    return float(6 * 0.3 / q)


def section_from_text(text: str, *, field: str = "coordinate file") -> tuple[str, FloatArray]:
    """Name and section from a plain two-column coordinate file, in either of its usual orders.

    Accepts points from the trailing edge round the nose to the trailing edge, or a line with two counts
    followed by the upper and the lower side, each from the nose. A chord of 100 or of any other length is
    brought to 1.

    Raises:
        FormatError: a line that is not two numbers, too few points, or too much text.
        GeometryError: points in mixed order, or a section that crosses itself.
    """
    if len(text) > 1_000_000:
        raise FormatError(field, found=f"{len(text)} characters", allowed="a short list of points")
    name, rows, numbers = _rows(text, field)
    lednicer = len(rows) > 2 and _is_count(rows[0], len(rows) - 1)
    if lednicer:
        first = int(rows[0][0])
        upper, lower = np.array(rows[1 : 1 + first]), np.array(rows[1 + first :])
        lines = [*numbers[1 : 1 + first][::-1], *numbers[1 + first :]]
        same_nose = np.allclose(upper[0], lower[0], atol=1e-9)
        points = np.concatenate([upper[::-1], lower[1:] if same_nose else lower])
        if same_nose:
            del lines[first]
    else:
        points, lines = np.array(rows), list(numbers)
    if len(points) < 7:
        raise FormatError(field, found=f"{len(points)} points", allowed="at least 7")
    nose = int(np.argmin(points[:, 0]))
    chord = float(points[:, 0].max() - points[nose, 0])
    if chord <= 0:
        raise GeometryError(field, because="all points have the same x")
    _refuse_mixed(points, nose, lines, field)
    # Files are in chords or per cent; a chord a hair over 1 is the tilt of a cambered section, not a scale.
    scale = 1.0 if 0.9 <= chord <= 1.1 else 100.0 if 90 <= chord <= 110 else chord
    made = points / scale
    if made[:nose, 1].mean() < made[nose + 1 :, 1].mean():
        made = made[::-1].copy()
    from ribwright.core.geometry.outlines import refuse_crossing

    refuse_crossing(made, False, field)
    return name, made


def respaced(section: FloatArray, *, count: int) -> FloatArray:
    """A section given by points, with ``count`` points a side at fixed shares of the way from its foremost point aft.

    Points of equal number then belong together when sections are lofted. The curve through the given points
    is a spline along the section, so that the nose stays round.
    """
    curve = spline(section)
    fine = np.linspace(curve.knots[0], curve.knots[-1], 40 * count)
    dense = evaluate(curve, fine)
    nose = int(np.argmin(dense[:, 0]))
    share = (1 - np.cos(np.linspace(0, np.pi, count))) / 2
    sides = []
    for part, at in ((dense[: nose + 1][::-1], fine[: nose + 1][::-1]), (dense[nose:], fine[nose:])):
        # x never falls along a side after this, so that a share of the chord is met once.
        x = np.maximum.accumulate(part[:, 0])
        wanted = x[0] + share * (x[-1] - x[0])
        # Next to the nose x says little about the place; the root of x runs evenly there.
        sides.append(evaluate(curve, np.interp(np.sqrt(wanted - x[0]), np.sqrt(x - x[0]), at)))
    return np.concatenate([sides[0][::-1], sides[1][1:]])


def _rows(text: str, field: str) -> tuple[str, list[tuple[float, float]], list[int]]:
    name = ""
    rows: list[tuple[float, float]] = []
    numbers: list[int] = []
    for number, line in enumerate(text.splitlines(), 1):
        parts = line.replace(",", " ").replace(";", " ").split()
        if not parts or line.lstrip().startswith("#"):
            continue
        try:
            x, y = (float(part) for part in parts)
        except ValueError:
            if rows:
                raise FormatError(
                    field,
                    found=f"line {number}: {line.strip()[:60]}",
                    allowed="two numbers in each line, after one line with the name",
                ) from None
            name = name or line.strip()[:80]
            continue
        if not (np.isfinite(x) and np.isfinite(y)):
            raise FormatError(field, found=f"line {number}: {line.strip()[:60]}", allowed="finite numbers")
        rows.append((x, y))
        numbers.append(number)
    if not rows:
        raise FormatError(field, because="there are no points in it", allowed="two numbers in each line")
    return name, rows, numbers


def _is_count(row: tuple[float, float], rest: int) -> bool:
    return row[0] == int(row[0]) and row[1] == int(row[1]) and row[0] > 1 and row[0] + row[1] == rest


def _refuse_mixed(points: FloatArray, nose: int, lines: list[int], field: str) -> None:
    """x must fall to the nose and rise after it; a step back says that points are in mixed order."""
    step = np.diff(points[:, 0])
    # A blunt nose or a nearly upright trailing edge may step back by a hair.
    slack = 0.01 * float(np.ptp(points[:, 0]))
    wrong = np.concatenate([step[:nose] > slack, step[nose:] < -slack])
    if wrong.any():
        k = int(np.flatnonzero(wrong)[0]) + 1
        raise GeometryError(
            field,
            because="points are in mixed order",
            found=f"line {lines[k]}: x goes from {points[k - 1, 0]:g} to {points[k, 0]:g}",
            allowed="trailing edge, upper side, nose, lower side, trailing edge; or upper side then lower side",
            mend="Sort the points of each side by x",
        )
