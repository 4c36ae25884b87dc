"""The first hour: a walk through the demonstration, and drawing data taken in from a file after a look at them."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import document_of_outcome
from ribwright.core.audit.index import by_trade, entries
from ribwright.errors import FormatError, MissingError, RibwrightError, UnknownNameError
from ribwright.services.calculations import read_text, run_calculation
from ribwright.services.operations import enter_operation, next_reference
from ribwright.services.record import get_object
from ribwright.services.series import First, Like, enter_series, first_of, look
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

WALK = (
    ("/airframe/DN-21", "The left aileron", "Its operations in the order of work, the parts they join, the spaces they close."),
    ("/operation/DN-21-S01", "A seam", "The row with every hole lettered by its tightest check, the stack cut through one rivet, what it comes to."),
    ("/operation/DN-21-S01/worksheet", "Its worksheet", "Each number with the formula, the source and how far that source was followed."),
    ("/stage/DN-21-S01/rivet", "Its bench sheet", "Tray, settings, trial piece, steps; readings are typed as the trade writes them, and answered at once."),
    ("/operation/DN-21-S01/like", "A series like it", "Four more ribs: what counts on, what tapers; worked out before any is entered."),
    ("/operation/DN-21-S01/spoiled", "A spoiled hole", "Type .112 as the largest across the hole: within limits, how to mend it, or the page for the designer."),
    ("/operation/DN-21-R01", "A rolled nose", "Which pipe, how much tape, how far to turn, and the gap to expect."),
    ("/operation/DN-21-R01/rolled", "After the roll", "One reading with a steel rule: stop, or what next."),
    ("/operation/DN-21-R01/gauges", "A phone as a gauge", "A printed sheet; two photos; the deviation in tenths of a millimetre."),
    ("/stage/DN-21-S27/rivet", "Before you close it", "A space is not closed while one line of its list is open."),
    ("/plan", "When it flies", "What to order by when, what moves the date, whether the cash is there."),
    ("/record", "The record", "Every entry, for good; its seal stands at the foot of every page."),
)  # fmt: skip


def walk(request: Request) -> Response:
    """The walk through the Dunlin, for whoever opens the demonstration."""
    project = project_of(request)
    try:
        get_object(project, "DN-21")
        there = True
    except RibwrightError:
        there = False
    return page(request, "walk.html", {"title": "A walk through the Dunlin", "stops": WALK, "there": there})


def take_in(request: Request, form: dict[str, str]) -> Response:
    """Drawing data from a file: first what they come to, then, on request, into the record."""
    project = project_of(request)
    name, parent = (
        form.get("calculation", "seam"),
        form.get("parent", request.query_params.get("in", "")).strip(),
    )
    text = form.get("text", "")
    error: RibwrightError | None = None
    done, document = None, None
    if request.method == "POST":
        try:
            if not text.strip():
                raise MissingError("Drawing data", mend="Paste what the file holds.")
            if name not in {entry.name for entry in entries()}:
                raise UnknownNameError("Kind of operation", found=name, allowed="one of the list")
            raw: dict[str, Any] = read_text(
                text.encode(), name="what was pasted", toml=not text.lstrip().startswith("{")
            )
            if form.get("enter"):
                made = enter_operation(
                    project, actor=actor_of(request), request_id=form.get("request", ""), calculation=name, raw=raw, parent=parent, make_parent=True,
                    ref=form.get("ref", "").strip() or next_reference(project, parent),
                )  # fmt: skip
                return see_other(request.url_for("operation", ref=made.ref).path)
            done = run_calculation(name, raw)
            document = document_of_outcome(done.outcome, done.spec, title="How it is worked out")
        except RibwrightError as refused:
            error = refused
    sentences = [one.sentence() for one in (error, *getattr(error, "others", ()))] if error else []
    context = {
        "title": "Take in drawing data", "trades": by_trade(), "chosen": name, "parent": parent, "text": text, "done": done,
        "document": document, "sentences": sentences, "request_id": form.get("request") or new_request_id(),
        "suggested": next_reference(project, parent), "new_ref": form.get("ref", "").strip() or (next_reference(project, parent) if done else ""),
    }  # fmt: skip
    return page(request, "take_in.html", context, status=422 if error else 200)


def like_ones(request: Request, form: dict[str, str]) -> Response:
    """A series of operations like one: what changes along it, the look, and then the entry of all."""
    project, ref = project_of(request), request.path_params["ref"]
    first = first_of(project, ref)
    found: tuple[Like, ...] = ()
    error: RibwrightError | None = None
    if request.method == "POST":
        try:
            asked = _asked(form, first)
            if form.get("enter"):
                enter_series(
                    project, actor=actor_of(request), request_id=form.get("request", ""), ref=ref, refs=form.get("refs", "").split(), **asked
                )  # fmt: skip
                return see_other(
                    request.url_for("object", ref=first.one.parent).path if first.one.parent else "/"
                )
            found = look(project, ref, **asked)
        except RibwrightError as refused:
            error = refused
    fits = bool(found) and all(one.done for one in found)
    context = {
        "title": f"More like {ref}", "first": first, "found": found, "fits": fits, "form": form, "error": error.sentence() if error else "",
        "refs": " ".join(one.ref for one in found), "request_id": form.get("request") or new_request_id(),
        "tapers": [(n, one) for n, one in enumerate(first.quantities) if form.get(f"last.{n}", "").strip()],
    }  # fmt: skip
    return page(request, "like_ones.html", context, status=422 if error else 200)


def _asked(form: dict[str, str], first: First) -> dict[str, Any]:
    """What was typed, by the names that the series uses."""

    def whole(name: str, text: str) -> int:
        try:
            return int(text.strip() or "0")
        except ValueError:
            raise FormatError(name, found=text[:20], allowed="a whole number such as 1") from None

    return {
        "count": whole("How many more", form.get("count", "")),
        "steps": {
            word: step
            for n, word in enumerate(first.words)
            if (step := whole(word, form.get(f"step.{n}", "")))
        },
        "last": {one.path: form.get(f"last.{n}", "") for n, one in enumerate(first.quantities)},
    }


ROUTES = [
    Route("/walk", walk, name="walk"),
    Route("/operation/{ref}/like", posting(like_ones), methods=["GET", "POST"], name="like_ones"),
    Route("/operation/take-in", posting(take_in), methods=["GET", "POST"], name="take_in"),
]
