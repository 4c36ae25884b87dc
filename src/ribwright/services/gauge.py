"""Gauge sheets of a project: made for an operation, printed, photographed, measured, kept with what they said."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ribwright.core.record.entry import Entry
from ribwright.core.units import parse
from ribwright.errors import OutOfRangeError, UnknownNameError, UnreadablePhotoError
from ribwright.services.entering import add_entries, add_entry, new_object
from ribwright.services.operations import OperationView, enter_operation, operation_view
from ribwright.services.passing import passing_folder
from ribwright.services.photos import add_photo, keep_unopened
from ribwright.services.printers import printer_for
from ribwright.services.project import Actor, Project
from ribwright.services.record import StoredObject, get_object, objects
from ribwright.services.seals import dated_seal

if TYPE_CHECKING:
    from ribwright.core.metrology.scanned_line import ScannedLine
    from ribwright.core.metrology.template_in import TemplateOutline

KINDS = ("profile", "row", "straightness")
_MM = 25.4


@dataclass(frozen=True, slots=True)
class Sheet:
    """A gauge sheet that belongs to an operation."""

    ref: str
    title: str
    kind: str
    paper: str
    about: str
    layout: Mapping[str, Any]
    place: str = ""

    @property
    def bars(self) -> tuple[tuple[str, float], ...]:
        """Name and nominal length in mm of each bar that is measured and typed."""
        return tuple((str(bar["name"]), float(bar["nominal_mm"])) for bar in self.layout["bars"])


def make_sheet(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    about: str,
    kind: str,
    place: str = "",
    paper: str = "letter",
) -> Sheet:
    """Make a gauge sheet for an operation: round the nose it rolls, or beside the row it rivets.

    Args:
        place: along a rolled edge, for its template there.
        paper: a4, letter or a3.

    Raises:
        UnknownNameError: the kind, or an operation that it does not fit.
        GeometryError, DoesNotFitError: the profile and the paper.
    """
    from ribwright.core.metrology.gauge_sheet import profile_card_layout, rivet_strip_layout

    if kind not in KINDS:
        raise UnknownNameError("gauge sheet", found=kind, allowed=", ".join(KINDS))
    view = operation_view(project, about)
    if kind == "profile":
        outline, where = _outline(view, place)
        title = f"profile sheet, {where}"
        layout = profile_card_layout(name=title, outline_mm=outline, page=paper, laid=False)
    else:
        title = "rivet strip" if kind == "row" else "straight-edge strip"
        # The long strip less a square where the paper is shorter: uncut, it must leave a printer's margin.
        length = 147.0 if kind == "row" else 253.0 if paper == "letter" else 260.0
        layout = rivet_strip_layout(length_mm=length, kind="B" if kind == "row" else "T")
    number = 1 + sum(
        one.ref.startswith(f"{about}-G") for one in objects(project, noun="tool", withdrawn=True)
    )
    ref = f"{about}-G{number:02d}"
    data = {
        "gauge": kind,
        "for": about,
        "paper": paper,
        "place": place.strip(),
        "layout": json.dumps(layout, separators=(",", ":")),
    }
    add_entries(
        project, actor=actor, request_id=request_id, items=[new_object("tool", ref, data, title=f"{title}, {about}")]
    )  # fmt: skip
    return sheet_of(project, ref)


def _outline(view: OperationView, place: str) -> tuple[Any, str]:
    from ribwright.core.forming.after_roll import outer_outline_mm
    from ribwright.core.forming.nose_spec import NoseRoll

    spec = view.worked.spec if view.worked is not None else None
    if not isinstance(spec, NoseRoll):
        raise UnknownNameError(
            "gauge sheet", found=f"profile of {view.object.ref}", allowed="an operation that rolls an edge",
            mend="For a seam take the rivet strip.",
        )  # fmt: skip
    places = [float(one.place.value) for one in spec.stations]
    at = parse(place, "in", field="Place").to("in") if place.strip() else places[0]
    length = float(spec.length.value)
    if not 0.0 <= at <= length:
        raise OutOfRangeError(
            "Place", found=f"{at:g} in", allowed=f"0 to {length:g} in, the edge of {view.object.ref}",
            mend="Type the place of its template along the edge.",
        )  # fmt: skip
    nearest = min(places, key=lambda one: abs(one - at))
    other = "" if abs(nearest - at) < 1e-6 else f", cut for the template at {nearest:g} in"
    return outer_outline_mm(spec, place_in=at), f"at {at:g} in{other}"


def sheet_of(project: Project, ref: str) -> Sheet:
    """The gauge sheet of this reference.

    Raises:
        UnknownNameError: there is none.
    """
    return _sheet(get_object(project, ref))


def _sheet(one: StoredObject) -> Sheet:
    data = one.data
    if one.noun != "tool" or not data.get("layout"):
        raise UnknownNameError("gauge sheet", found=one.ref, allowed="the reference printed on the sheet")
    return Sheet(
        one.ref, one.title, str(data["gauge"]), str(data["paper"]), str(data["for"]), json.loads(str(data["layout"])),
        str(data.get("place", "")),
    )  # fmt: skip


def sheets_for(project: Project, about: str) -> tuple[Sheet, ...]:
    """Gauge sheets of an operation, oldest first."""
    return tuple(
        _sheet(one) for one in objects(project, noun="tool") if one.data.get("layout") and one.data.get("for") == about
    )  # fmt: skip


def sheet_pdf(project: Project, ref: str) -> bytes:
    """The sheet at its true size for the printer in use, and the page that says how to use it."""
    from ribwright.core.metrology.gauge_how_to import how_to
    from ribwright.core.metrology.gauge_print import gauge_page
    from ribwright.core.writers.to_pdf import pdf_of_packet

    sheet = sheet_of(project, ref)
    label = f"{ref}: {sheet.title}"
    printer = printer_for(project)
    page = gauge_page(sheet.layout, label=label, paper=sheet.paper, correction=printer.correction)
    # read from the same paper as the sheet; a3 is a sheet's, not a page's to read
    return pdf_of_packet(
        [(page,), how_to(sheet.layout, label=label, reference=ref, seal=dated_seal(project))],
        paper="a4" if sheet.paper == "a3" else sheet.paper,
    )


def typed_for(project: Project, sheet: Sheet) -> dict[str, Any]:
    """What of the typed values the operation already knows; bars are the builder's to measure."""
    view = operation_view(project, sheet.about)
    spec: Any = view.worked.spec if view.worked is not None else None
    if sheet.kind == "profile":
        return {
            "edge_height_above_card_mm": 0.0, "edge_treatment": "white", "mount": "held",
            "sheet_thickness_mm": round(float(spec.thickness.value) * _MM, 3),
            "tolerance_mm": round(float(spec.tolerance.value) * _MM, 2),
        }  # fmt: skip
    results = view.worked.outcome.results if view.worked is not None else {}
    shank = _shank_in(str(results["rivet"].value)) if "rivet" in results else 0.09375
    wide = float(results["formed_head_diameter"].value) if "formed_head_diameter" in results else 1.3 * shank  # type: ignore[arg-type]
    edge = float(results["least_edge_distance"].value) if "least_edge_distance" in results else 2.0 * shank  # type: ignore[arg-type]
    pitch = float(results["pitch"].value) if "pitch" in results else 1.0  # type: ignore[arg-type]
    return {
        "what": "formed heads", "row": "below the strip", "rivet_D_mm": round(shank * _MM, 3), "pitch_nominal_mm": round(pitch * _MM, 2),
        "expected_count": max(1, int(140.0 / (pitch * _MM))), "strip_thickness_mm": 0.13, "nominal_head_height_mm": round(0.5 * shank * _MM, 2),
        "limits": {"d_min_over_D": round(wide / shank, 3), "d_max_over_D": 1.75, "ovality_max": 0.1, "edge_distance_min_over_D": round(edge / shank, 3)},
    }  # fmt: skip


def limits_for(what: str, limits: Mapping[str, Any]) -> dict[str, Any]:
    """Limits of what the row shows; edge distance is the row's own, whatever stands in it.

    Holes of driven rivets up to 1.07 shank diameters, no more than 5 % out of round; flush heads up to 2.2
    (common practice, no source). A hole too small shows itself when the rivet does not go in: its limit is wide.
    """
    if what in ("holes", "dimples"):
        return {**limits, "d_min_over_D": 0.95, "d_max_over_D": 1.07, "ovality_max": 0.05}
    if what == "flush heads":
        return {**limits, "d_max_over_D": 2.2}
    return dict(limits)


def limits_said(what: str, limits: Mapping[str, Any], shank_mm: float) -> str:
    """The limits of what the row shows, in words."""
    low, high, edge = (
        float(limits[key]) for key in ("d_min_over_D", "d_max_over_D", "edge_distance_min_over_D")
    )
    return (
        f"Limits of {what} for a shank of {shank_mm:.2f} mm: diameter {low * shank_mm:.2f} to {high * shank_mm:.2f} mm "
        f"({low:.2f} to {high:.2f} times it), out of round by at most {100 * float(limits['ovality_max']):.0f} %, "
        f"{edge * shank_mm:.2f} mm to the edge at least ({edge:.2f} times it)."
    )


def _shank_in(part_number: str) -> float:
    from ribwright.core.fastening.rivets import read_part_number

    return read_part_number(part_number).diameter_in


def keep_on_sheet(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    sheet: Sheet,
    photo: tuple[str, bytes],
    caption: str,
    stage: str = "",
) -> Entry:
    """Keep a photo taken on a sheet with the sheet's operation; one that can't be opened as it was sent.

    Args:
        photo: name and content.

    Raises:
        UnreadablePhotoError: it does not even begin as a photo does.
    """
    name, content = photo
    said = {"about": sheet.about, "name": name, "caption": caption[:400], "stage": stage}
    try:
        return add_photo(project, actor=actor, request_id=request_id, content=content, **said)
    except UnreadablePhotoError:
        return keep_unopened(project, actor=actor, request_id=request_id, content=content, **said)


def take_template(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    sheet: Sheet,
    photo: tuple[str, bytes],
    typed: Mapping[str, Any],
    line_width_mm: float,
    given: str = "inside",
    half: str = "upper",
    length_mm: float | None = None,
    scanned: bool = False,
) -> StoredObject:
    """The drawing's own paper template, a pencil line or a wire, photographed on the uncut sheet, becomes the
    template of the edge: the operation is worked out again for it, and the photo is kept with it.

    Args:
        photo: name and content.
        line_width_mm: of the line or wire.
        given: whether the line is the inside or the outside of the skin.
        half: which side of the nose this skin takes.
        length_mm: the line's greatest length, measured on the paper: the picture then shows the paper alone, and
            bars and line width are not asked for.
        scanned: that picture is a flat-bed scan.

    Raises:
        UnknownNameError: a sheet that is not round a rolled edge.
        InputError, UnreadablePhotoError: the photo or what was typed can't be used; nothing is changed then.
    """
    import numpy as np

    from ribwright.core.audit.spec import raw_of
    from ribwright.core.forming.after_roll import template_points_in
    from ribwright.core.metrology.layout import layout_from
    from ribwright.core.metrology.template_in import measure_template
    from ribwright.core.metrology.typed import profile_input
    from ribwright.core.templates.traced import upright
    from ribwright.services.photo_measure import read_photo
    from ribwright.services.traced import how_sure, scanned_line

    view = operation_view(project, sheet.about)
    if sheet.kind != "profile" or view.worked is None:
        raise UnknownNameError("gauge sheet", found=sheet.ref, allowed="a profile sheet")
    found: ScannedLine | TemplateOutline
    with passing_folder() as folder:
        path = folder / "photo"
        path.write_bytes(photo[1])
        if length_mm is not None:
            found = scanned_line(path, length_mm=length_mm, scanned=scanned)
            down = np.array(
                [1.0, -1.0]
            )  # a profile's y runs up; however it lay there, its nose comes to the left
            line = upright(found.outline_mm[np.isfinite(found.u95_mm)] * down) * down
        else:
            taken = read_photo(path)
            layout = layout_from(sheet.layout)
            found = measure_template(
                taken.picture,
                layout=layout,
                typed=profile_input(layout, {**typed, "mount": "laid", "edge_treatment": "black"}),
                line_width_mm=line_width_mm,
                prior=taken.prior,
            )
            line = found.outline_mm
    spec: Any = view.worked.spec
    points = template_points_in(
        line / _MM,
        upper=half == "upper",
        offset_in=float(spec.thickness.value) if given == "outside" else 0.0,
    )
    raw = dict(raw_of(spec))
    place = sheet.place or str(raw["stations"][0]["place"])
    at = parse(place, "in", field="Place").to("in")
    keep = [
        row for row in raw.get("points") or [] if abs(parse(str(row["place"]), "in").to("in") - at) > 1e-6
    ]
    raw["points"] = keep + [{"place": place, "x": f"{x:.4f} in", "y": f"{y:.4f} in"} for x, y in points]
    if all(abs(parse(str(row["place"]), "in").to("in") - at) > 1e-6 for row in raw["stations"]):
        raw["stations"] = sorted(
            [*raw["stations"], {"place": place}], key=lambda row: parse(str(row["place"]), "in").to("in")
        )
    made = enter_operation(
        project, actor=actor, request_id=request_id, ref=sheet.about, calculation="nose-roll", raw=raw,
        seen_revision=view.object.revision,
    )  # fmt: skip
    how = (
        f"a photo on {sheet.ref}"
        if length_mm is None
        else f"a {'scan' if scanned else 'photo'} without a gauge sheet, its length typed as {length_mm:g} mm"
    )
    words = f"template at {place} taken from {how}: {how_sure(found)}"
    keep_on_sheet(
        project, actor=actor, request_id=f"{request_id}-p0", sheet=sheet, photo=photo, caption=words
    )
    add_entry(
        project,
        actor=actor,
        request_id=f"{request_id}-n",
        kind="note",
        about=sheet.about,
        body={"words": words},
    )
    return made
