"""Record: the newest entries, search, and the check of the whole."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import form_to_raw
from ribwright.errors import InputError, OutOfRangeError
from ribwright.services.amending import correct, sign, undo
from ribwright.services.evidence import evidence_document
from ribwright.services.noting import KINDS, enter, spec_of
from ribwright.services.record import check, get_entry, recent, search
from ribwright.services.sheets import document_pdf
from ribwright.services.stage_readings import correct_reading
from ribwright.web.forms import changed_rows, form_page, new_request_id, row_change
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

SHOWN = 50
CORRECTED = {
    "work": ("stage", "hours", "words"),
    "reading": ("value", "u", "instrument"),
    "material": ("item", "lot", "quantity"),
    "note": ("words",),
}
"""What of an entry a person corrects by typing it again."""


def record(request: Request) -> Response:
    """The newest entries, or those that hold all the words looked for."""
    project = project_of(request)
    words = request.query_params.get("words", "").strip()[:200]
    before = _number(request.query_params.get("before", "0"))
    if words:
        lines = [get_entry(project, entry.seq) for entry in search(project, words, SHOWN, before=before)]
    else:
        lines = list(recent(project, before=before, limit=SHOWN))
    return page(
        request,
        "record.html",
        {
            "title": "Record",
            "lines": lines,
            "words": words,
            "more": lines[-1].entry.seq if len(lines) == SHOWN else 0,
            "kinds": KINDS,
        },
    )


def entry(request: Request) -> Response:
    """One entry as it is hashed."""
    line = get_entry(project_of(request), request.path_params["seq"])
    context = {
        "title": f"Entry {line.entry.seq}",
        "line": line,
        "ids": [new_request_id(), new_request_id()],
        "fields": CORRECTED.get(line.entry.kind, ()),
    }
    return page(request, "entry.html", context)


def note(request: Request, form: dict[str, str]) -> Response:
    """Enter what came: material, a torque, a drawing's revision, a notice, a departure, a visit, a note."""
    project, kind = project_of(request), request.path_params["kind"]
    spec = spec_of(kind)
    about = (form.get("about") if request.method == "POST" else request.query_params.get("about")) or ""
    raw: dict[str, Any] = {}
    error: InputError | None = None
    extra: dict[str, int] = {}
    if request.method == "POST":
        change = row_change(form)
        raw = form_to_raw(
            spec, {k: v for k, v in form.items() if k not in ("request", "seen", "about") and ":" not in k}
        )
        if change is not None:
            raw, extra = changed_rows(raw, change)
        else:
            try:
                made = enter(
                    project, actor=actor_of(request), request_id=form.get("request", ""), kind=kind, about=about.strip(), raw=raw
                )  # fmt: skip
                back = (
                    request.url_for("object", ref=about.strip())
                    if about.strip()
                    else request.url_for("entry", seq=made[0].seq)
                )
                return see_other(back.path)
            except InputError as refused:
                error = refused
    context = {
        "title": KINDS[kind][0], "about": about, "form": form_page(spec, raw, request_id=form.get("request", ""), error=error, extra_rows=extra),
        "help": (spec.__doc__ or "").strip(), "kind": kind,
    }  # fmt: skip
    return page(request, "note.html", context, status=422 if error else 200)


def evidence_pdf(request: Request) -> Response:
    """The evidence pack's paper; the folder with the record beside it is written by the command line."""
    content = document_pdf(evidence_document(project_of(request)))
    return Response(
        content,
        media_type="application/pdf",
        headers={"content-disposition": 'inline; filename="evidence.pdf"'},
    )


def change(request: Request, form: dict[str, str]) -> Response:
    """Take an entry back, or put it right with a new one."""
    project, seq = project_of(request), request.path_params["seq"]
    because, request_id = form.get("because", "").strip(), form.get("request", "")
    if form.get("what") == "correct":
        old = get_entry(project, seq).entry
        if old.kind == "reading":
            correct_reading(
                project, actor=actor_of(request), request_id=request_id, seq=seq, value=form.get("new.value", ""), u=form.get("new.u", ""),
                instrument=form.get("new.instrument", ""), because=because,
            )  # fmt: skip
            return see_other(request.url_for("entry", seq=seq).path)
        instead = {**old.body, **{key[4:]: value for key, value in form.items() if key.startswith("new.")}}
        correct(
            project, actor=actor_of(request), request_id=request_id, seq=seq, because=because, instead=instead
        )
    else:
        undo(project, actor=actor_of(request), request_id=request_id, seq=seq, because=because)
    return see_other(request.url_for("entry", seq=seq).path)


def sign_operation(request: Request, form: dict[str, str]) -> Response:
    """Sign an operation or a stage of it: from now on its entries are only corrected."""
    ref = request.path_params["ref"]
    sign(
        project_of(request),
        actor=actor_of(request),
        request_id=form.get("request", ""),
        about=ref,
        stage=form.get("stage", ""),
        words=form.get("words", ""),
    )
    return see_other(request.url_for("operation", ref=ref).path)


def check_record(request: Request, form: dict[str, str]) -> Response:
    """Follow the chain, rebuild every table and compare."""
    report = check(project_of(request))
    return page(
        request,
        "checked.html",
        {"title": "Check the record", "report": report},
        status=200 if report.ok else 409,
    )


def _number(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise OutOfRangeError("before", found=text, allowed="the number of an entry")
    return int(text)


ROUTES = [
    Route("/record", record, name="record"),
    Route("/record/enter/{kind}", posting(note), methods=["GET", "POST"], name="enter_note"),
    Route("/record/evidence.pdf", evidence_pdf, name="evidence_pdf"),
    Route("/record/check", posting(check_record), methods=["POST"], name="check_record"),
    Route("/record/{seq:int}", entry, name="entry"),
    Route("/record/{seq:int}/change", posting(change), methods=["POST"], name="change_entry"),
    Route("/operation/{ref}/sign", posting(sign_operation), methods=["POST"], name="sign_operation"),
]
