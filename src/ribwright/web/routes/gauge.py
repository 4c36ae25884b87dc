"""Gauge sheets: made for an operation, printed, and what a photo on one says."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.units import parse
from ribwright.errors import (
    ConflictError,
    FormingError,
    InputError,
    MeasuringError,
    MissingError,
    RibwrightError,
)
from ribwright.services.gauge import (
    KINDS,
    limits_for,
    limits_said,
    make_sheet,
    sheet_of,
    sheet_pdf,
    sheets_for,
    take_template,
    typed_for,
)
from ribwright.services.gauge_measure import Measured, check_known_size, enter_measured, keep_refused
from ribwright.services.operations import operation_view
from ribwright.services.photos import OVERLAY, photo_content
from ribwright.services.record import get_object
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other
from ribwright.web.uploads import LARGEST_WORDS, ROOM

NAMES = {
    "edge_height_above_card_mm": (
        "How far the end stands proud of the card",
        "mm; 0 when it is flush, minus when it lies below",
    ),
    "sheet_thickness_mm": ("Sheet thickness", "mm, measured; of a wire or a line its width"),
    "tolerance_mm": ("Tolerance", "mm, from the drawing"),
    "rivet_D_mm": ("Rivet diameter", "mm, of the shank"),
    "expected_count": ("How many beside the strip", "heads or holes, all that the picture shows"),
    "pitch_nominal_mm": ("Pitch", "mm, as drawn"),
    "strip_thickness_mm": ("Thickness of the strip", "mm, of the paper"),
    "nominal_head_height_mm": ("Head height aimed at", "mm; of formed heads only"),
    "reach_mm": ("Edge looked for within", "mm of the strip"),
    "straight_mm": ("Straight within", "mm, from the drawing; empty where it says nothing"),
}
CHOICES = {
    "edge_treatment": (
        "End of the sheet",
        {
            "white": "painted white",
            "green": "painted a strong green",
            "black": "painted black",
            "bare": "bare metal",
        },
    ),
    "mount": (
        "How it lies",
        {
            "held": "the end in the cut window",
            "laid": "the part stands on the uncut sheet",
            "wire": "a wire bent over the skin, on the uncut sheet",
            "line": "a line drawn along the skin, on the uncut sheet",
        },
    ),
    "what": ("What the row shows", {one: one for one in ("formed heads", "flush heads", "holes", "dimples")}),
    "row": ("Where it lies", {one: one for one in ("below the strip", "above the strip")}),
}
SLOTS = ("photo", "photo2")


def sheets(request: Request, form: dict[str, str]) -> Response:
    """Gauge sheets of an operation, and the form for a new one."""
    project, ref = project_of(request), request.path_params["ref"]
    error: RibwrightError | None = None
    if request.method == "POST":
        try:
            made = make_sheet(
                project, actor=actor_of(request), request_id=form.get("request", ""), about=ref, kind=form.get("kind", ""),
                place=form.get("place", ""), paper=form.get("paper", "letter"),
            )  # fmt: skip
            return see_other(request.url_for("gauge", ref=made.ref).path + _stage_on(request))
        except InputError as refused:
            error = refused
    one = get_object(project, ref)
    context = {
        "title": "Gauge sheets for photos", "one": one, "sheets": sheets_for(project, ref), "request_id": new_request_id(),
        "kinds": KINDS, "form": form, "mistake": error.sentence() if error else "", "rolls": one.data.get("calculation") == "nose-roll",
        "stage_on": _stage_on(request),
    }  # fmt: skip
    return page(request, "gauges.html", context, status=422 if error else 200)


def _stage_on(request: Request) -> str:
    stage = request.query_params.get("stage", "")
    return f"?stage={quote(stage, safe='')}" if stage else ""


async def gauge(request: Request) -> Response:
    """One sheet: print it, send photos of it, read what they say."""
    if request.method != "POST":
        return await run_in_threadpool(_page, request, {})
    async with request.form(max_files=2, max_fields=40, max_part_size=LARGEST_WORDS) as form, ROOM:
        sent = {
            slot: ((one.filename or "").replace("\\", "/"), await one.read())
            for slot in SLOTS
            if isinstance(one := form.get(slot), UploadFile) and one.filename
        }
        typed = {key: value for key, value in form.items() if isinstance(value, str)}
        return await run_in_threadpool(_measure, request, typed, sent)


def _measure(request: Request, form: dict[str, str], sent: dict[str, tuple[str, bytes]]) -> Response:
    project, actor = project_of(request), actor_of(request)
    sheet = sheet_of(project, request.path_params["ref"])
    request_id = form.get("request", "") or new_request_id()
    try:
        for slot in SLOTS:  # sent before, and kept while what was typed is mended
            if slot not in sent and form.get(f"kept.{slot}"):
                sent[slot] = (form.get(f"name.{slot}", ""), photo_content(project, form[f"kept.{slot}"])[0])
        photos = [sent[slot] for slot in SLOTS if slot in sent]
        if not photos:
            raise MissingError("photo", mend="Take one of the whole sheet, better two.")
        typed = _typed(form, typed_for(project, sheet), sheet.bars)
        if form.get("ask") == "known":
            typed |= {
                "known_size_mm": _mm(form.get("known_size_mm", ""), "Its size"),
                "known_thing": form.get("known_thing", "shank"),
            }
            if form.get("known_height_mm", "").strip():
                typed["known_height_mm"] = _mm(form["known_height_mm"], "How high the stack stands")
            checked = check_known_size(
                project, sheet, photos[0], actor=actor, request_id=request_id, typed=typed
            )
            return _page(request, form, checked=checked)
        if form.get("ask") in ("line", "scan"):
            width, length = form.get("line_width_mm", ""), form.get("line_length_mm", "")
            take_template(
                project, actor=actor, request_id=request_id, sheet=sheet, photo=photos[0], typed=typed,
                line_width_mm=_mm(width, "Width of the line") if form["ask"] == "line" else 0.5,
                given=form.get("given", "inside"), half=form.get("half", "upper"),
                length_mm=_mm(length, "Greatest length of the line") if form["ask"] == "scan" else None,
                scanned=form.get("scanned") == "yes",
            )  # fmt: skip
            return see_other(request.url_for("operation", ref=sheet.about).path)
        got, entries = enter_measured(
            project, actor=actor, request_id=request_id, sheet=sheet, stage=form.get("stage", "")[:80], photos=photos,
            typed=typed,
        )  # fmt: skip
    except (InputError, MeasuringError, FormingError, ConflictError) as refused:
        kept = keep_refused(
            project, actor=actor, request_id=request_id, sheet=sheet, stage=form.get("stage", "")[:80],
            photos=list(sent.values()), reason=refused.sentence(),
        )  # fmt: skip
        again = {slot: (mark, sent[slot][0]) for slot, mark in zip(sent, kept, strict=False) if mark}
        return _page(request, form, error=refused, kept=again)
    overlays = [
        entry.body["report"]
        for entry in entries
        if entry.kind == "photo" and entry.body.get("name") == OVERLAY
    ]
    return _page(request, form, got=got, overlays=overlays)


def _typed(
    form: dict[str, str], known: dict[str, Any], bars: tuple[tuple[str, float], ...]
) -> dict[str, Any]:
    from ribwright.core.metrology.layout import bar_words

    typed: dict[str, Any] = dict(known)
    for name in NAMES:
        said = form.get(name, "").strip()
        if said:
            typed[name] = _mm(said, NAMES[name][0]) if name.endswith("_mm") else _number(said, NAMES[name][0])
    typed |= {name: form[name] for name in CHOICES if form.get(name)}
    if "limits" in typed:
        typed["limits"] = limits_for(str(typed.get("what", "")), typed["limits"])
    typed["bars_measured"] = [
        {"name": name, "measured_mm": _mm(said, bar_words(name))}
        for name, _ in bars
        if (said := form.get(f"bar.{name}", "").strip())
    ]
    return typed


def _mm(said: str, field: str) -> float:
    return parse(said, "mm", field=field).to("mm")


def _number(said: str, field: str) -> float:
    value = float(parse(said, "", field=field).number)
    return value if math.isfinite(value) else 0.0


def _limits(form: Mapping[str, str], known: Mapping[str, Any]) -> str:
    """Between which limits the row is judged, for what is chosen and typed."""
    if "limits" not in known:
        return ""
    what = form.get("what") or str(known["what"])
    try:
        shank = _mm(form["rivet_D_mm"], "") if form.get("rivet_D_mm") else float(known["rivet_D_mm"])
    except InputError:
        shank = float(known["rivet_D_mm"])
    return limits_said(what, limits_for(what, known["limits"]), shank)


def _page(
    request: Request,
    form: dict[str, str],
    *,
    error: RibwrightError | None = None,
    got: Measured | None = None,
    overlays: Sequence[str] = (),
    checked: Mapping[str, Any] | None = None,
    kept: Mapping[str, tuple[str, str]] | None = None,
) -> Response:
    from ribwright.core.metrology.gauge_how_to import AWAY
    from ribwright.core.metrology.layout import bar_words

    project = project_of(request)
    sheet = sheet_of(project, request.path_params["ref"])
    stages = operation_view(project, sheet.about).stages
    # the one that the page was come to from, else what is being worked on
    stage = (
        form.get("stage")
        or request.query_params.get("stage")
        or next((s.name for s in stages if not s.done), "")
    )
    known = typed_for(project, sheet)
    if sheet.kind == "straightness":
        known = {"strip_thickness_mm": 0.13, "reach_mm": 25.0, "row": "below the strip", "straight_mm": None}
    context = {
        "title": f"{sheet.ref}: {sheet.title}" if sheet.title else sheet.ref, "sheet": sheet, "form": form, "known": known, "names": NAMES, "choices": CHOICES,
        "one": get_object(project, sheet.about), "request_id": new_request_id(), "mistake": error.sentence() if error else "",
        "limits": _limits(form, known), "got": got, "overlays": overlays, "checked": checked, "kept": kept or {}, "ask": form.get("ask", "") if error else "",
        "bars": [(name, bar_words(name), nominal) for name, nominal in sheet.bars], "away": AWAY[str(sheet.layout["kind"])],
        "stages": [one.name for one in stages], "stage": stage or (stages[-1].name if stages else ""),
    }  # fmt: skip
    return page(request, "gauge.html", context, status=422 if error else 200)


def gauge_pdf(request: Request) -> Response:
    """The sheet at its true size, and how to use it."""
    ref = request.path_params["ref"]
    content = sheet_pdf(project_of(request), ref)
    return Response(
        content,
        media_type="application/pdf",
        headers={"content-disposition": 'inline; filename="gauge-sheet.pdf"'},
    )


ROUTES = [
    Route("/operation/{ref}/gauges", posting(sheets), methods=["GET", "POST"], name="gauges"),
    Route("/photo/gauge/{ref}", gauge, methods=["GET", "POST"], name="gauge"),
    Route("/photo/gauge/{ref}/print.pdf", gauge_pdf, name="gauge_pdf"),
]
