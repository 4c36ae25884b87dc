"""The first hour: a walk through the demonstration, and drawing data taken in from a file after a look at them."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import document_of_outcome
from ribwright.core.audit.index import by_trade, entries
from ribwright.errors import FormatError, MissingError, RibwrightError, UnknownNameError
from ribwright.services.calculations import kind_of, read_text, run_calculation
from ribwright.services.dunlin import is_demonstration
from ribwright.services.operations import enter_operation, next_reference
from ribwright.services.series import First, Like, enter_series, first_of, look
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other
from ribwright.web.walk import WALK, stop_path

TOLD = ("rivet", "holes", "pitch")
"""Results that are shown of each of a series beside what was typed."""


def walk(request: Request) -> Response:
    """The walk through the Dunlin, for whoever opens the demonstration."""
    project = project_of(request)
    there = is_demonstration(project)
    return page(request, "walk.html", {
        "title": "A walk through the Dunlin", "stops": [(stop_path(n), name, said) for n, (_, name, said) in enumerate(WALK, 1)], "there": there,
    })  # fmt: skip


def take_in(request: Request, form: dict[str, str]) -> Response:
    """Drawing data from a file: first what they come to, then, on request, into the record."""
    project = project_of(request)
    name, parent = (
        form.get("calculation", ""),
        form.get("parent", request.query_params.get("in", "")).strip(),
    )
    text = form["file"] if "file" in form and not form.get("enter") else form.get("text", "")
    error: RibwrightError | None = None
    done, document = None, None
    if request.method == "POST":
        try:
            if not text.strip():
                raise MissingError("Drawing data", mend="Choose the file, or paste what it holds.")
            if name and name not in {entry.name for entry in entries()}:
                raise UnknownNameError("Kind of operation", found=name, allowed="one of the list")
            raw: dict[str, Any] = read_text(
                text.encode("utf-8", "surrogateescape"),
                name="the drawing data",
                toml=not text.lstrip().startswith("{"),
            )
            name = name or kind_of(raw)
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
        "title": "Take in drawing data", "trades": by_trade(), "chosen": name, "parent": parent, "done": done,
        "text": text.encode("utf-8", "replace").decode(),
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
    if request.method == "GET":  # "rib 2" counts on; a number with a hyphen may be a drawing's
        form = {f"step.{n}": "1" for n, word in enumerate(first.words) if " " in word}
    fits = bool(found) and all(one.done for one in found)
    context = {
        "title": f"More like {ref}", "first": first, "found": found, "fits": fits, "form": form, "error": error.sentence() if error else "",
        "refs": " ".join(one.ref for one in found), "request_id": form.get("request") or new_request_id(),
        "told": [(key, one.label) for key, one in found[0].done.outcome.results.items() if key in TOLD] if found and found[0].done else [],
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
    Route("/operation/take-in", posting(take_in, text_file="file"), methods=["GET", "POST"], name="take_in"),
]
