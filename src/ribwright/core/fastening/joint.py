"""What a riveted joint carries, mode by mode, as drawn and as built."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    flag,
    quantity,
    rows,
    text,
    whole,
)
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.fastening.strength import (
    bearing_stress_psi,
    net_section_lbf,
    rivet_shear_lbf,
    sheet_bearing_lbf,
    tear_out_lbf,
    thin_sheet_factor,
    thin_sheet_factor_double,
)
from ribwright.core.scene import Circle, Dimension, Item, Polygon, Scene, Text
from ribwright.core.tables import Cell, table
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, InputError, MissingError, OutsideTableError

MATERIALS = ("2024-T3 clad", "2024-T3", "6061-T6", "7075-T6", "2024-T42", "5052-H32", "5052-H34")
ALLOYS = ("AD", "D", "DD", "B", "A")
LEAST_T_OVER_D = 0.18


@dataclass(frozen=True, slots=True)
class Plate:
    """One sheet of the joint."""

    part: str = text("Part", help="the part's reference or what it is", example="skin")
    thickness: Quantity = quantity(
        "in", "Thickness", help="of this sheet", example=".032", low="0.010 in", high="0.25 in"
    )
    material: str = choice("Material", MATERIALS, help="alloy and temper", default="2024-T3 clad")
    edge_distance: Quantity = quantity(
        "in", "Edge distance along the load", help="hole centre to the edge that the load pulls toward", example="1/4 in",
        low="0.03 in", high="20 in",
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Joint:
    """Rivets with protruding heads in a lap (single shear) or between two straps (double shear)."""

    title: str = text("Joint", help="what is joined", example="skin lap")
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    layers: tuple[Plate, ...] = rows(
        Plate, "Layers", help="two in single shear, three in double shear", least=2
    )
    head: str = choice("Head", ("universal", "flush 100°"), help="manufactured head", default="universal")
    size: str = choice("Rivet diameter", SIZES, help="as drawn", default="1/8")
    alloy: str = choice("Rivet alloy", ALLOYS, help="letters of its part number", default="AD")
    count: int = whole("Rivets", help="that share the load, equally loaded", example="10", low=1, high=10000)
    in_line: int | None = whole(
        "Holes in one line across the load", help="for the sheet between them", example="5", low=1, high=5000, optional=True
    )  # fmt: skip
    width: Quantity | None = quantity(
        "in",
        "Width of the sheet",
        help="across the load",
        example="5 in",
        low="0.1 in",
        high="500 in",
        optional=True,
    )
    load: Quantity | None = quantity(
        "lbf", "Ultimate load", help="that the joint must carry; without it capacity alone is stated", example="2000 lb",
        low="0.1 lbf", high="1000000 lbf", optional=True,
    )  # fmt: skip
    built_hole: Quantity | None = quantity(
        "in",
        "Hole as built",
        help="the largest found",
        example=".159",
        low="0.06 in",
        high="0.6 in",
        optional=True,
    )
    built_size: str | None = choice(
        "Rivet as built", SIZES, help="if another diameter went in", optional=True
    )
    built_edge: Quantity | None = quantity(
        "in", "Edge distance as built", help="the shortest found, in the first layer", example=".2", low="0.02 in", high="20 in",
        optional=True,
    )  # fmt: skip
    built_count: int | None = whole(
        "Rivets as built", help="if one is missing", example="9", low=1, high=10000, optional=True
    )

    def __post_init__(self) -> None:
        if len(self.layers) > 3:
            raise InputError(
                "Layers", found=len(self.layers), allowed="two or three", mend="Take sheets that move together as one layer.",
            )  # fmt: skip
        if (self.width is None) != (self.in_line is None):
            raise MissingError(
                "Width of the sheet" if self.width is None else "Holes in one line across the load",
                allowed="both or neither", mend="The sheet between the holes needs both.",
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Mode:
    """One way for a joint to fail and the load at which it does."""

    name: str
    load_lbf: float
    rung: str


@dataclass(frozen=True, slots=True)
class Site:
    """The numbers of one state of a joint: as drawn or as built."""

    size: str
    hole_in: float
    edges_in: tuple[float, ...]
    count: int


def sheet_cell(material: str, thickness_in: float, column: str) -> Cell:
    """An allowable for this thickness; clad sheet changes its row at .063 in.

    Raises:
        OutsideTableError: the table doesn't hold this thickness.
    """
    allow = table("materials/sheet")
    tried = []
    for row in (material, f"{material} thick"):
        if row not in allow.rows:
            continue
        low, high = allow.cell(row, "least t").canonical, allow.cell(row, "greatest t").canonical
        tried.append(f"{low:g} to {high:g} in")
        if low - 1e-9 <= thickness_in <= high + 0.0006:
            return allow.cell(row, column)
    raise OutsideTableError(
        f"Thickness of {material}",
        found=f"{thickness_in:g} in",
        allowed="; ".join(tried) or "a material of the table",
    )


def capacity(
    plates: Sequence[Plate], site: Site, alloy: str, ws: Worksheet | None = None, *, said: str = ""
) -> tuple[Mode, ...]:
    """Failing load of the whole joint in each mode; the lowest governs.

    Raises:
        OutsideTableError: thin sheet under t/D .18, or bearing asked under e/D 1.5 without tear-out to take its place.
    """
    sheet = ws or Worksheet()
    d = float(Fraction(site.size))
    hole_nominal = table("rivets/nominal-hole").cell(site.size, "diameter").canonical
    stress = table("rivets/shear-stress").cell(alloy, "Fsu")
    one = sheet.step(
        f"one rivet in single shear{said}", rivet_shear_lbf, hole_in=hole_nominal, f_su_psi=stress.canonical
    )
    planes = len(plates) - 1
    if planes == 1:
        factor = sheet.step(
            f"thin-sheet factor{said}", thin_sheet_factor, diameter_in=d, thickness_in=min(p.thickness.value for p in plates)
        )  # fmt: skip
    else:
        factor = sheet.step(
            f"thin-sheet factor, double shear{said}", thin_sheet_factor_double, diameter_in=d,
            middle_thickness_in=plates[1].thickness.value,
        )  # fmt: skip
    modes = [Mode("rivets in shear", site.count * planes * one * max(factor, 0.0), stress.rung)]
    groups = [(p, e) for p, e in zip(plates, site.edges_in, strict=True)]
    bearing, tearing = [], []
    for plate, edge in groups:
        t = plate.thickness.value
        if t / d < LEAST_T_OVER_D:
            raise OutsideTableError(
                f"{plate.part}, thickness over rivet diameter", found=f"{t / d:.3f}", allowed=f"{LEAST_T_OVER_D} or more",
                mend="Handbook bearing values end there: only a test tells; ask the designer.",
            )  # fmt: skip
        low, high = (sheet_cell(plate.material, t, c) for c in ("Fbru_1_5", "Fbru_2_0"))
        f_bru = float(
            bearing_stress_psi(
                f_bru_15_psi=low.canonical,
                f_bru_20_psi=high.canonical,
                edge_ratio=min(max(edge / d, 1.5), 2.0),
            )
        )
        load = sheet.step(
            f"bearing in {plate.part}{said}",
            sheet_bearing_lbf,
            f_bru_psi=f_bru,
            diameter_in=d,
            thickness_in=t,
        )
        tear = sheet.step(
            f"tear-out of {plate.part}{said}", tear_out_lbf, edge_in=edge, hole_in=site.hole_in, thickness_in=t,
            f_su_psi=sheet_cell(plate.material, t, "Fsu").canonical,
        )  # fmt: skip
        bearing.append(load)
        tearing.append(max(tear, 0.0))
    # in double shear the two straps share what the middle sheet brings
    share = [bearing[0], bearing[1]] if planes == 1 else [bearing[0] + bearing[2], bearing[1]]
    torn = [tearing[0], tearing[1]] if planes == 1 else [tearing[0] + tearing[2], tearing[1]]
    modes.append(Mode("sheet in bearing", site.count * min(share), "seen"))
    modes.append(Mode("edge torn out", site.count * min(torn), "derived"))
    return tuple(modes)


def weakest(modes: Sequence[Mode]) -> Mode:
    """The mode that governs."""
    return min(modes, key=lambda m: m.load_lbf)


def drawn_site(plates: Sequence[Plate], size: str, count: int) -> Site:
    """The state that the drawing asks for."""
    hole = table("rivets/nominal-hole").cell(size, "diameter").canonical
    return Site(size, hole, tuple(p.edge_distance.value for p in plates), count)


@calculation(
    "joint-strength",
    title="Strength of a riveted joint",
    summary="Shear, bearing, tear-out and net section of a lap or double-shear joint, and as built against as drawn in per cent.",
    spec=Joint,
    results=("capacity", "governs", "shear", "bearing", "tear_out", "net_section", "as_built", "as_built_governs", "as_built_percent", "margin"),
)  # fmt: skip
def joint_strength(spec: Joint, ws: Worksheet) -> Outcome:
    """Capacity by modes, margin if a load is given, and what a mistake costs."""
    if spec.head.startswith("flush"):
        raise OutsideTableError(
            "Head", found="flush 100°", allowed="universal (protruding)",
            mend="No table of flush joints is held here, and a protruding rivet's value is not theirs. Ask the designer for the joint's allowable.",
        )  # fmt: skip
    drawn = drawn_site(spec.layers, spec.size, spec.count)
    for plate, edge in zip(spec.layers, drawn.edges_in, strict=True):
        if edge <= drawn.hole_in / 2:
            raise GeometryError(
                f"Edge distance of {plate.part}", found=plate.edge_distance.text, allowed=f"more than half the hole, {drawn.hole_in / 2:.3f} in",
                mend="The hole would cut the edge.",
            )  # fmt: skip
    short = [
        p.part
        for p, e in zip(spec.layers, drawn.edges_in, strict=True)
        if e / float(Fraction(spec.size)) < 1.5
    ]
    if short:
        ws.note(
            f"{', '.join(short)}: edge distance under 1.5 D, where no bearing value is published; the value at 1.5 D and tear-out are used together."
        )
    modes = list(capacity(spec.layers, drawn, spec.alloy, ws))
    net = _net(spec, ws, drawn.hole_in)
    if net is not None:
        modes.append(net)
    least = weakest(modes)
    built_modes = None
    if any(x is not None for x in (spec.built_hole, spec.built_size, spec.built_edge, spec.built_count)):
        size = spec.built_size or spec.size
        hole = (
            spec.built_hole.value
            if spec.built_hole
            else table("rivets/nominal-hole").cell(size, "diameter").canonical
        )
        first = spec.built_edge.value if spec.built_edge else drawn.edges_in[0]
        if first <= hole / 2:
            raise GeometryError(
                "Edge distance as built", found=f"{first:.3f} in with a hole of {hole:.3f} in", allowed=f"more than half the hole, {hole / 2:.3f} in",
                mend="The hole cuts the edge: nothing is left to reckon with; ask the designer.",
            )  # fmt: skip
        site = Site(size, hole, (first, *drawn.edges_in[1:]), spec.built_count or spec.count)
        built_modes = list(capacity(spec.layers, site, spec.alloy, ws, said=", as built"))
        net_built = _net(spec, ws, hole)
        if net_built is not None:
            built_modes.append(net_built)
    built = weakest(built_modes) if built_modes else None
    percent = None if built is None else 100 * built.load_lbf / least.load_lbf
    ws.worked_out("governs", least.name, "the lowest of the modes, ultimate, dry pin; about 10 % less in a real joint (MIL-HDBK-5 section 1.4.7)", value=least.load_lbf, unit="lbf", rung=least.rung)  # fmt: skip
    findings: tuple[Finding, ...] = ()
    requirements: tuple[Requirement, ...] = ()
    margin: Result = Result("margin", "no load was given")
    if spec.load is not None:
        carries = (built or least).load_lbf
        enough = Requirement(
            name="capacity", unit="lbf", low=spec.load.value, nominal=None, high=None,
            because=Because.worked_out(f"ultimate load entered, {spec.load.text}"), how="this worksheet",
            when_low="Ask the designer: the joint does not carry the load entered.", when_high="Go on.", refer_low=spec.load.value,
        )  # fmt: skip
        requirements = (enough,)
        findings = (compare(enough, Reading(carries, "lbf", where="as built" if built else "as drawn")),)
        margin = Result("margin", 100 * (carries / spec.load.value - 1), "%")
    by_name = {m.name: m.load_lbf for m in modes}
    results = {
        "capacity": Result("the joint carries, ultimate", least.load_lbf, "lbf"),
        "governs": Result("governs", least.name),
        "shear": Result("rivets in shear", by_name["rivets in shear"], "lbf"),
        "bearing": Result("sheet in bearing", by_name["sheet in bearing"], "lbf"),
        "tear_out": Result("edge torn out", by_name["edge torn out"], "lbf"),
        "net_section": Result("sheet between the holes", net.load_lbf, "lbf") if net else Result("sheet between the holes", "width was not entered"),
        "as_built": Result("as built it carries", built.load_lbf, "lbf") if built else Result("as built it carries", "nothing was entered as built"),
        "as_built_governs": Result("governs as built", built.name if built else "nothing was entered as built"),
        "as_built_percent": Result("as built against as drawn", percent, "%") if percent is not None else Result("as built against as drawn", "nothing was entered as built"),
        "margin": margin,
    }  # fmt: skip
    cautions = list(CAUTIONS)
    cautions.insert(
        0, "Published allowables, equally shared load. Not approved data: the designer's figure decides."
    )
    if spec.primary:
        cautions.insert(
            0, "Primary structure: take these numbers into the question to the designer; nothing is proposed."
        )
    return Outcome(tuple(ws.steps), results, requirements, findings, tuple(cautions), _picture(spec, modes))


def _net(spec: Joint, ws: Worksheet, hole_in: float) -> Mode | None:
    if spec.width is None or spec.in_line is None:
        return None
    if spec.in_line * hole_in >= spec.width.value:
        raise GeometryError(
            "Holes in one line across the load", found=f"{spec.in_line} of {hole_in:.3f} in on {spec.width.text}", allowed="holes that leave some sheet",
            mend="Count the holes of one line only.",
        )  # fmt: skip
    loads = [
        ws.step(
            f"net section of {p.part}", net_section_lbf, width_in=spec.width.value, hole_count=float(spec.in_line), hole_in=hole_in,
            thickness_in=p.thickness.value, f_tu_psi=sheet_cell(p.material, p.thickness.value, "Ftu_L").canonical,
        )
        for p in spec.layers
    ]  # fmt: skip
    least = min(loads) if len(loads) == 2 else min(loads[1], loads[0] + loads[2])
    return Mode("sheet between the holes", least, "seen")


def _picture(spec: Joint, modes: Sequence[Mode]) -> Scene:
    most = max(m.load_lbf for m in modes)
    items: list[Item] = [Text((0.0, 0.5), f"{spec.title}: failing load by mode", 0.16, bold=True)]
    for number, mode in enumerate(sorted(modes, key=lambda m: m.load_lbf)):
        y = -0.5 * number
        long = 4.0 * mode.load_lbf / most if most > 0 else 0.0
        items.append(Text((0.0, y - 0.05), mode.name, 0.13))
        items.append(
            Polygon(
                (
                    (2.4, y - 0.1),
                    (2.4 + max(long, 0.02), y - 0.1),
                    (2.4 + max(long, 0.02), y + 0.16),
                    (2.4, y + 0.16),
                ),
                "heavy" if number == 0 else "outline",
                fill="tint" if number == 0 else "none",
            )
        )
        items.append(
            Text(
                (2.5 + long, y - 0.05),
                f"{mode.load_lbf:,.0f} lbf" + (" governs" if number == 0 else ""),
                0.13,
            )
        )
    y = -0.5 * len(modes) - 1.2
    e, d = spec.layers[0].edge_distance.value, float(Fraction(spec.size))
    k = 0.9 / max(e, 0.05)
    items += [
        Polygon(((0.0, y), (3.0, y), (3.0, y + 1.2), (0.0, y + 1.2)), "outline"),
        Circle((3.0 - e * k, y + 0.6), min(d * k / 2, 0.5), "heavy"),
        Dimension((3.0 - e * k, y), (3.0, y), -0.3, spec.layers[0].edge_distance.text),
    ]
    said = "; ".join(f"{m.name} {m.load_lbf:,.0f} lbf" for m in sorted(modes, key=lambda m: m.load_lbf))
    return Scene(tuple(items), f"Failing load by mode: {spec.title}", said)
