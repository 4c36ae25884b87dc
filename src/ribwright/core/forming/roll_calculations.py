"""Round the rolled edge: what a scrap strip says, and what comes after the first roll, as calculations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, quantity, rows
from ribwright.core.bench import CAUTIONS
from ribwright.core.forming.closing import (
    GOOD_IN,
    opening_in,
    radius_from_opening_in,
)
from ribwright.core.forming.next_pass import NextPass, next_pass
from ribwright.core.forming.nose_spec import RoundTool
from ribwright.core.forming.rack import Tool, built_up
from ribwright.core.forming.scrap import (
    ScrapReading,
    bare_reading_ratio,
    calibrate,
    calibrated,
    gain_from_reading,
    radius_from_chord_in,
    reading_of,
)
from ribwright.core.forming.stock import alloy_field, grain_field, sheet_of, thickness_field, yield_field
from ribwright.core.forming.world import after_tool_per_in, band, fan
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import MissingError


@dataclass(frozen=True, slots=True)
class ScrapStrip:
    """A scrap of the sheet, rolled, let go and measured."""

    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    grain: str = grain_field()
    certificate: Quantity | None = yield_field()
    tool: Quantity = quantity(
        "in",
        "Tool diameter",
        help="outside, of the tool it was rolled on",
        example="1.315",
        low="0.1 in",
        high="12 in",
    )
    chord: Quantity = quantity(
        "in", "Chord", help="straight across the arc, inside", example="1.6", low="0.1 in", high="40 in"
    )
    height: Quantity = quantity(
        "in", "Height", help="of the arc over that chord, inside", example=".36", low="0.005 in", high="20 in"
    )
    limits: Quantity = quantity(
        "in",
        "Readings, plus or minus",
        help="nineteen times in twenty",
        example=".005",
        low="0.0005 in",
        high="0.2 in",
        default=".005",
    )
    part_tool: Quantity = quantity(
        "in",
        "Tool for the part",
        help="outside diameter of the tool you mean to use",
        example="1.315",
        low="0.1 in",
        high="12 in",
    )


@calculation(
    "scrap-strip",
    title="What a rolled scrap says",
    summary="Corrects the sheet by a rolled scrap: yield, the radius to expect of the part, and how well it must be read.",
    spec=ScrapStrip,
    results=(
        "scrap_radius",
        "reading",
        "yield_factor",
        "radius_before",
        "radius_after",
        "band_ratio",
        "believed_alone",
        "advice",
    ),
)
def scrap_strip(spec: ScrapStrip, ws: Worksheet) -> Outcome:
    """Radius from chord and height; blend with what was known."""
    sheet, prior = sheet_of(
        ws, alloy=spec.alloy, thickness=spec.thickness, grain=spec.grain, certificate=spec.certificate
    )
    ws.step(
        "inside radius of the scrap",
        radius_from_chord_in,
        chord_in=float(spec.chord.value),
        sagitta_in=float(spec.height.value),
    )
    limit, t = float(spec.limits.value), sheet.thickness_in
    reading = reading_of(
        chord_in=float(spec.chord.value), sagitta_in=float(spec.height.value), chord_limit_in=limit, sagitta_limit_in=limit,
        tool_radius_in=0.5 * float(spec.tool.value), thickness_in=t, inside=True,
    )  # fmt: skip
    world = fan(sheet, prior)
    state = calibrate(world, reading)
    part = after_tool_per_in(world, 0.5 * float(spec.part_tool.value))[:, 0]
    after = np.maximum(calibrated(part, state), 1e-4)
    ws.worked_out(
        "radius expected before",
        f"{1 / float(np.median(part)) - t / 2:.3f} in",
        "the fan of sheets",
        value=1 / float(np.median(part)) - t / 2,
        unit="in",
    )
    ws.worked_out(
        "radius expected now", f"{1 / float(np.median(after)) - t / 2:.3f} in",
        "each sheet of the fan moved by what the scrap says, weighed by how well it was read", value=1 / float(np.median(after)) - t / 2, unit="in",
    )  # fmt: skip
    at = {
        "scrap_tool_radius_in": 0.5 * float(spec.tool.value),
        "part_tool_radius_in": 0.5 * float(spec.part_tool.value),
    }
    ratio = gain_from_reading(world, **at, limits_share=reading.limits_share)
    alone = bare_reading_ratio(world, **at, limits_share=reading.limits_share)
    low, mid, high = (float(a) for a in band(calibrated(world.yield_factor, state)))
    advice = (
        "read well enough: the band is cut to less than half"
        if ratio < 0.5
        else "a better reading would help: take a longer arc, measure at both edges and average, use calipers on the height"
    )
    if alone > 1.0:
        advice = "read too coarsely: believed alone it would do harm; measure again"

    def inner(values: np.ndarray) -> tuple[float, float, float]:
        a, b, c = (float(v) for v in band(values))
        return 1.0 / max(c, 1e-4) - t / 2, 1.0 / max(b, 1e-4) - t / 2, 1.0 / max(a, 1e-4) - t / 2

    before, now = inner(part), inner(after)
    return Outcome(
        tuple(ws.steps),
        {
            "scrap_radius": Result("middle-line radius of the scrap", reading.radius_in, "in", reading.radius_in * (1 - reading.limits_share), reading.radius_in * (1 + reading.limits_share)),
            "reading": Result("reading, plus or minus", 100 * reading.limits_share, "%", places=1),
            "yield_factor": Result("yield over the working value", mid, "", low, high, places=3),
            "radius_before": Result("inside radius of the part, before", before[1], "in", before[0], before[2]),
            "radius_after": Result("inside radius of the part, now", now[1], "in", now[0], now[2]),
            "band_ratio": Result("width of the band now, of what it was", ratio, "", places=2),
            "believed_alone": Result("the same if the reading alone were believed", alone, "", places=2),
            "advice": Result("advice", advice),
        },
        cautions=(*CAUTIONS, "Valid for this sheet and this direction of its grain only."),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class NosePass:
    """A rolled zone as it was found: opening between mating holes, or chord and height."""

    alloy: str = alloy_field()
    thickness: Quantity = thickness_field()
    grain: str = grain_field()
    certificate: Quantity | None = yield_field()
    wanted: Quantity = quantity(
        "in", "Inside radius wanted", help="inside of the skin", example="1.0", low="0.05 in", high="20 in"
    )
    arc: Quantity = quantity(
        "deg",
        "Arc of one skin",
        help="how far round it goes",
        example="90",
        low="20 deg",
        high="170 deg",
        default="90",
    )
    tool: Quantity = quantity(
        "in", "Tool diameter used", help="outside, with its wrap", example="1.315", low="0.1 in", high="12 in"
    )
    opening: Quantity | None = quantity(
        "in",
        "Opening between mating holes",
        help="both skins let go; negative if they overlap",
        example="3/16",
        low="-10 in",
        high="40 in",
        optional=True,
    )
    chord: Quantity | None = quantity(
        "in",
        "Chord",
        help="across the rolled arc, inside",
        example="1.6",
        low="0.1 in",
        high="40 in",
        optional=True,
    )
    height: Quantity | None = quantity(
        "in",
        "Height",
        help="of the arc over that chord",
        example=".36",
        low="0.005 in",
        high="20 in",
        optional=True,
    )
    limits: Quantity = quantity(
        "in",
        "Readings, plus or minus",
        help="nineteen times in twenty",
        example="1/64",
        low="0.0005 in",
        high="0.5 in",
        default="1/64",
    )
    planned_low: Quantity | None = quantity(
        "in",
        "Least opening that the plan expects",
        help="from the plan of this edge",
        example=".07",
        low="-10 in",
        high="40 in",
        optional=True,
    )
    planned_high: Quantity | None = quantity(
        "in",
        "Largest opening that the plan expects",
        help="from the plan of this edge",
        example=".50",
        low="-10 in",
        high="40 in",
        optional=True,
    )
    tools: tuple[RoundTool, ...] = rows(RoundTool, "Round tools on hand", help="every one you have", least=1)
    wrap: Quantity | None = quantity(
        "in",
        "Wrap to build up with",
        help="thickness of one turn",
        example=".016",
        low="0.002 in",
        high="0.1 in",
        optional=True,
    )


@calculation(
    "nose-next-pass",
    title="After the first roll: stop, or what next",
    summary="From the opening or the chord of a rolled edge: stop, roll again with which tool, or why it can't be saved.",
    spec=NosePass,
    results=("verdict", "because", "found_radius", "error", "tool", "wrap_turns", "expected", "open_to"),
)
def nose_next_pass(spec: NosePass, ws: Worksheet) -> Outcome:
    """Find the radius that was made, correct the sheet by it, try the smaller tools."""
    sheet, prior = sheet_of(
        ws, alloy=spec.alloy, thickness=spec.thickness, grain=spec.grain, certificate=spec.certificate
    )
    t, limit = sheet.thickness_in, float(spec.limits.value)
    wanted = float(spec.wanted.value) + 0.5 * t
    arc = float(np.radians(float(spec.arc.value)))
    tool_radius = 0.5 * float(spec.tool.value)
    if spec.opening is not None:
        shown = float(spec.opening.value)
        found = radius_from_opening_in(wanted_radius_in=wanted, opening=shown, arc_rad=arc)
        step = 0.01 * found
        slope = float(
            opening_in(wanted_radius_in=wanted, rolled_radius_in=found + step, arc_rad=arc)
            - opening_in(wanted_radius_in=wanted, rolled_radius_in=found - step, arc_rad=arc)
        ) / (2 * step)
        reading = ScrapReading(
            found, float(np.clip(limit / max(abs(slope), 1e-3) / found, 0.002, 0.5)), tool_radius
        )
    elif spec.chord is not None and spec.height is not None:
        reading = reading_of(
            chord_in=float(spec.chord.value), sagitta_in=float(spec.height.value), chord_limit_in=limit, sagitta_limit_in=limit,
            tool_radius_in=tool_radius, thickness_in=t, inside=True,
        )  # fmt: skip
    else:
        raise MissingError(
            "Opening between mating holes",
            allowed="the opening, or chord and height",
            mend="Enter what you measured.",
        )
    ws.worked_out(
        "radius found",
        f"{reading.radius_in:.3f} in",
        "middle line, from what was measured",
        value=reading.radius_in,
        unit="in",
    )
    # the opening that needs no more rolling, as a share of the radius
    step = 0.01
    per_share = (
        abs(float(opening_in(wanted_radius_in=wanted, rolled_radius_in=wanted * (1 + step), arc_rad=arc)))
        / step
    )
    tolerance = float(np.clip(GOOD_IN / max(per_share, 1e-6), 0.005, 0.3))
    ws.assume(
        "good enough",
        f"{100 * tolerance:.1f} % of the radius",
        "an opening under 1/16 in closes with finger pressure",
        value=100 * tolerance,
        unit="%",
    )
    held = table("forming/tool-material")
    bare = tuple(
        Tool(
            tool.name,
            float(tool.outside.value),
            float(tool.inside.value) if tool.inside else 0.0,
            held.cell(tool.material, "shear modulus").canonical,
        )
        for tool in spec.tools
    )
    tools = built_up(
        bare, wrap_in=float(spec.wrap.value) if spec.wrap else 0.0, most_turns=3 if spec.wrap else 0
    )
    as_planned = _as_planned(spec)
    said = as_planned or next_pass(
        fan(sheet, prior),
        sheet,
        wanted_radius_in=wanted,
        measured=reading,
        tools=tools,
        tolerance_share=tolerance,
    )
    ws.worked_out("verdict", said.verdict, said.because)
    results = {
        "verdict": Result("do now", said.verdict),
        "because": Result("because", said.because),
        "found_radius": Result(
            "inside radius of a plain arc that opens as far" if as_planned else "inside radius found",
            reading.radius_in - 0.5 * t,
            "in",
        ),
    }
    if not as_planned:  # what was planned is no plain arc: its error says nothing there
        results["error"] = Result(
            "error of the radius", 100.0 * (reading.radius_in / wanted - 1.0), "%", places=1
        )
    if said.tool is not None:
        results["tool"] = Result("round tool", said.tool.name)
        results["wrap_turns"] = Result("turns of wrap on it", float(said.tool.turns), "", places=0)
    if (
        said.expected_in is not None
        and said.expected_low_in is not None
        and said.expected_high_in is not None
    ):
        results["expected"] = Result(
            "inside radius after it",
            said.expected_in - t / 2,
            "in",
            said.expected_low_in - t / 2,
            said.expected_high_in - t / 2,
        )
    if said.open_to_in is not None:
        results["open_to"] = Result("ease open to this radius, let go, look", said.open_to_in, "in")
    return Outcome(
        tuple(ws.steps),
        results,
        cautions=(*CAUTIONS, "A rolled edge can't be taken back: when in doubt, stop."),
    )


def _as_planned(spec: NosePass) -> NextPass | None:
    """An opening that the plan expected: the edge came out as it was meant to, and the template decides."""
    if spec.opening is None or spec.planned_low is None or spec.planned_high is None:
        return None
    low, high, found = (float(q.value) for q in (spec.planned_low, spec.planned_high, spec.opening))
    if not low <= found <= high:
        return None
    return NextPass(
        "stop",
        f"it opens as far as the plan expected ({low:.3f} to {high:.3f} in): lay the template on it. Within the "
        "template's tolerance it is done, and it closes by hand; more rolling with these tools makes it no better",
    )
