"""Stores: what is kept where, what is short, one set-up tonight, a crate; and the list of the major portion."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.audit import form_to_raw
from ribwright.core.audit.index import load
from ribwright.core.stores.crates import read_packing_list
from ribwright.errors import ConflictError, InputError, RibwrightError
from ribwright.services.batches import CALCULATION, batch_facts, mix_and_book
from ribwright.services.crates import days_left, owed, receive_crate
from ribwright.services.month import month_view, tonight, with_sheet_trays
from ribwright.services.portion import claim_line, enter_claim, mark_photo, photos_behind, portion_view
from ribwright.services.stores import (
    KINDS,
    count_item,
    enter_item,
    find_items,
    item_view,
    plain,
    take_item,
)
from ribwright.services.stores_list import stores_csv
from ribwright.web.forms import form_page, new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other

SHOWN = 200
PHOTOS_SHOWN = 24
WEIGHED = ("gross", "tare", "scale", "sample_count", "sample_weight")


def stores(request: Request, form: dict[str, str]) -> Response:
    """What is in the shop; entering an item or a crate."""
    project, error = project_of(request), None
    if request.method == "POST":
        try:
            _taken(request, form)
            return see_other("/stores")
        except (InputError, ConflictError) as refused:
            error = refused
    words, kind = request.query_params.get("words", "")[:200], request.query_params.get("kind", "")
    found = find_items(project, words=words, kind=kind)
    context = {
        "title": "Stores", "found": found[:SHOWN], "total": len(found), "words": words, "kind": kind, "kinds": KINDS, "month": month_view(project),
        "owed": [(one, days_left(project, one)) for one in owed(project)], "form": form if error else {}, "mistake": error.sentence() if error else "",
        "ids": [new_request_id() for _ in range(2)], "plain": plain,
    }  # fmt: skip
    return page(request, "stores.html", context, status=422 if error else 200)


def _taken(request: Request, form: dict[str, str]) -> None:
    project, actor, request_id = project_of(request), actor_of(request), form.get("request", "")
    if form.get("what") == "crate":
        receive_crate(
            project, actor=actor, request_id=request_id, crate=form.get("crate", ""), lines=read_packing_list(form.get("lines", "")),
            claim_by=form.get("claim_by", ""), supplier=form.get("supplier", ""),
        )  # fmt: skip
    else:
        enter_item(project, actor=actor, request_id=request_id, ref=form.get("ref", ""), values=form)


def item(request: Request, form: dict[str, str]) -> Response:
    """One item: count it, take from it, see where it went."""
    project, ref, error = project_of(request), request.path_params["ref"], None
    if request.method == "POST":
        try:
            actor, request_id = actor_of(request), form.get("request", "")
            if form.get("what") == "take":
                take_item(
                    project, actor=actor, request_id=request_id, ref=ref, quantity=form.get("quantity", ""), about=form.get("about", "").strip(), lot=form.get("lot", "")
                )  # fmt: skip
            else:
                weighed = {name: form.get(name, "") for name in WEIGHED}
                count_item(
                    project,
                    actor=actor,
                    request_id=request_id,
                    ref=ref,
                    quantity=form.get("quantity", ""),
                    weighed=weighed,
                )
            return see_other(request.url_for("stores_item", ref=ref).path)
        except InputError as refused:
            error = refused
    view = item_view(project, ref)
    context = {
        "title": view.held.item.title or ref, "view": view, "form": form if error else {}, "mistake": error.sentence() if error else "",
        "ids": [new_request_id() for _ in range(2)], "plain": plain, "reference": view.object.reference, "weighed": WEIGHED, "facts": batch_facts(view.object),
    }  # fmt: skip
    return page(request, "stores_item.html", context, status=422 if error else 200)


def tonight_page(request: Request) -> Response:
    """Stages that one set-up serves tonight, with the trays."""
    project = project_of(request)
    made = [with_sheet_trays(project, one) for one in tonight(project)]
    return page(request, "stores_tonight.html", {"title": "Same set-up tonight", "made": made})


def mix(request: Request, form: dict[str, str]) -> Response:
    """Work out a batch and book it with its times, its air and its lots."""
    project, spec = project_of(request), load(CALCULATION).spec
    raw, error = (form_to_raw(spec, form) if request.method == "POST" else {}), None
    tins = {name: form.get(name, "") for name in ("base_lot", "hardener_lot")}
    if request.method == "POST":
        try:
            made = mix_and_book(
                project, actor=actor_of(request), request_id=form.get("request", ""), raw=raw, **tins
            )
            return see_other(request.url_for("stores_item", ref=made.object.ref).path)
        except (InputError, ConflictError) as refused:
            error = refused
    context = {"title": "Mix a batch", "form": form_page(spec, raw, error=error), "tins": tins}
    return page(request, "stores_mix.html", context, status=422 if error else 200)


def stores_file(request: Request) -> Response:
    """Everything in the stores as CSV."""
    return Response(
        stores_csv(project_of(request)),
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="stores.csv"'},
    )


def portion(request: Request) -> Response:
    """The list of tasks with the builder's tenths."""
    return page(
        request, "portion.html", {"title": "Major portion", "view": portion_view(project_of(request))}
    )


def claim(request: Request, form: dict[str, str]) -> Response:
    """Claim one task in tenths."""
    project, key, error = project_of(request), request.path_params["key"], None
    listed = portion_view(project).listed
    if request.method == "POST":
        seen, number = form.get("seen", ""), form.get("photo", "")
        try:
            if form.get("what") == "photo":
                mark_photo(
                    project, actor=actor_of(request), request_id=form.get("request", ""), who=form.get("who", ""),
                    seq=int(number) if number.isascii() and number.isdigit() and len(number) < 9 else 0, there=form.get("there", "yes") != "no",
                )  # fmt: skip
                return see_other(request.url_for("portion_claim", key=key).path)
            enter_claim(
                project, actor=actor_of(request), request_id=form.get("request", ""), key=key,
                columns={column.key: form.get(f"column.{column.key}", "") for column in listed.columns}, applies=form.get("applies", "yes") != "no",
                evidence=form.get("evidence", "").split(), words=form.get("words", ""), seen_revision=int(seen) if seen.isascii() and seen.isdigit() and len(seen) < 9 else None,
            )  # fmt: skip
            return see_other("/portion")
        except (InputError, ConflictError) as refused:
            error = refused
    return _claim_page(request, key, form, error)


def _claim_page(request: Request, key: str, form: dict[str, str], error: RibwrightError | None) -> Response:
    project = project_of(request)
    line = claim_line(project, key)
    own = line.claim
    entered = {
        f"column.{column.key}": line.points(column.key) for column in portion_view(project).listed.columns
    }
    entered |= {
        "evidence": " ".join(own.evidence) if own else "",
        "words": own.words if own else "",
        "applies": "no" if own and not own.applies else "yes",
    }
    context = {
        "title": f"{key} {line.task.title}", "line": line, "columns": portion_view(project).listed.columns, "form": entered | (form if error else {}),
        "mistake": error.sentence() if error else "", "request_id": new_request_id() if form.get("what") == "photo" else form.get("request") or new_request_id(),
        "photos": [(*pair, new_request_id()) for pair in photos_behind(project, own.evidence if own else ())[:PHOTOS_SHOWN]],
    }  # fmt: skip
    return page(request, "portion_claim.html", context, status=422 if error else 200)


ROUTES = [
    Route("/stores", posting(stores), methods=["GET", "POST"], name="stores"),
    Route("/stores/tonight", tonight_page, name="stores_tonight"),
    Route("/stores/mix", posting(mix), methods=["GET", "POST"], name="stores_mix"),
    Route("/stores/stores.csv", stores_file, name="stores_csv"),
    Route("/stores/item/{ref:path}", posting(item), methods=["GET", "POST"], name="stores_item"),
    Route("/portion", portion, name="portion"),
    Route("/portion/{key}", posting(claim), methods=["GET", "POST"], name="portion_claim"),
]
