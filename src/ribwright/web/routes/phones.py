"""Who may come in: on the laptop the list and the invitations; on a phone what it may do, and the way out."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.core.record.entry import ROLES
from ribwright.errors import InputError, UnknownNameError
from ribwright.services.devices import CODE_MINUTES, devices, leave, make_pairing, revoke
from ribwright.services.qr import qr_path
from ribwright.web.pages import actor_of, page, project_of
from ribwright.web.posting import posting, see_other
from ribwright.web.routes.entrance import served_of
from ribwright.web.sessions import CLEARED, COOKIES, device_here, kind_of, token_of

ROLE_WORDS = {
    "builder": "everything the builder does at the bench",
    "helper": "logs hours, readings, photos and discrepancies; signs nothing and settles nothing",
    "adviser": "reads everything; asks and answers questions",
    "inspector": "reads everything; enters visits, readings and findings, and signs",
}


def phones(request: Request, form: dict[str, str]) -> Response:
    """The page, and what its forms do."""
    device = device_here(request)
    if device is None:
        return _laptop(request, form)
    if request.method == "POST" and form.get("what") == "leave":
        leave(project_of(request), token_of(request.scope))
        answer = see_other("/enter")
        answer.delete_cookie(
            COOKIES[kind_of(request.scope)],
            path="/",
            secure=device.kind == "tls",
            httponly=True,
            samesite="strict",
        )
        answer.headers[CLEARED[0].decode()] = CLEARED[1].decode()
        return answer
    if request.method == "POST":
        actor_of(request)
        raise UnknownNameError("what", found=form.get("what", ""), allowed="leave")
    return page(
        request, "this_phone.html",
        {"title": device.name, "device": device, "may": ROLE_WORDS[device.role]},
    )  # fmt: skip


def _laptop(request: Request, form: dict[str, str]) -> Response:
    project, actor, served = project_of(request), actor_of(request), served_of(request)
    error: InputError | None = None
    invited: dict[str, Any] | None = None
    if request.method == "POST" and form.get("what") == "shut-out":
        revoke(project, actor=actor, device=form.get("device", ""))
        return see_other("/phones")
    if request.method == "POST" and form.get("what") == "invite":
        person, role = form.get("person", "").strip(), form.get("role", "")
        try:
            code = make_pairing(project, actor=actor, person=person, role=role)
        except InputError as refused:
            error = refused
        else:
            link = f"{served.url}/enter?code={quote(code)}" if served else ""
            side, path = qr_path(link) if link else (0, "")
            invited = {"code": code, "person": person, "role": role, "link": link, "side": side, "path": path}
    elif request.method == "POST":
        raise UnknownNameError("what", found=form.get("what", ""), allowed="invite, shut-out")
    now = project.now()
    every = devices(project)
    trust_side, trust_path = qr_path(served.trust_url) if served and served.tls_port else (0, "")
    context = {
        "title": "Who may come in", "served": served, "invited": invited, "minutes": CODE_MINUTES, "roles": [(r, ROLE_WORDS[r]) for r in ROLES],
        "inside": [d for d in every if not d.revoked_at and d.expires_at > now], "before": [d for d in every if d.revoked_at or d.expires_at <= now][:30],
        "form": form if error else {}, "mistake": error.sentence() if error else "", "trust_side": trust_side, "trust_path": trust_path,
    }  # fmt: skip
    return page(request, "phones.html", context, status=422 if error else 200)


ROUTES = [Route("/phones", posting(phones), methods=["GET", "POST"], name="phones")]
