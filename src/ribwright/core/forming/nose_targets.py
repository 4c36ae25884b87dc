"""What was entered for a rolled edge, as targets, tools and scrap readings."""

from __future__ import annotations

import numpy as np

from ribwright.core.audit import Worksheet
from ribwright.core.forming.nose_spec import NoseRoll
from ribwright.core.forming.rack import Tool, built_up
from ribwright.core.forming.scrap import ScrapReading, reading_of
from ribwright.core.forming.target import (
    Target,
    circle_target,
    ellipse_target,
    half_thickness_radius_in,
    points_target,
)
from ribwright.core.tables import table
from ribwright.errors import MissingError


def targets_of(spec: NoseRoll, ws: Worksheet) -> tuple[Target, ...]:
    """The templates as targets, in order.

    Raises:
        MissingError: a station without a shape.
    """
    t = float(spec.thickness.value)
    flat = float(spec.flat.value)
    made: list[Target] = []
    for number, station in enumerate(spec.stations, start=1):
        place = float(station.place.value)
        own = [p for p in spec.points if abs(float(p.place.value) - place) < 1e-6]
        if own:
            xy = np.array([(float(p.x.value), float(p.y.value)) for p in own])
            made.append(points_target(station_in=place, points_in=xy, thickness_in=t, smooth=len(own) >= 9))
        elif station.radius is not None:
            arc = float(station.arc.value) if station.arc is not None else 90.0
            made.append(
                circle_target(
                    station_in=place,
                    inner_radius_in=float(station.radius.value),
                    arc_deg=arc,
                    thickness_in=t,
                    flat_in=flat,
                )
            )
        elif station.depth is not None and station.half_height is not None:
            made.append(
                ellipse_target(
                    station_in=place, depth_in=float(station.depth.value), half_height_in=float(station.half_height.value),
                    thickness_in=t, flat_in=flat,
                )
            )  # fmt: skip
        elif station.chord is not None and station.thick is not None and station.hinge is not None:
            radius = float(
                half_thickness_radius_in(
                    chord_in=float(station.chord.value),
                    thickness_share=float(station.thick.value),
                    hinge_share=float(station.hinge.value),
                )
            )
            ws.worked_out(
                f"radius at {place:g} in",
                f"{radius:.3f} in",
                "half the section's thickness at the hinge line",
                value=radius,
                unit="in",
            )
            made.append(
                circle_target(
                    station_in=place, inner_radius_in=radius - t, arc_deg=90.0, thickness_in=t, flat_in=flat
                )
            )
        else:
            raise MissingError(
                f"Templates {number}",
                allowed="an inside radius; or an ellipse; or chord, thickness and hinge line; or template points at its place",
                mend="Enter the shape of this station. With a paper template alone, enter the radius it seems to have; then measure it by photo.",
            )
    return tuple(made)


def tools_of(spec: NoseRoll, ws: Worksheet) -> tuple[Tool, ...]:
    """The rack, bare and built up."""
    held = table("forming/tool-material")
    for material in dict.fromkeys(tool.material for tool in spec.tools):
        ws.look_up(f"shear modulus, {material}", held.cell(material, "shear modulus"))
    bare = tuple(
        Tool(
            tool.name,
            float(tool.outside.value),
            float(tool.inside.value) if tool.inside is not None else 0.0,
            held.cell(tool.material, "shear modulus").canonical,
        )
        for tool in spec.tools
    )
    return built_up(
        bare, wrap_in=float(spec.wrap.value) if spec.wrap else 0.0, most_turns=spec.turns if spec.wrap else 0
    )


def readings_of(spec: NoseRoll) -> tuple[ScrapReading, ...]:
    """The scrap and what was rolled before of the same lot, in the order in which they are weighed.

    Raises:
        MissingError: part of the scrap was entered.
    """
    half = 0.5 * float(spec.thickness.value)
    scrap = scrap_of(spec)
    before = tuple(
        ScrapReading(
            float(one.radius.value) + half,
            float(one.limits.value) / (float(one.radius.value) + half),
            0.5 * float(one.tool.value),
        )
        for one in spec.earlier
    )
    return (*((scrap,) if scrap is not None else ()), *before)


def scrap_of(spec: NoseRoll) -> ScrapReading | None:
    """The scrap's reading, when all of it was entered.

    Raises:
        MissingError: part of it was entered.
    """
    entered = (spec.scrap_chord, spec.scrap_height, spec.scrap_tool)
    if all(one is None for one in entered):
        return None
    if spec.scrap_chord is None or spec.scrap_height is None or spec.scrap_tool is None:
        raise MissingError(
            "Scrap", allowed="chord, height and tool diameter together", mend="Enter all three or none."
        )
    limit = float(spec.scrap_limits.value)
    return reading_of(
        chord_in=float(spec.scrap_chord.value),
        sagitta_in=float(spec.scrap_height.value),
        chord_limit_in=limit,
        sagitta_limit_in=limit,
        tool_radius_in=0.5 * float(spec.scrap_tool.value),
        thickness_in=float(spec.thickness.value),
        inside=True,
    )
