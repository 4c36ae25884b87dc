"""Which rivet and which hole a seam takes: called out by the drawing, or worked out with the reason."""

from __future__ import annotations

from fractions import Fraction

from ribwright.core.audit import Worksheet
from ribwright.core.bench import Because
from ribwright.core.fastening.holes import Treatment, treatments
from ribwright.core.fastening.joint import LEAST_T_OVER_D, sheet_cell
from ribwright.core.fastening.length import head_diameter_in, rivet_length_in, rounded_length_16
from ribwright.core.fastening.rivets import SIZES, Rivet, read_part_number, rivet
from ribwright.core.fastening.row import kind_of
from ribwright.core.fastening.seam_spec import Seam
from ribwright.core.fastening.spacing import least_flange_in
from ribwright.core.fastening.strength import bearing_stress_psi, sheet_bearing_lbf, thin_sheet_factor
from ribwright.core.tables import table
from ribwright.core.units import number_text
from ribwright.errors import GeometryError, TableError

HARD_TO_DIMPLE_IN = 0.040
"""Common practice, no source: thicker sheet is hard to dimple by hand."""


def choose_rivet(
    spec: Seam, ws: Worksheet, where: str, thickness: tuple[float, ...], grip: float
) -> tuple[Rivet, Because]:
    rule = table("rivets/length")
    if spec.rivet is not None:
        called = read_part_number(spec.rivet, field="Rivet called out")
        ws.called_out("rivet", called.part_number, where)
        wanted = ws.step(
            "length by the handbook", rivet_length_in, grip_in=grip,
            extra_ratio=rule.cell("standard head", "extra").value, diameter_in=called.diameter_in,
        )  # fmt: skip
        off = called.length_in - wanted
        ws.note(
            f"The rivet called out is {number_text(abs(off), 3)} in {'longer' if off > 0 else 'shorter'} than grip plus 1.5 D "
            f"({'inside' if abs(off) <= 1 / 32 + 1e-9 else 'outside'} the usual 1/32 in either way). The drawing decides; the trial piece shows."
        )
        return called, Because.drawing(spec.drawing, spec.revision, "rivet called out")
    size = spec.size
    if size is not None:
        ws.called_out("rivet diameter", f"{size} in", where)
    else:
        size = size_for(thickness)
        ws.worked_out(
            "rivet diameter", f"{size} in",
            "at least the thickest sheet and about three times the thinner outer sheet, not under 3/32 in (NAVEDTRA 14018; AC 43.13-1B par. 4-58g)",
            value=float(Fraction(size)), unit="in", rung="seen",
        )  # fmt: skip
    d = float(Fraction(size))
    small = size in ("3/32", "1/8")
    row = rule.cell("half size" if small else "standard head", "extra")
    wanted = ws.step(
        "length before rounding", rivet_length_in, grip_in=grip, extra_ratio=row.value, diameter_in=d
    )
    step = rule.cell("half size" if small else "standard head", "step")
    length = rounded_length_16(wanted, step.value)
    made = rivet(spec.head, "AD", size, length)
    ws.worked_out(
        "rivet", made.part_number, f"next length sold, in steps of {step.text} in; 2117-T4 is the usual alloy",
        value=made.length_in, unit="in", rung="practice",
    )  # fmt: skip
    return made, Because.worked_out(
        f"{made.part_number}: grip {grip:.3f} in plus 1.5 D, next {step.text} in", row.rung
    )


def size_for(thickness: tuple[float, ...]) -> str:
    """Nearest size to three times the thinner sheet, never thinner than the thickest one.

    Raises:
        GeometryError: the stack is too thick for the rivets known here.
    """
    wanted = max(3 * min(thickness), max(thickness), 0.09375)
    thickest = max(thickness)
    # nearest size to three times the thinner sheet, but never thinner than the thickest sheet
    fitting = [s for s in SIZES if float(Fraction(s)) >= thickest - 1e-9]
    if not fitting:
        raise GeometryError(
            "Thickness", found=f"{thickest:.3f} in", allowed="at most 1/4 in for the rivets known here",
            mend="Call the fastener out as the drawing has it.",
        )  # fmt: skip
    return min(fitting, key=lambda s: abs(float(Fraction(s)) - wanted))


def choose_treatments(
    spec: Seam, ws: Worksheet, where: str, chosen: Rivet, thickness: tuple[float, ...]
) -> tuple[Treatment, ...]:
    proposed: tuple[Treatment, ...]
    if spec.head == "universal" or chosen.size in table("rivets/countersink-least-sheet").row_keys():
        proposed = treatments(head=spec.head, size=chosen.size, thickness_in=thickness)
    elif all(layer.treatment for layer in spec.layers):
        proposed = ()
    else:
        table("rivets/countersink-least-sheet").cell(
            chosen.size, "strict"
        )  # refuses, naming the sizes that it holds
        proposed = ()
    made = []
    for number, layer in enumerate(spec.layers):
        if (
            "dimple" in (layer.treatment, proposed[number].kind if proposed else "")
            and layer.thickness.value > HARD_TO_DIMPLE_IN
        ):
            ws.note(
                f"{layer.part}: {layer.thickness.text} is hard to dimple with hand tools in 2024-T3 (up to {HARD_TO_DIMPLE_IN:.3f} in is usual): try it on scrap, look for cracks."
            )
        if layer.treatment is not None:
            ws.called_out(f"hole in {layer.part}", layer.treatment, where)
            extra = proposed[number].extra_depth_in if proposed and layer.treatment == "countersink" else 0.0
            made.append(
                Treatment(
                    layer.treatment,
                    Because.drawing(spec.drawing, spec.revision, f"{layer.treatment} called out"),
                    extra,
                )
            )
            if proposed and proposed[number].kind != layer.treatment:
                ws.note(
                    f"{layer.part}: {layer.treatment} is called out where the usual rule gives {proposed[number].kind}. The drawing decides."
                )
        else:
            one = proposed[number]
            said = one.kind + (
                f", {one.extra_depth_in:.3f} in deeper than for the bare head" if one.extra_depth_in else ""
            )
            ws.worked_out(f"hole in {layer.part}", said, one.because.text, rung=one.because.rung)
            made.append(one)
    return tuple(made)


def head_band(
    spec: Seam, ws: Worksheet, chosen: Rivet, grip: float, hole: float
) -> tuple[float, float, float]:
    """Formed head at .5 D high for the thickest stack with the shortest rivet, as drawn, and the other way round."""
    usual = table("rivets/stack-tolerance")
    if spec.stack_tolerance is not None:
        plus = spec.stack_tolerance.value
        ws.called_out("stack, plus or minus", spec.stack_tolerance, "as entered")
    else:
        each = usual.cell("usual", "each sheet")
        plus = each.value * len(spec.layers)
        ws.assume(
            "stack, plus or minus",
            f"{plus:.4f} in",
            f"{each.text} in a sheet: {each.cited}",
            value=plus,
            unit="in",
        )
    length = usual.cell("usual", "rivet length").value
    d = chosen.diameter_in
    made = []
    for said, off in (("least metal", -1), ("as drawn", 0), ("most metal", 1)):
        proud = chosen.length_in - grip + off * (plus + length)
        made.append(
            ws.step(
                f"formed head at .5 D high, {said}", head_diameter_in, proud_in=max(proud, 0.0), diameter_in=d, hole_in=hole,
                grip_in=max(grip - off * plus, 0.0), head_height_in=0.5 * d,
            )
        )  # fmt: skip
    return made[0], made[1], made[2]


def note_flanges(spec: Seam, ws: Worksheet, chosen: Rivet) -> None:
    """Whether a usual die or set sits on each flange; a note, since the drawing decides the flange."""
    rows_of = table("rivets/tool-room")
    for layer in spec.layers:
        if layer.flange is None:
            continue
        room = ws.look_up("half width of die or set", rows_of.cell(chosen.size, "half width"))
        ratio = table("rivets/edge-distance").cell(kind_of(spec.head), "least").value
        least = ws.step(
            f"least flange for the usual tool, {layer.part}", least_flange_in, thickness_in=layer.thickness.value,
            bend_radius_in=layer.bend_radius.value if layer.bend_radius else 3 * layer.thickness.value, tool_half_width_in=room,
            edge_in=ratio * chosen.diameter_in,
        )  # fmt: skip
        if layer.flange.value < least - 1e-9:
            ws.note(
                f"{layer.part}: the flange of {layer.flange.text} is narrower than the {least:.3f} in that the usual die and the edge distance ask for together: "
                "a die ground narrow, or a set with an offset face; try it on scrap with the same bend."
            )


def note_strength(spec: Seam, ws: Worksheet, chosen: Rivet, thickness: tuple[float, ...]) -> None:
    """What one rivet carries, as a note: only where the tables hold rivet and sheets."""
    if spec.head.startswith("flush"):
        ws.note(
            "Strength is not worked out: no table of flush joints is held here, and a protruding rivet's value is not theirs."
        )
        return
    thinnest = min(range(len(thickness)), key=lambda i: thickness[i])
    layer, t, d = spec.layers[thinnest], thickness[thinnest], chosen.diameter_in
    if chosen.alloy != "AD" or layer.material not in table("materials/sheet").rows:
        ws.note("Strength is not worked out: the tables here don't hold this rivet alloy or sheet.")
        return
    if t / d < LEAST_T_OVER_D:
        ws.note(
            f"t/D is {t / d:.2f}: handbook bearing values hold from {LEAST_T_OVER_D} on, so strength is not stated."
        )
        return
    try:
        low, high = (sheet_cell(layer.material, t, c) for c in ("Fbru_1_5", "Fbru_2_0"))
    except TableError as refused:
        ws.note(f"Strength is not worked out: {refused.sentence()}")
        return
    ratio = 2.0 if layer.edge_distance is None else layer.edge_distance.value / d
    if ratio < 1.5:
        ws.note(
            "Strength is not worked out: the edge distance is under 1.5 D, where no bearing value is published."
        )
        return
    shear = ws.look_up("rivet in single shear", table("rivets/shear").cell(chosen.size, "shear"))
    factor = ws.step("thin-sheet factor", thin_sheet_factor, diameter_in=d, thickness_in=t)
    f_bru = ws.step(
        f"bearing stress, {layer.material}", bearing_stress_psi, f_bru_15_psi=low.canonical, f_bru_20_psi=high.canonical,
        edge_ratio=min(ratio, 2.0),
    )  # fmt: skip
    bearing = ws.step(
        "bearing in the thinnest sheet", sheet_bearing_lbf, f_bru_psi=f_bru, diameter_in=d, thickness_in=t
    )
    carries = min(shear * factor, bearing)
    ws.worked_out(
        "one rivet carries", f"{carries:.0f} lbf", "the smaller of shear and bearing, ultimate, dry; not approved data",
        value=carries, unit="lbf", rung="memory",
    )  # fmt: skip
