"""The flat of a rolled nose skin: its outline, where the bend runs, and every hole at its place on the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ribwright.core.geometry import (
    FlatSkin,
    Outline,
    flat_of,
    nose_outline,
    on_skin,
    outline,
    skin_between,
    to_flat,
    with_arcs,
)
from ribwright.core.geometry.outlines import FloatArray, area_in2
from ribwright.core.scene import Item, Line, Marker, Point, Scene, Text, hand_mark, orientation, together
from ribwright.core.scene.items import HandOf
from ribwright.core.templates.shape import FIT_IN, as_item, as_point
from ribwright.core.units import bound_text
from ribwright.errors import GeometryError


@dataclass(frozen=True, slots=True)
class NoseStation:
    """A rolled nose at one station: inside radius, flats from the end of the bend, slopes of the flats."""

    station_in: float
    inside_radius_in: float
    upper_flat_in: float
    lower_flat_in: float
    upper_slope_deg: float
    lower_slope_deg: float | None = None
    aft_in: float = 0.0
    up_in: float = 0.0


@dataclass(frozen=True, slots=True)
class SkinHole:
    """A hole by station and by its distance along the skin from the foremost line of the nose, on the side
    named; measured on the middle of the sheet, where lengths do not change in bending."""

    station_in: float
    along_in: float
    side: str
    diameter_in: float
    letter: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class SkinFlat:
    """The flat with its drawing, holes (n, 2), area, and how far the skin is from a sheet that only bends."""

    scene: Scene
    flat: FlatSkin
    blank: Outline
    holes_in: FloatArray
    area_in2: float


def nose_at(station: NoseStation, outwards_in: float) -> Outline:
    """The section at a station, ``outwards_in`` outside the inside surface; its arc is parted where the nose is
    foremost, so that this line is on the skin."""
    made = nose_outline(
        radius_in=station.inside_radius_in + outwards_in,
        upper_flat_in=station.upper_flat_in,
        lower_flat_in=station.lower_flat_in,
        upper_slope_deg=station.upper_slope_deg,
        lower_slope_deg=station.lower_slope_deg,
    )
    end_u, top, low, end_l = made.points_in
    lower = station.upper_slope_deg if station.lower_slope_deg is None else station.lower_slope_deg
    turns = np.radians([90 + station.upper_slope_deg, 90 + lower])
    bulges = np.array([0.0, *np.tan(turns / 4), 0.0, 0.0])
    # Radii about one centre: the inside's foremost point is the origin.
    shift = np.array([station.aft_in - outwards_in, station.up_in])
    return Outline(np.array([end_u, top, [0.0, 0.0], low, end_l]) + shift, bulges, False)


def skin_flat(
    root: NoseStation,
    tip: NoseStation,
    *,
    thickness_in: float,
    holes: Sequence[SkinHole] = (),
    title: str = "Nose skin",
    hand: HandOf = "none",
    stations_in: Sequence[float] = (),
    lettering_in: float = 0.08,
) -> SkinFlat:
    """The straight-tapered nose skin laid flat.

    Args:
        root, tip: its two ends.
        thickness_in: of the sheet; its middle keeps its length.
        holes: places on the rolled skin.
        title, hand: for the drawing.
        stations_in: stations to mark across the flat.
        lettering_in: height of the small lettering; larger for a picture that is shown reduced.

    Raises:
        GeometryError: a hole off the skin, two holes on one place, or a skin that would have to stretch by
            more than .005 in; says how much.
    """
    first, second = nose_at(root, thickness_in / 2), nose_at(tip, thickness_in / 2)
    skin = skin_between(
        first, second, station_first_in=root.station_in, station_second_in=tip.station_in, per_arc=181
    )
    middle = len(skin.first_in) // 2
    flat = flat_of(skin, start_at=middle)
    if flat.stretch_in > 0.005:
        raise GeometryError(
            "nose sections",
            because="this skin can't be rolled from flat sheet without stretching it",
            found=f"{flat.stretch_in:.4f} in of stretch, {flat.twist_deg:.2f} degrees of twist along the flats",
            allowed=".005 in of stretch",
            mend="Give both ends the same slopes, or split the skin at the twist",
        )
    blank = _blank(flat)
    places = _holes(flat, middle, holes)
    scene = _drawing(flat, blank, places, holes, root, tip, title, hand, stations_in, lettering_in)
    return SkinFlat(scene, flat, blank, places, abs(area_in2(blank)))


def _blank(flat: FlatSkin) -> Outline:
    """Edge of the flat, its curved ends as true arcs."""
    points: list[FloatArray] = []
    bulges: list[float] = []
    for edge in (flat.first_in[::-1], flat.second_in):
        # skin_between lays 8 steps over each straight flat; what lies between is the bend.
        fit = with_arcs(edge[8:-8], tolerance_in=FIT_IN)
        points += [edge[0], *fit.points_in, edge[-1]]
        bulges += [0.0, *fit.bulges, 0.0]
    return outline(np.array(points), bulges, field="flat")


def _holes(flat: FlatSkin, middle: int, holes: Sequence[SkinHole]) -> FloatArray:
    if not holes:
        return np.zeros((0, 2))
    for n, hole in enumerate(holes):
        if hole.side not in ("upper", "lower") or hole.along_in < 0:
            raise GeometryError(
                "hole", because=f"hole {n + 1} needs a side and a distance of 0 or more", found=hole.side
            )
    # Rulings run from the upper edge round the nose to the lower.
    along = np.array([-h.along_in if h.side == "upper" else h.along_in for h in holes])
    number, share = on_skin(flat.skin, np.array([h.station_in for h in holes]), along, origin=middle)
    places = to_flat(flat, number, share)
    size = np.array([h.diameter_in for h in holes])
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1)) - (size[:, None] + size[None]) / 2
    apart[np.tril_indices(len(holes))] = np.inf
    if (apart < 0).any():
        i, j = np.argwhere(apart < 0)[0]
        raise GeometryError(
            "holes", because=f"holes {i + 1} and {j + 1} run into each other", mend="Take one of them out"
        )
    return places


def _drawing(
    flat: FlatSkin,
    blank: Outline,
    places: FloatArray,
    holes: Sequence[SkinHole],
    root: NoseStation,
    tip: NoseStation,
    title: str,
    hand: HandOf,
    stations_in: Sequence[float],
    h: float,
) -> Scene:
    items: list[Item] = [as_item(blank)]
    rows = len(flat.first_in)
    middle = rows // 2
    # skin_between lays 8 steps over each flat: the bend begins and ends there.
    for row, words in ((8, "bend ends, upper side"), (rows - 9, "bend ends, lower side")):
        a, b = as_point(flat.first_in[row]), as_point(flat.second_in[row])
        items += [Line(a, b, "fold", "marked"), _along(a, b, words, h)]
    a, b = as_point(flat.first_in[middle]), as_point(flat.second_in[middle])
    items += [Line(a, b, "centre", "marked"), _along(a, b, "foremost line of the nose", h, share=0.62)]
    for station in stations_in:
        share = (station - root.station_in) / (tip.station_in - root.station_in)
        if 0 <= share <= 1:
            across = flat.first_in + share * (flat.second_in - flat.first_in)
            items.append(as_item(Outline(across, np.zeros(rows), False), "thin", "printed"))
            # inside the outline, clear of an edge that rises under the lettering
            side, anchor = (-0.6 * h, "end") if share > 0.9 else (0.6 * h, "start")
            foot = across[0] + np.array([side, 0.6 * h])
            items.append(Text(as_point(foot), f"STA {station:g}", h, anchor))  # type: ignore[arg-type]
    for place, hole in zip(places, holes, strict=True):
        items.append(Marker(as_point(place), "hole", hole.letter, hole.diameter_in, h))
    at = flat.first_in[middle] + 0.12 * (flat.second_in[middle] - flat.first_in[middle])
    words = f"{title}: inside of the sheet up; mark with a felt tip only"
    half = 0.88 * float(flat.first_in[-1][1] - flat.first_in[middle][1]) + 0.12 * float(
        flat.second_in[-1][1] - flat.second_in[middle][1]
    )
    up = (
        6 * h if half > 8.5 * h else max(6 * h, half + 1.5 * h)
    )  # inside the outline or above it, never across
    notes: list[Item] = [Text((float(at[0]), float(at[1]) + up), words, 1.75 * h)]
    inbd = (-1.0, 0.0) if tip.station_in > root.station_in else (1.0, 0.0)
    return together(
        Scene(tuple(items + notes)),
        hand_mark((float(at[0]), float(at[1]) + up + 4 * h), hand, 3.75 * h),
        orientation((float(at[0]) + 15 * h, float(at[1]) - 11 * h), inbd=inbd, size=7.5 * h),
        title=f"{title}, flat",
        described=(
            f"Flat of {title} from station {root.station_in:g} to {tip.station_in:g} in, {len(holes)} holes, "
            f"stretch {bound_text(flat.stretch_in, 'in', places=5)}."
        ),
    )


def _along(a: Point, b: Point, words: str, height: float, *, share: float = 0.03) -> Text:
    """Words along a line from a share of its length on; neighbours begin elsewhere, so that they stay clear enlarged."""
    angle = float(np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0])))
    lift = 0.6 * height
    x = a[0] + share * (b[0] - a[0]) - lift * np.sin(np.radians(angle))
    y = a[1] + share * (b[1] - a[1]) + lift * np.cos(np.radians(angle))
    return Text((float(x), float(y)), words, height, angle_deg=angle)
