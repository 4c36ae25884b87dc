"""Airframe: the breakdown, an assembly, a part."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from ribwright.services.airframe import assembly_view, breakdown, joined, of_other_aircraft
from ribwright.services.blanks import part_blank
from ribwright.services.incoming import rows_by_size
from ribwright.services.mirror import mirror
from ribwright.services.record import get_object, history, objects, set_object
from ribwright.web.forms import new_request_id
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other


def airframe(request: Request) -> Response:
    """All assemblies with what is in them and how far they are; operations that belong to none.

    Of an aeroplane beside the one that is being built only its own line: its assemblies are on its page.
    """
    project = project_of(request)
    tree, others = breakdown(project), of_other_aircraft(project)
    shown = [one for one in tree if one.one.noun == "aircraft" or one.one.ref not in others]
    return page(
        request,
        "airframe.html",
        {
            "title": "Airframe",
            "tree": shown,
            "elsewhere": len(tree) - len(shown),
            "request_id": new_request_id(),
            "loose": objects(project, noun="operation", parent=""),
        },
    )


def one(request: Request) -> Response:
    """An assembly with parts and operations, or a part with its story."""
    project, ref = project_of(request), request.path_params["ref"]
    found = get_object(project, ref)
    if found.noun == "operation":
        return RedirectResponse(request.url_for("operation", ref=ref).path)
    if found.noun in ("assembly", "aircraft"):
        view = assembly_view(project, ref)
        return page(
            request,
            "assembly.html",
            {
                "title": found.title or ref,
                "view": view,
                "sizes": rows_by_size(project, ref),
                "reference": found.reference,
                "request_id": new_request_id(),
            },
        )
    return page(
        request,
        "part.html",
        {
            "title": found.title or ref,
            "one": found,
            "reference": found.reference,
            "history": history(project, ref)[::-1],
            "request_id": new_request_id(),
            "blank": part_blank(project, found),
            "joined": joined(project, found),
        },
    )


def new_assembly(request: Request, form: dict[str, str]) -> Response:
    """A new assembly: reference and name."""
    ref = form.get("ref", "").strip()
    set_object(
        project_of(request), actor=actor_of(request), request_id=form.get("request", ""), noun="assembly", ref=ref,
        data={}, title=form.get("name", "").strip() or ref, parent=form.get("parent", "").strip(), seen_revision=0,
    )  # fmt: skip
    return see_other(request.url_for("object", ref=ref).path)


def other_hand(request: Request, form: dict[str, str]) -> Response:
    """Make the other hand of an assembly and all that belongs to it, in one action."""
    made = mirror(
        project_of(request), actor=actor_of(request), request_id=form.get("request", ""), ref=request.path_params["ref"],
        to=form.get("to", "").strip(),
    )  # fmt: skip
    return see_other(request.url_for("object", ref=made.top).path)


ROUTES = [
    Route("/airframe", airframe, name="airframe"),
    Route("/airframe/new", posting(new_assembly), methods=["POST"], name="new_assembly"),
    Route("/airframe/{ref}/other-hand", posting(other_hand), methods=["POST"], name="other_hand"),
    Route("/airframe/{ref}", one, name="object"),
]
