"""One seam, from drawing data to worksheet: every value called out or worked out."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation
from ribwright.core.bench import CAUTIONS, Because, Finding, Requirement
from ribwright.core.fastening.choice import (
    choose_rivet,
    choose_treatments,
    head_band,
    note_flanges,
    note_strength,
)
from ribwright.core.fastening.heads import formed_head_requirements
from ribwright.core.fastening.holes import Treatment
from ribwright.core.fastening.rivets import Rivet
from ribwright.core.fastening.row import judge_row, kind_of, lay_row
from ribwright.core.fastening.seam_spec import Exception_, Layer, Seam
from ribwright.core.tables import table
from ribwright.errors import GeometryError

__all__ = ["Exception_", "Layer", "Seam", "SeamPlan", "plan_seam", "seam"]


@dataclass(frozen=True, slots=True)
class SeamPlan:
    """What a seam came to; sheets, picture and drill strip are made from this."""

    spec: Seam
    rivet: Rivet
    grip_in: float
    treatments: tuple[Treatment, ...]
    pilot: str
    final: str
    positions_in: tuple[float, ...]
    pitch_in: float
    row_because: Because
    rivet_because: Because
    heads: tuple[Requirement, ...]
    head_band_in: tuple[float, float, float]
    letters: tuple[str, ...]
    margins: tuple[float, ...]

    @property
    def open_holes(self) -> frozenset[int]:
        """Numbers of the holes that are left open."""
        return frozenset(e.hole for e in self.spec.exceptions if e.what == "left open")

    @property
    def rivets(self) -> int:
        """How many rivets of this kind the row takes."""
        return len(self.positions_in) - len(self.spec.exceptions)


def plan_seam(spec: Seam, ws: Worksheet) -> tuple[SeamPlan, tuple[Finding, ...]]:
    """Work a seam out, writing every step, and judge what the drawing fixes.

    Raises:
        GeometryError: the seam can't be (holes overlapping, beyond an edge, an exception without its hole).
        InputError, TableError: as the spec or a table refuses.
    """
    where = f"drawing {spec.drawing or 'without number'}, revision {spec.revision or '-'}"
    thickness = tuple(layer.thickness.value for layer in spec.layers)
    for layer in spec.layers:
        ws.called_out(f"thickness, {layer.part}", layer.thickness, where)
    grip = float(sum(thickness))
    ws.worked_out("grip", f"{grip:.3f} in", "the sheets added", value=grip, unit="in")

    chosen, why = choose_rivet(spec, ws, where, thickness, grip)
    d = chosen.diameter_in
    proud = chosen.length_in - grip
    if proud <= 0.2 * d:
        raise GeometryError(
            "Rivet called out", found=f"{chosen.part_number}, {proud:.3f} in proud of a {grip:.3f} in stack",
            allowed=f"about {1.5 * d:.3f} in proud", mend="Check the stack and the rivet: it can't form a head.",
        )  # fmt: skip
    hole_cell = table("rivets/nominal-hole").cell(chosen.size, "diameter")
    hole = ws.look_up("nominal hole", hole_cell)
    band = head_band(spec, ws, chosen, grip, hole)
    _note_head(ws, band, d)

    drills = table("rivets/drill")
    pilot, final = drills.cell(chosen.size, "pilot"), drills.cell(chosen.size, "final")
    ws.look_up("pilot drill", pilot)
    ws.look_up("final drill", final)
    treated = choose_treatments(spec, ws, where, chosen, thickness)

    row = lay_row(
        ws, first=spec.first, last=spec.last, pitch=spec.pitch, diameter_in=d, drawing=spec.drawing,
        revision=spec.revision, punched=spec.punched,
    )  # fmt: skip
    positions, pitch, row_why = row.positions_in, row.pitch_in, row.because
    beyond = [e.hole for e in spec.exceptions if e.hole > len(positions)]
    if beyond:
        raise GeometryError(
            "Exceptions, hole number",
            found=beyond[0],
            allowed=f"1 to {len(positions)}",
            mend="Count from the row's first hole.",
        )
    if len({e.hole for e in spec.exceptions}) != len(spec.exceptions):
        raise GeometryError(
            "Exceptions, hole number",
            found="one hole twice",
            allowed="each hole once",
            mend="Remove one of the two rows.",
        )
    findings = judge_row(
        ws, row, kind=kind_of(spec.head), diameter_in=d, hole_in=hole,
        edges=tuple((layer.part, layer.edge_distance) for layer in spec.layers), part_length=spec.part_length,
    )  # fmt: skip
    note_flanges(spec, ws, chosen)
    note_strength(spec, ws, chosen, thickness)
    plan = SeamPlan(
        spec, chosen, grip, treated, pilot.text, final.text, positions, pitch, row_why, why,
        formed_head_requirements(chosen.size), band, *tightest(spec, chosen, len(positions)),
    )  # fmt: skip
    return plan, findings


def _note_head(ws: Worksheet, band: tuple[float, float, float], d: float) -> None:
    least = table("rivets/formed-head-criteria").cell("default", "least diameter").value
    for said, head in zip(
        ("the thickest stack and the shortest rivet", "the drawn stack"), band, strict=False
    ):
        if head < least * d - 1e-9:
            ws.note(
                f"With {said} the head would be {head:.3f} in wide at .5 D high, under {least:g} D: the trial piece decides, or the next longer rivet."
            )
            return


def tightest(spec: Seam, chosen: Rivet, holes: int) -> tuple[tuple[str, ...], tuple[float, ...]]:
    """At each hole the letter of its tightest check, and by how much of the limit it is kept (.25 is a quarter
    more than needed), as the whole aeroplane's seams are lettered."""
    from ribwright.core.fastening.batch import check_seams, columns_of

    done = check_seams(columns_of((spec,), rivets=(chosen,)))
    letters = done.letters()
    if len(letters) != holes:
        return ("",) * holes, (0.0,) * holes
    return letters, tuple(float(m) for m in done.margin[done.start[0] : done.start[1]])


@calculation(
    "seam",
    title="Seam of solid rivets",
    summary="Rivet, length, drills, dimple or countersink, edge distance, pitch and the hole table of one row.",
    spec=Seam,
    results=(
        "rivet", "grip", "rivet_length", "rivets", "holes", "pitch", "hole_positions", "pilot_drill", "final_drill",
        "treatments", "least_edge_distance", "formed_head_diameter", "formed_head_height", "head_made", "tightest_checks",
    ),
)  # fmt: skip
def seam(spec: Seam, ws: Worksheet) -> Outcome:
    """One row of solid rivets: worksheet, findings on what is drawn, stage sheets, picture and drill strip."""
    from ribwright.core.fastening.seam_picture import seam_picture
    from ribwright.core.fastening.seam_sheets import seam_sheets
    from ribwright.core.fastening.seam_strip import drill_strip

    plan, findings = plan_seam(spec, ws)
    d = plan.rivet.diameter_in
    edge = table("rivets/edge-distance").cell(kind_of(spec.head), "least").value * d
    wide, tall = plan.heads
    results = {
        "rivet": Result("rivet", plan.rivet.part_number),
        "grip": Result("grip", plan.grip_in, "in"),
        "rivet_length": Result("rivet length", plan.rivet.length_in, "in", places=4),
        "rivets": Result("rivets of this kind", float(plan.rivets), "", places=0),
        "holes": Result("holes in the row", float(len(plan.positions_in)), "", places=0),
        "pitch": Result("pitch", plan.pitch_in, "in"),
        "hole_positions": Result("holes at", plan.positions_in, "in"),
        "pilot_drill": Result("pilot drill", plan.pilot),
        "final_drill": Result("final drill", plan.final),
        "treatments": Result(
            "hole in each layer",
            "; ".join(
                f"{layer.part}: {'plain hole' if one.kind == 'neither' else one.kind}"
                for layer, one in zip(spec.layers, plan.treatments, strict=True)
            ),
        ),
        "least_edge_distance": Result("least edge distance", edge, "in", limit="least"),
        "formed_head_diameter": Result("formed head, least diameter", wide.low or 0.0, "in", limit="least"),
        "formed_head_height": Result(
            "formed head height", tall.nominal or 0.0, "in", tall.low, tall.high, limit="range"
        ),
        "head_made": Result(
            "head that this length makes at .5 D high",
            plan.head_band_in[1],
            "in",
            plan.head_band_in[0],
            plan.head_band_in[2],
        ),
        "tightest_checks": Result("tightest check of the holes", _letters_said(plan)),
    }
    cautions: tuple[str, ...] = CAUTIONS
    if len({layer.material.split()[0] for layer in spec.layers}) > 1:
        cautions = (
            "Different alloys meet: prime every faying surface before it closes, as the drawing says.",
            *cautions,
        )
    if spec.primary:
        cautions = (
            "Primary structure: for any mistake here nothing is proposed; the question goes to the designer.",
            *cautions,
        )
    return Outcome(
        tuple(ws.steps),
        results,
        plan.heads,
        findings,
        cautions,
        seam_picture(plan),
        seam_sheets(plan),
        (drill_strip(plan),),
    )


def _letters_said(plan: SeamPlan) -> str:
    from ribwright.core.fastening.batch import CHECKS

    said = []
    for letter in sorted(set(plan.letters) - {""}):
        kept = {
            n: m
            for n, (one, m) in enumerate(zip(plan.letters, plan.margins, strict=True), 1)
            if one == letter
        }
        hole = min(kept, key=kept.__getitem__)
        said.append(
            f"{letter} ({CHECKS[letter]}): {len(kept)} holes, least at hole {hole}, {margin_said(kept[hole])}"
        )
    return "; ".join(said) or "none"


def margin_said(margin: float) -> str:
    """A margin of the limit in words."""
    return f"{abs(margin) * 100:.0f} % {'more' if margin >= 0 else 'less'} than needed"
