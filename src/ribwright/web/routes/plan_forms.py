"""Forms of the plan: week, helper and cash; an order. What a change does to the date is shown before it is saved."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from hashlib import blake2b
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import form_to_raw
from ribwright.errors import MissingError, RibwrightError
from ribwright.services.plan_import import Taken, look_at, look_at_these, store, take_in
from ribwright.services.plan_items import (
    OrderSpec,
    changed_order,
    order_raw,
    save_order,
    standing_order,
    unstored,
)
from ribwright.services.plan_make_or_buy import MakeOrBuy, MakeOrBuySpec, make_or_buy
from ribwright.services.plan_preview import Preview, preview
from ribwright.services.plan_settings import PlanSpec, parsed, save_settings
from ribwright.services.plan_settings import settings as stored_settings
from ribwright.services.plan_sources import sources, today_of
from ribwright.services.plan_task_form import (
    TaskSpec,
    chosen,
    revision_of,
    standing_task,
    task_entered,
    task_raw,
)
from ribwright.web.forms import changed_rows, form_page, new_request_id, row_change
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

BESIDE = ("request", "seen", "looked", "ref")
MOST_TASKS = 100


def settings(request: Request, form: dict[str, str]) -> Response:
    """Week, helper, room and cash."""
    project = project_of(request)
    now = stored_settings(project)

    def effect(raw: Mapping[str, Any]) -> Preview:
        return preview(project, replace(sources(project), settings=parsed(raw, revision=now.revision)))

    def save(raw: Mapping[str, Any]) -> None:
        save_settings(
            project, actor=actor_of(request), request_id=form.get("request", ""), raw=raw, seen_revision=_seen(form)
        )  # fmt: skip

    shown = {"title": "Week, helper, cash", "ref": "", "new": False, "lead": "Leave as it is what you don’t know: it then stands at a default, and the plan says so."}  # fmt: skip
    return _looked_at(request, form, PlanSpec, now.entered(), str(now.revision), effect, save, shown)


def order(request: Request, form: dict[str, str]) -> Response:
    """One order: when, how long it takes, what it costs."""
    project, ref = project_of(request), request.path_params.get("ref", "")
    wanted = ref or form.get("ref", "").strip()
    one = standing_order(project, ref) if ref else unstored(wanted, "", {})
    today = today_of(project)

    def effect(raw: Mapping[str, Any]) -> Preview:
        _named(wanted)
        return preview(project, sources(project).with_object(changed_order(one, raw, today=today)))

    def save(raw: Mapping[str, Any]) -> None:
        save_order(
            project, actor=actor_of(request), request_id=form.get("request", ""), ref=_named(wanted), raw=raw, today=today, seen_revision=_seen(form)
        )  # fmt: skip

    shown = {"title": f"Order {ref}" if ref else "New order", "ref": wanted, "new": not ref, "lead": "A lead time has two numbers: the weeks it usually takes, and the weeks if it is late."}  # fmt: skip
    entered = order_raw(one) if ref else {}
    return _looked_at(request, form, OrderSpec, entered, str(one.revision), effect, save, shown)


def task(request: Request, form: dict[str, str]) -> Response:
    """One task: hours, what it waits for, what it needs."""
    project, key = project_of(request), request.path_params.get("key", "")
    wanted = key or form.get("ref", "").strip()
    one = standing_task(project, key) if key else None

    def entered(raw: Mapping[str, Any]) -> Taken:
        return look_at_these(project, (task_entered(_named(wanted, "task", "HANG-ENGINE"), one, raw),))

    def save(raw: Mapping[str, Any]) -> None:
        store(project, entered(raw), actor=actor_of(request), request_id=form.get("request", ""), seen_revision=_seen(form) or None)  # fmt: skip

    shown = {"title": f"Task {key}" if key else "New task", "ref": wanted, "new": not key, "example": "HANG-ENGINE", "lead": "Hours have two numbers: what you estimate, and what it takes if it goes badly. Of an operation, hours, helper, warmth, daylight and drying are changed here, the rest on its own page."}  # fmt: skip
    raw = task_raw(one) if one is not None else {}
    seen = str(revision_of(sources(project), key)) if key else "0"
    return _looked_at(request, form, TaskSpec, raw, seen, lambda raw: entered(raw).effect, save, shown)


def task_list(request: Request) -> Response:
    """Tasks by words, each to be changed."""
    words = request.query_params.get("words", "")[:200]
    rows, count = chosen(project_of(request), words, MOST_TASKS)
    context = {"title": "Tasks of the plan", "tasks": rows, "count": count, "words": words}
    return page(request, "plan_tasks.html", context)


def make_or_buy_page(request: Request, form: dict[str, str]) -> Response:
    """A part-assembled unit against building it; nothing is stored."""
    raw: dict[str, Any] = {}
    found: MakeOrBuy | None = None
    error: RibwrightError | None = None
    if request.method == "POST":
        raw = form_to_raw(MakeOrBuySpec, {k: v for k, v in form.items() if k not in BESIDE})
        try:
            found = make_or_buy(project_of(request), raw)
        except RibwrightError as refused:
            error = refused
    context = {"title": "Make or buy", "form": form_page(MakeOrBuySpec, raw, error=error), "found": found}
    return page(request, "plan_make_or_buy.html", context, status=422 if error else 200)


def take_in_tasks(request: Request, form: dict[str, str]) -> Response:
    """Tasks and items pasted from a file: first what they do to the date, then, on request, into the record."""
    project, text = project_of(request), form.get("text", "")
    found: Taken | None = None
    error: RibwrightError | None = None
    mark = blake2b(text.encode(errors="replace"), digest_size=8).hexdigest()
    if request.method == "POST":
        try:
            if form.get("save") and form.get("looked") == mark:
                take_in(project, actor=actor_of(request), request_id=form.get("request", ""), text=text)
                return see_other("/plan")
            found = look_at(project, text)
        except RibwrightError as refused:
            error = refused
    context = {
        "title": "Take in tasks", "text": text, "found": found, "looked": mark if found else "", "request_id": form.get("request") or new_request_id(),
        "mistake": error.sentence() if error else "",
    }  # fmt: skip
    return page(request, "plan_take_in.html", context, status=422 if error else 200)


def _named(ref: str, what: str = "order", example: str = "ENGINE") -> str:
    if not ref:
        raise MissingError("Reference", mend=f"Give the {what} a short name, such as {example}.")
    return ref


def _seen(form: Mapping[str, str]) -> int | None:
    seen = form.get("seen", "")
    return int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 9 else None


def _looked_at(
    request: Request, form: dict[str, str], spec: type, entered: Mapping[str, Any], seen: str,
    effect: Callable[[Mapping[str, Any]], Preview], save: Callable[[Mapping[str, Any]], None], shown: dict[str, Any],
) -> Response:  # fmt: skip
    """The form; sent once it shows what it does to the date, and what was looked at can then be saved."""
    raw, extra = dict(entered), {}  # type: ignore[var-annotated]
    error: RibwrightError | None = None
    found: Preview | None = None
    mark = ""
    if request.method == "POST":
        change = row_change(form)
        raw = form_to_raw(spec, {k: v for k, v in form.items() if k not in BESIDE and ":" not in k})
        seen = form.get("seen", seen)
        mark = blake2b(repr((shown["ref"], raw)).encode(), digest_size=8).hexdigest()
        if change is not None:
            raw, extra = changed_rows(raw, change)
        else:
            try:
                if form.get("save") and form.get("looked") == mark:
                    save(raw)
                    return see_other("/plan")
                found = effect(raw)
            except RibwrightError as refused:
                error = refused
    made = form_page(spec, raw, request_id=form.get("request", ""), seen=seen, error=error, extra_rows=extra)
    context = shown | {"form": made, "effect": found, "looked": mark if found else ""}
    return page(request, "plan_form.html", context, status=422 if error else 200)


ROUTES = [
    Route("/plan/settings", posting(settings), methods=["GET", "POST"], name="plan_settings"),
    Route("/plan/make-or-buy", posting(make_or_buy_page), methods=["GET", "POST"], name="make_or_buy"),
    Route("/plan/take-in", posting(take_in_tasks), methods=["GET", "POST"], name="take_in_tasks"),
    Route("/plan/tasks", task_list, name="task_list"),
    Route("/plan/task", posting(task), methods=["GET", "POST"], name="new_task"),
    Route("/plan/task/{key:path}", posting(task), methods=["GET", "POST"], name="task"),
    Route("/plan/order", posting(order), methods=["GET", "POST"], name="new_order"),
    Route("/plan/order/{ref}", posting(order), methods=["GET", "POST"], name="order"),
]
