"""An operation: its page, its form, its stages at the bench, its papers."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import form_to_raw
from ribwright.core.audit.index import by_trade, load
from ribwright.core.bench.standing import Line
from ribwright.errors import InputError, MissingError, TableError, UnknownNameError
from ribwright.services.calculations import toml_of
from ribwright.services.clock import clock_of, clocks, confirm_clock, start_clock, stop_clock
from ribwright.services.closing import before_closing, before_stage
from ribwright.services.incoming import CALCULATION as INCOMING
from ribwright.services.incoming import unit_that_came
from ribwright.services.lines import ASKED, enter_line
from ribwright.services.noting import KINDS
from ribwright.services.operations import (
    enter_operation,
    enter_work,
    next_reference,
    operation_view,
)
from ribwright.services.packet import make_packet
from ribwright.services.record import get_object, history, objects, photos, signatures
from ribwright.services.sheets import document_pdf, sheet_document, worksheet_document
from ribwright.services.stage_readings import enter_readings, requirements_of
from ribwright.services.tally import has_row
from ribwright.services.twist import stops_of
from ribwright.web.forms import changed_rows, form_page, new_request_id, row_change
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other
from ribwright.web.queue import kept, refuse_clashes, tapped, waited

READING_LINES = 12
FEW = 3
GATHERED = {
    "finish": "edges and mating faces to be primed", "work": "rows and parts not finished", "heads": "rows whose heads are still to be looked at",
    "photo": "bays without a photo", "sealing": "faces to be sealed", "revision": "operations made to an earlier drawing",
}  # fmt: skip
"""What many open lines of one kind have in common, by kind."""


def show(request: Request) -> Response:
    """The operation: drawing, what it came to, stages, checks, story."""
    project, ref = project_of(request), request.path_params["ref"]
    view = operation_view(project, ref)
    return kept(page(
        request, "operation.html",
        {
            "title": view.object.title, "view": view, "reference": view.reference, "history": history(project, ref)[::-1],
            "closing": before_closing(project, ref), "photos": photos(project, ref), "signed": signatures(project, ref), "noted": KINDS, "ids": [new_request_id(), new_request_id()],
        },
    ))  # fmt: skip


def enter(request: Request, form: dict[str, str]) -> Response:
    """The form of drawing data: new in an assembly, a copy of another, or entered again."""
    project = project_of(request)
    ref = request.path_params.get("ref", "")
    query = request.query_params
    known = (
        get_object(project, ref) if ref else get_object(project, query["like"]) if query.get("like") else None
    )
    name = (
        form.get("calculation")
        or query.get("calculation")
        or (known.data.get("calculation") if known else "")
        or "seam"
    )
    made = load(name)
    parent = form.get("parent", query.get("in", known.parent if known else "")).strip()
    known_assemblies = {
        one.ref: one.title for noun in ("aircraft", "assembly") for one in objects(project, noun=noun)
    }
    asked = ""
    seen = form.get("seen", str(known.revision) if ref and known else "0")
    raw: dict[str, Any] = (
        form_to_raw(made.spec, form)
        if request.method == "POST"
        else dict(known.data.get("inputs", {}))
        if known
        else unit_that_came(project, parent, size=query.get("size", ""))
        if name == INCOMING and parent
        else {}
    )
    extra: dict[str, int] = {}
    error = None
    change = row_change(form)
    if change is not None:
        raw, extra = changed_rows(raw, change)
    elif request.method == "POST":
        try:
            new = parent not in known_assemblies
            if new and parent and known_assemblies and form.get("make") != "yes":
                asked = parent
                raise UnknownNameError(
                    "Assembly", found=parent, allowed=", ".join(list(known_assemblies)[:8]),
                    mend="Correct it, leave it empty, or make it with the button below",
                )  # fmt: skip
            done = enter_operation(
                project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref or form.get("ref", "").strip() or next_reference(project, parent),
                calculation=name, raw=raw, parent=parent, make_parent=True, seen_revision=int(seen) if seen.isdigit() else None,
            )  # fmt: skip
            return see_other(request.url_for("operation", ref=done.ref).path)
        except (InputError, TableError) as refused:
            error = refused
    shown = form_page(
        made.spec, raw, request_id=form.get("request", ""), seen=seen, error=error, extra_rows=extra
    )
    context = {
        "title": f"Drawing data: {made.title}", "form": shown, "calculation": made, "trades": by_trade(), "parent": parent, "ref": ref,
        "new_ref": form.get("ref", "") if ref == "" else ref, "suggested": ref or next_reference(project, parent),
        "assemblies": known_assemblies, "asked": asked,
    }  # fmt: skip
    return page(request, "enter.html", context, status=422 if error else 200)


def stage(request: Request, form: dict[str, str]) -> Response:
    """A stage at the bench: the sheet itself, readings and hours."""
    project = project_of(request)
    ref, name = request.path_params["ref"], request.path_params["stage"]
    view = operation_view(project, ref)
    one = view.stage(name)
    error, answered = None, None
    if request.method == "POST":
        try:
            if form.get("what", "").startswith("clock-"):
                _clock(request, form, ref, name)
                return see_other(request.url_for("stage", ref=ref, stage=name).path + "#clock")
            if form.get("what") == "line":
                entered = enter_line(
                    project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref, stage=name, text=form.get("text", ""),
                    value=form.get("value", ""), lot=form.get("lot", ""), who=form.get("who", ""),
                )  # fmt: skip
                return see_other(
                    f"{request.url_for('stage', ref=ref, stage=name).path}?open={quote(entered.key)}#list"
                )
            if form.get("what") == "readings":
                refuse_clashes(request, form, ref=ref, stage=name, readings=_readings(form))
                answered = enter_readings(
                    project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref, stage=name, values=_readings(form),
                )  # fmt: skip
                view = operation_view(project, ref)
            else:
                refuse_clashes(request, form, ref=ref, stage=name, hours=form.get("hours", ""))
                enter_work(
                    project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref, stage=name, hours=form.get("hours", ""),
                    done=form.get("done") == "yes", worked_as=form.get("as", ""), words=form.get("words", ""), day=tapped(request, form)[:10],
                )  # fmt: skip
                return see_other(request.url_for("operation", ref=ref).path)
        except InputError as refused:
            if waited(request):
                raise
            error = refused
    document = sheet_document(project, view, name) if one.sheet is not None else None
    before = before_stage(project, ref, name)
    context = {
        "title": f"{name.capitalize()}: {view.object.title}", "view": view, "stage": one, "document": document, "reference": view.reference,
        "requirements": list(requirements_of(one.sheet)), "lines": range(READING_LINES), "form": form if error else {}, "answered": answered,
        "request_id": form.get("request", "") if error else new_request_id(), "work_id": new_request_id(),
        "mistake": error.sentence() if error else "", "standing": before, "asked": ASKED, "line_id": new_request_id(),
        "gathered": _gathered(before.open), "opened": request.query_params.get("open", ""), "sheets": [s.name for s in view.stages if s.sheet is not None], "found": [f for f in view.findings if f["stage"] == name][::-1],
    }  # fmt: skip
    context |= {
        "clocks": [c for c in clocks(project) if (c.ref, c.stage) == (ref, name)], "mine": clock_of(project, actor_of(request).name),
        "clock_id": new_request_id(), "tally": name == "rivet" and has_row(view), "stops": bool(stops_of(view)),
    }  # fmt: skip
    made = page(request, "stage.html", context, status=422 if error else 200)
    # a stage that closes a space is signed for with the record at hand: it is never kept on a phone
    return made if before_closing(project, ref).stage == name else kept(made)


def _gathered(lines: Iterable[Line]) -> list[tuple[str, str, list[Line]]]:
    """Open lines by kind, in the order of the list: many of one kind are folded under what they have in common."""
    kinds: dict[str, list[Line]] = {}
    for line in lines:
        kinds.setdefault(line.key, []).append(line)
    return [(key, GATHERED.get(key, key) if len(some) > FEW else "", some) for key, some in kinds.items()]


def _clock(request: Request, form: dict[str, str], ref: str, stage: str) -> None:
    """Start, stop or confirm the clock of who acts."""
    project, who, request_id = project_of(request), actor_of(request), form.get("request", "")
    what, at = form.get("what"), tapped(request, form)
    if what == "clock-start":
        start_clock(project, actor=who, request_id=request_id, ref=ref, stage=stage, at=at)
    elif what == "clock-stop":
        stop_clock(project, actor=who, request_id=request_id, ref=ref, stage=stage, at=at)
    else:
        number = form.get("clock", "")
        confirm_clock(
            project, actor=who, request_id=request_id, seq=int(number) if number.isascii() and number.isdigit() and len(number) < 13 else 0,
            hours=form.get("hours", ""), done=form.get("done") == "yes",
        )  # fmt: skip


def _readings(form: dict[str, str]) -> list[dict[str, str]]:
    lines = []
    for number in range(READING_LINES * 4):
        value = form.get(f"value.{number}", "").strip()
        if value:
            lines.append(
                {
                    "value": value, "requirement": form.get(f"requirement.{number}", form.get("requirement", "")),
                    "where": form.get(f"where.{number}", ""), "u": form.get("u", ""), "instrument": form.get("instrument", ""),
                }
            )  # fmt: skip
    if not lines:
        raise MissingError(
            "readings", allowed="at least one value", mend="Enter what you measured, or leave the page."
        )
    return lines


def worksheet(request: Request) -> Response:
    """The worksheet as a page."""
    project = project_of(request)
    view = operation_view(project, request.path_params["ref"])
    document = worksheet_document(project, view)
    return kept(page(
        request, "document.html", {"title": document.title, "document": document, "reference": view.reference}
    ))  # fmt: skip


def sheet_pdf(request: Request) -> Response:
    """A stage's bench sheet as PDF."""
    project = project_of(request)
    document = sheet_document(
        project, operation_view(project, request.path_params["ref"]), request.path_params["stage"]
    )
    return _file(
        document_pdf(document, request.query_params.get("paper", "letter")),
        "application/pdf",
        f"{request.path_params['ref']}.pdf",
    )


def packet_pdf(request: Request) -> Response:
    """Sheets in working order, templates at full size, worksheets: of an operation or a whole assembly."""
    made = make_packet(
        project_of(request), request.path_params["ref"], paper=request.query_params.get("paper", "letter")
    )
    return _file(made.pdf, "application/pdf", f"{request.path_params['ref']}-packet.pdf")


def template_dxf(request: Request) -> Response:
    """One full-size template as DXF."""
    made = make_packet(project_of(request), request.path_params["ref"])
    name = f"{request.path_params['ref']}-{request.path_params['number']}"
    if name not in made.dxf:
        raise UnknownNameError("template", found=name, allowed=", ".join(made.dxf) or "none")
    return _file(made.dxf[name], "application/dxf", f"{name}.dxf")


def drawing_data(request: Request) -> Response:
    """The drawing data as the TOML file that the command line takes."""
    one = get_object(project_of(request), request.path_params["ref"])
    return _file(
        toml_of(one.data.get("inputs") or {}).encode(), "text/plain; charset=utf-8", f"{one.ref}.toml"
    )


def _file(content: bytes, media: str, name: str) -> Response:
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-._") else "-" for c in name)
    return Response(content, media_type=media, headers={"content-disposition": f'inline; filename="{plain}"'})


ROUTES = [
    Route("/operation/new", posting(enter), methods=["GET", "POST"], name="new_operation"),
    Route("/operation/{ref}", show, name="operation"),
    Route("/operation/{ref}/edit", posting(enter), methods=["GET", "POST"], name="edit_operation"),
    Route("/operation/{ref}/worksheet", worksheet, name="worksheet"),
    Route("/operation/{ref}/drawing-data.toml", drawing_data, name="drawing_data"),
    Route("/operation/{ref}/packet.pdf", packet_pdf, name="packet"),
    Route("/operation/{ref}/template-{number:int}.dxf", template_dxf, name="template_dxf"),
    Route("/stage/{ref}/{stage}", posting(stage), methods=["GET", "POST"], name="stage"),
    Route("/stage/{ref}/{stage}/sheet.pdf", sheet_pdf, name="sheet_pdf"),
]
