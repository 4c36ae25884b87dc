"""After a roll: from what was measured to the next pass, or stop.

Only the largest curvature ever reached counts. Where the sheet lay on the tool, the same tool again changes
nothing; a smaller tool does, and so does a further turn where the arc ended too early.
Method: docs/physics/forming.md, "Closing the loop".
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.forming.fibre import Array
from ribwright.core.forming.rack import Tool
from ribwright.core.forming.scrap import ScrapReading, calibrate, calibrated
from ribwright.core.forming.section import Sheet, curvature_per_in, moment_lbf, table_of
from ribwright.core.forming.world import Fan, after_tool_per_in, band
from ribwright.errors import MissingError, OutOfRangeError


@dataclass(frozen=True, slots=True)
class NextPass:
    """What to do now.

    Attributes:
        verdict: "stop", "roll again", "ease open" or "can't be saved".
        because: a sentence.
        tool: for another roll.
        expected_low_in, expected_in, expected_high_in: middle-line radius after it, 95 % band.
        open_to_in: middle-line radius to which an over-rolled edge is forced open before it is let go
            (negative: bent the other way past flat).
    """

    verdict: str
    because: str
    tool: Tool | None = None
    expected_low_in: float | None = None
    expected_in: float | None = None
    expected_high_in: float | None = None
    open_to_in: float | None = None


def next_pass(
    world: Fan,
    sheet: Sheet,
    *,
    wanted_radius_in: float,
    measured: ScrapReading,
    tools: tuple[Tool, ...],
    tolerance_share: float,
) -> NextPass:
    """Judge a rolled zone by its middle-line radius and say what is next.

    Args:
        world: the fan of sheets.
        sheet: the working sheet.
        wanted_radius_in: middle line.
        measured: radius found, its limits, the tool that made it; it also calibrates the fan.
        tools: tools on hand, bare or built up.
        tolerance_share: error of radius that is good enough.

    Raises:
        MissingError: no tools.
        OutOfRangeError: a tolerance or radius that can't be.
        FormingError: the measured radius contradicts the sheet's values.
    """
    if not tools:
        raise MissingError("tools", mend="enter the round tools on hand")
    if not 0.001 <= tolerance_share <= 0.5:
        raise OutOfRangeError("tolerance", found=f"{tolerance_share:g}", allowed="0.001 to 0.5 of the radius")
    if not 0.02 <= wanted_radius_in <= 50.0:
        raise OutOfRangeError("wanted radius", found=f"{wanted_radius_in:g} in", allowed="0.02 to 50 in")
    error = measured.radius_in / wanted_radius_in - 1.0
    if abs(error) <= tolerance_share:
        off = 100 * abs(error)
        return NextPass("stop", f"the radius is off the drawing's by {off:.1f} % only: it is good enough")
    if error < 0.0:
        return _eased(sheet, wanted_radius_in, measured, error)
    radii = np.array([tool.radius_in for tool in tools])
    low, middle, high = (
        float(1.0 / a[0]) for a in reversed(band(after_tool_per_in(world, measured.tool_radius_in)))
    )
    if measured.radius_in > high * (1.0 + measured.limits_share):
        same = tools[int(np.argmin(np.abs(radii - measured.tool_radius_in)))]
        if middle >= wanted_radius_in * (1.0 - tolerance_share):
            return NextPass(
                "roll again",
                "it stands more open than this tool leaves a sheet that lay tight on it: it was not held or not "
                "wrapped all the way. The same tool, the tape tight, to the same stop",
                tool=same,
                expected_low_in=low,
                expected_in=middle,
                expected_high_in=high,
            )
        return NextPass(
            "stop",
            "it stands more open than this tool leaves a sheet that lay tight on it, and a tight pass with it would "
            "more likely than not roll it too far: take a larger round tool, or turn less far, and try on the scrap",
        )
    state = calibrate(world, measured)
    smaller = np.flatnonzero(radii < measured.tool_radius_in - 0.004)
    if smaller.size == 0:
        return NextPass(
            "can't be saved",
            "every tool on hand is as large as the one used: rolling again changes nothing where the sheet "
            "lay on the tool; get a smaller one",
        )
    left = np.maximum(calibrated(after_tool_per_in(world, radii[smaller]), state), 1e-6)
    lows, middles, highs = np.quantile(left, [0.025, 0.5, 0.975], axis=0)
    miss = np.abs(1.0 / middles / wanted_radius_in - 1.0)
    at = int(np.argmin(miss))
    expected = 1.0 / float(middles[at])
    if abs(expected / wanted_radius_in - 1.0) > abs(error):
        return NextPass(
            "stop",
            f"the next smaller tool would leave {expected:.3f} in, further off than it is now; build up a tool "
            "between the two, or close it as it is",
        )
    if float(np.mean(1.0 / left[:, at] < wanted_radius_in * (1.0 - tolerance_share))) > 0.25:
        return NextPass(
            "stop",
            "with any of these tools the edge would more likely than a quarter be rolled too far, and that can't "
            "be taken back; build up a tool in between",
        )
    return NextPass(
        "roll again",
        "the sheet stands open: a smaller tool, the same start and stop",
        tool=tools[int(smaller[at])],
        expected_low_in=1.0 / float(highs[at]),
        expected_in=expected,
        expected_high_in=1.0 / float(lows[at]),
    )


def _eased(sheet: Sheet, wanted: float, measured: ScrapReading, error: float) -> NextPass:
    """An over-rolled zone: how far it must be forced open so that it comes back to the wanted radius."""
    table = table_of(sheet)
    closed = 1.0 / (measured.tool_radius_in + 0.5 * sheet.thickness_in)
    moment = float(moment_lbf(table, [closed])[0, 0])
    # on the branch from the tightest point, opened by d: moment M - 2 M(d/2); let go: back by 2 K(-that/2)
    opening = np.linspace(0.0, 2.5 * closed, 400)
    opened: Array = moment - 2.0 * moment_lbf(table, 0.5 * opening)[0]
    left = closed - opening + 2.0 * curvature_per_in(table, np.maximum(-opened, 0.0) / 2.0)[0]
    left = np.where(opened < 0.0, left, np.inf)
    # the branch is the model's; the edge is the measured one: shift by what it was found to be
    free = closed - 2.0 * float(curvature_per_in(table, [moment / 2.0])[0, 0])
    shift = 1.0 / measured.radius_in - free
    reached = np.flatnonzero(left + shift <= 1.0 / wanted)
    if reached.size == 0 or error < -0.25:
        return NextPass(
            "can't be saved",
            f"it was rolled {100 * -error:.0f} % too far; forced open that much it takes waves and a hard line",
        )
    to = float(closed - opening[reached[0]])
    return NextPass(
        "ease open",
        f"it was rolled {100 * -error:.0f} % too far; more rolling makes it worse. Ease it open over a larger round "
        "by hand a little at a time and look after each; the law says how far, but try it on the scrap first",
        open_to_in=1.0 / to if abs(to) > 1e-6 else 1e6,
    )


def verdict_from_opening(*, opening_in: float, good_in: float, again_in: float) -> str:
    """The plain stop rule: "stop", "close it or roll once more", "roll again" (common practice, no source).

    Raises:
        OutOfRangeError: limits out of order.
    """
    if not 0.0 < good_in < again_in:
        raise OutOfRangeError(
            "limits of the opening", found=f"{good_in:g}, {again_in:g}", allowed="0 < good < again"
        )
    size = abs(opening_in)
    if size <= good_in:
        return "stop"
    return "roll again" if size > again_in else "close it or roll once more"
