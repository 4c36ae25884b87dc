"""Parts: cut from a sheet, sawn from an extrusion, or bought; each with outline, weight and arm."""

from __future__ import annotations

from typing import Any

from ribwright.dunlin.things import (
    DRAWING_REVISION,
    Outline,
    Thing,
    area_in2,
    box,
    density_lb_in3,
    inch,
    size_of,
    texts,
)

SHEETS = {
    # material, thickness -> width and length of a sheet as sold
    ("2024-T3 clad", ".016"): (48.0, 144.0), ("2024-T3 clad", ".020"): (48.0, 144.0),
    ("2024-T3 clad", ".025"): (48.0, 144.0), ("2024-T3 clad", ".032"): (48.0, 144.0),
    ("2024-T3 clad", ".040"): (48.0, 144.0), ("2024-T3 clad", ".063"): (48.0, 96.0),
    ("6061-T6", ".063"): (24.0, 48.0), ("6061-T6", ".125"): (24.0, 48.0), ("6061-T4", ".032"): (48.0, 96.0),
    ("stainless", ".018"): (36.0, 48.0),
}  # fmt: skip

# name -> material, thickness of a leg (of the wedge bar in its middle), developed width, length as sold
EXTRUSIONS = {
    "angle 3/4 x 3/4 x 1/8": ("2024-T3", ".125", 1.5, 144.0),
    "angle 1 x 1 x 1/16": ("2024-T3", ".063", 2.0, 144.0),
    "angle 1-1/4 x 1-1/4 x 1/8": ("2024-T3", ".125", 2.5, 144.0),
    "wedge bar 7/8": ("6061-T6", ".084", 0.875, 144.0),
}


def sheet_stock(material: str, thickness: str) -> str:
    """Reference of the sheet in Stores that this is cut from."""
    name = material.replace(" ", "").replace("-", "").replace("clad", "C").replace("stainless", "SS")
    return f"SHEET-{name}-{thickness.lstrip('.')}"


def extrusion_stock(name: str) -> str:
    """Reference of the extrusion in Stores."""
    return "BAR-" + name.replace(" x ", "X").replace(" ", "-").replace("/", "-").upper()


def _part(
    ref: str,
    parent: str,
    title: str,
    hand: str,
    arm: float,
    weight: float,
    primary: bool,
    data: dict[str, Any],
) -> Thing:
    drawing = f"{parent}00"
    common = {
        "drawing": drawing, "revision": DRAWING_REVISION, "weight_lb": inch(weight, 4), "arm_in": inch(arm, 1),
        "primary": "yes" if primary else "no",
    }  # fmt: skip
    return Thing("part", ref, parent, title, hand, common | data, (drawing,))


def sheet_part(
    ref: str,
    parent: str,
    title: str,
    outline: Outline,
    *,
    thickness: str,
    arm: float,
    axes: str,
    origin: str,
    hand: str = "none",
    material: str = "2024-T3 clad",
    primary: bool = False,
    keeps: float = 1.0,
) -> Thing:
    """A part cut from a sheet; its outline is the flat blank.

    Args:
        outline: in the plane that ``axes`` names (two of x aft, y to the right, z up), inches.
        origin: where the axes start, in words.
        keeps: share of the blank's weight that is left after lightening holes.
    """
    width, length = size_of(outline)
    weight = area_in2(outline) * float(thickness) * density_lb_in3(material) * keeps
    return _part(
        ref, parent, title, hand, arm, weight, primary,
        {
            "made": "sheet", "material": material, "thickness": thickness, "stock": sheet_stock(material, thickness),
            "blank": [inch(width), inch(length)], "outline": texts(outline), "axes": axes, "origin": origin,
            "finish": "none" if material == "stainless" else "primer",
        },
    )  # fmt: skip


def extrusion_part(
    ref: str,
    parent: str,
    title: str,
    section: str,
    outline: Outline,
    *,
    arm: float,
    axes: str,
    origin: str,
    hand: str = "none",
    primary: bool = False,
) -> Thing:
    """A length of an extrusion; its outline is the developed legs."""
    material, thickness, _, _ = EXTRUSIONS[section]
    _, length = size_of(outline)
    weight = area_in2(outline) * float(thickness) * density_lb_in3(material)
    return _part(
        ref, parent, title, hand, arm, weight, primary,
        {
            "made": "extrusion", "section": section, "material": material, "thickness": thickness,
            "stock": extrusion_stock(section), "cut_length": inch(length), "outline": texts(outline), "axes": axes,
            "origin": origin, "finish": "primer",
        },
    )  # fmt: skip


def bought_part(
    ref: str, parent: str, title: str, *, weight: float, arm: float, order: str, primary: bool = False
) -> Thing:
    """A part that comes finished, with its order."""
    return _part(
        ref, parent, title, "none", arm, weight, primary, {"made": "bought", "order": order, "finish": "none"}
    )


def strip(p0: float, p1: float, width: float) -> Outline:
    """A long strip: from one place along the row to another, this wide."""
    return box(p0, 0.0, p1, width)
