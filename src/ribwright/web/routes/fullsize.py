"""Full size: preview and files of templates, printers measured, blanks on sheets, a skin to turn."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from ribwright import __version__
from ribwright.core.audit import form_to_raw, read
from ribwright.core.audit.index import load
from ribwright.core.templates.skin_strips import skin_strips
from ribwright.core.templates.skin_view import skin_of, view_data
from ribwright.core.writers.to_svg import svg_of_page
from ribwright.errors import ConflictError, InputError, RibwrightError, TableError
from ribwright.services.blanks import nest_spec, offcuts_from_text, stocks
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.fullsize import PAPERS, FullSize, full_size_of, operation_full_size
from ribwright.services.operations import operation_view
from ribwright.services.printers import (
    PRINTED_WITH,
    check_sheet,
    choose_printer,
    measure_printer,
    printer_for,
    printers,
)
from ribwright.web.forms import form_page, new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

MOST_SHOWN = 12
"""Sheets drawn on the page; the others are in the PDF."""

SCALE_REACH = 1.4
"""The colours run to so many times the tolerance on either side."""


def hub(request: Request, form: dict[str, str]) -> Response:
    """Printers with their factors, the form of a measured check figure, and the blanks of the project."""
    project = project_of(request)
    error: RibwrightError | None = None
    said = ""
    if request.method == "POST":
        try:
            if form.get("what") == "choose":
                choose_printer(
                    project,
                    actor=actor_of(request),
                    request_id=form.get("request", ""),
                    name=form.get("name", ""),
                )
                return see_other(request.url_for("full_size").path)
            seen = form.get("seen", "")
            made, said = measure_printer(
                project, actor=actor_of(request), request_id=form.get("request", ""), name=form.get("name", ""), short=form.get("short", ""),
                long=form.get("long", ""), printed_with=form.get("with", PRINTED_WITH[0]), seen_revision=int(seen) if seen.isdigit() else None,
            )  # fmt: skip
            said = f"{made.name}: {said}"
        except (InputError, TableError) as refused:
            error = refused
    context = {
        "title": "Full size", "printers": printers(project), "papers": PAPERS, "printed_with": PRINTED_WITH, "said": said, "error": error,
        "form": form if error else {}, "ids": [new_request_id(), form.get("request", "") if error else new_request_id()], "stocks": stocks(project),
    }  # fmt: skip
    return page(request, "full_size.html", context, status=422 if error else 200)


def printer_sheet(request: Request) -> Response:
    """One page to measure."""
    query = request.query_params
    return _file(
        check_sheet(project_of(request), query.get("printer", ""), query.get("paper", "letter")),
        "application/pdf",
        "check-figure.pdf",
    )


def blanks(request: Request, form: dict[str, str]) -> Response:
    """The project's blanks of one material on offcuts and new sheets: the form of the nest, filled in."""
    raw = nest_spec(
        project_of(request), stock=form.get("stock", ""), offcuts=offcuts_from_text(form.get("offcuts", "")), seconds=4,
        new_sheets=_whole(form.get("sheets", "4")),
    )  # fmt: skip
    made = load("nest-blanks")
    context = {
        "title": made.title, "calculation": made, "form": form_page(made.spec, raw), "done": None, "document": None, "action": request.url_for("calculation", name=made.name).path,
    }  # fmt: skip
    return page(request, "nest_form.html", context)


def _whole(said: str) -> int:
    return min(20, int(said)) if said.isascii() and said.isdigit() and len(said) < 4 else 4


def operation(request: Request) -> Response:
    """The templates of an operation: preview of the very sheets that are printed, and the files."""
    query, ref = request.query_params, request.path_params["ref"]
    paper = query.get("paper", "letter")
    made = operation_full_size(project_of(request), ref, paper=paper, printer=query.get("printer", ""))
    form = query.get("as", "")
    if form:
        return _as_file(made, form, query.get("template", "1"), ref)
    view = operation_view(project_of(request), ref)
    context = {
        "reference": view.reference,
        "back": request.url_for("operation", ref=ref).path,
        "back_name": ref,
        "method": "get",
        "hidden": {},
    }
    return _preview(request, made, context | {"action": request.url.path, "skin": _skin_link(request, view)})


def carried(form: Mapping[str, str]) -> dict[str, str]:
    """What was entered, without what a button or this page added."""
    return {
        key: value
        for key, value in form.items()
        if not key.startswith(("out.", "add:", "remove:", "copy:")) and key not in ("request", "seen")
    }


def kept_layout(done: Done | None) -> dict[str, str]:
    """The layout that a nest found, as the fields that keep it; nothing for other calculations."""
    if done is None or done.calculation.name != "nest-blanks":
        return {}
    from ribwright.core.templates.blank_nest import kept_rows

    return {
        f"kept.{n}.{key}": value
        for n, row in enumerate(kept_rows(done.outcome))
        for key, value in row.items()
    }


def has_skin(spec: object) -> bool:
    """Whether there is a skin to turn."""
    return skin_of(spec) is not None


def _skin_link(request: Request, view: Any) -> str:
    worked = view.worked
    if worked is None or not has_skin(worked.spec):
        return ""
    return str(request.url_for("operation_skin", ref=view.object.ref).path)


def calculation(request: Request, form: dict[str, str]) -> Response:
    """The same for a calculation that was entered nowhere; its form travels along."""
    project, name = project_of(request), request.path_params["name"]
    made = load(name)
    done = run_calculation(name, form_to_raw(made.spec, form))
    title = str(getattr(done.spec, "title", "") or made.title)
    laid = full_size_of(
        done.outcome,
        done.spec,
        title=title,
        paper=form.get("out.paper", "letter"),
        printer=printer_for(project, form.get("out.printer", "")),
    )
    if form.get("out.as"):
        kind, _, number = form["out.as"].partition(" ")
        return _as_file(laid, kind, number or "1", name)
    back = request.url_for("calculation", name=name).path
    context = {
        "reference": "",
        "back": back,
        "back_name": made.title,
        "method": "post",
        "hidden": carried(form),
        "action": request.url.path,
        "skin": "",
    }
    return _preview(request, laid, context)


def _preview(request: Request, made: FullSize, context: Mapping[str, Any]) -> Response:
    left = MOST_SHOWN
    shown = {}
    for one in made.templates:
        shown[one.number] = [
            (sheet.number, sheet.of, Markup(svg_of_page(sheet))) for sheet in one.pages[: max(left, 0)]
        ]
        left -= len(one.pages)
    known = printers(project_of(request))
    return page(
        request, "full_size_preview.html",
        {"title": f"Full size: {made.title}", "made": made, "papers": PAPERS, "printers": known, "shown": shown, **context},
    )  # fmt: skip


def _as_file(made: FullSize, kind: str, number: str, name: str) -> Response:
    if kind == "pdf":
        return _file(made.pdf(), "application/pdf", f"{name}.pdf")
    one = made.template(int(number) if number.isascii() and number.isdigit() and len(number) < 5 else 0)
    if kind == "svg":
        return _file(one.svg().encode(), "image/svg+xml", f"{name}-{one.number}.svg", attached=True)
    if kind == "dxf":
        return _file(one.dxf(), "application/dxf", f"{name}-{one.number}.dxf", attached=True)
    raise ConflictError("file", found=kind[:20], allowed="pdf, svg, dxf")


def _file(content: bytes, media: str, name: str, *, attached: bool = False) -> Response:
    plain = "".join(c if c.isascii() and (c.isalnum() or c in "-._") else "-" for c in name)
    way = "attachment" if attached else "inline"
    return Response(content, media_type=media, headers={"content-disposition": f'{way}; filename="{plain}"'})


def skin_json(request: Request) -> Response:
    """Triangles of an operation's skin, with station and arc length of each vertex."""
    return JSONResponse({**_skin_of(request), "made_by": f"ribwright {__version__}"})


def _skin_of(request: Request) -> dict[str, Any]:
    ref = request.path_params["ref"]
    view = operation_view(project_of(request), ref)
    data = view_data(view.worked.spec) if view.worked is not None else None
    if data is None:
        raise ConflictError(
            f"skin of {ref}",
            found="no rolled or lofted skin",
            allowed="an operation with drawn sections",
            mend="Look at its drawing.",
        )
    return data


def _shown(data: dict[str, Any]) -> dict[str, Any]:
    """The data for the script, and the same in words and numbers for everybody: scale and stations."""
    steps = len(data["colours"])
    wide = 2 * SCALE_REACH * data["limit"] / steps
    scale = []
    for n, colour in enumerate(data["colours"]):
        low = -SCALE_REACH * data["limit"] + n * wide
        if n == 0:
            words = f"inside by more than {-(low + wide):.3f} in"
        elif n == steps - 1:
            words = f"outside by more than {low:.3f} in"
        else:
            words = f"{low:+.3f} to {low + wide:+.3f} in"
        scale.append((colour, words))
    arcs: dict[float, list[float]] = {}
    for station, arc in zip(data["station"], data["arc"], strict=True):
        arcs.setdefault(station, []).append(arc)
    rows = [(station, -min(found), max(found)) for station, found in arcs.items()]
    return {
        "data": data | {"reach": SCALE_REACH},
        "strips": skin_strips(data),
        "scale": scale if data["limit"] else [],
        "stations": rows[::3] if len(rows) > 12 else rows,
    }


def operation_skin(request: Request) -> Response:
    """The skin of an operation to turn."""
    ref = request.path_params["ref"]
    view = operation_view(project_of(request), ref)
    context = {
        "title": f"In the round: {view.object.title}", "reference": view.reference, **_shown(_skin_of(request)), "back": request.url_for("operation", ref=ref).path, "back_name": ref,
    }  # fmt: skip
    return page(request, "skin.html", context)


def calculation_skin(request: Request, form: dict[str, str]) -> Response:
    """The skin of a calculation that was entered nowhere, to turn."""
    made = load(request.path_params["name"])
    spec: Any = read(made.spec, form_to_raw(made.spec, form))
    data = view_data(spec)
    if data is None:
        raise ConflictError(
            "skin", found=made.title, allowed="a calculation with drawn sections", mend="Look at its picture."
        )
    back = request.url_for("calculation", name=made.name).path
    title = f"In the round: {getattr(spec, 'part', made.title)}"
    return page(request, "skin.html", {"title": title, **_shown(data), "back": back, "back_name": made.title})


ROUTES = [
    Route("/full-size", posting(hub), methods=["GET", "POST"], name="full_size"),
    Route("/full-size/check-figure.pdf", printer_sheet, name="printer_sheet"),
    Route("/full-size/blanks", posting(blanks), methods=["POST"], name="project_blanks"),
    Route("/operation/{ref}/full-size", operation, name="operation_full_size"),
    Route("/operation/{ref}/skin", operation_skin, name="operation_skin"),
    Route("/operation/{ref}/skin.json", skin_json, name="skin_json"),
    Route("/calc/{name}/full-size", posting(calculation), methods=["POST"], name="calculation_full_size"),
    Route("/calc/{name}/skin", posting(calculation_skin), methods=["POST"], name="calculation_skin"),
]
