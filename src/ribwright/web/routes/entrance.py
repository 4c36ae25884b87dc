"""What a device sees before it is let in: the entrance, and how to trust this machine's certificate."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from ribwright.errors import InputError, RefusedError, UnknownNameError
from ribwright.services.devices import SESSION_DAYS, leave, redeem
from ribwright.services.network import Served, source_of
from ribwright.web.errors import status_of
from ribwright.web.pages import page, project_of
from ribwright.web.posting import posting, see_other
from ribwright.web.sessions import COOKIES, device_here, is_here, kind_of, token_of

DAY_S = 86_400


def enter(request: Request, form: dict[str, str]) -> Response:
    """A code becomes a session; whatever session the browser had before ends."""
    here = served_of(request) is None or is_here(request.scope)
    code = form.get("code", request.query_params.get("code", ""))[:40]
    error: InputError | RefusedError | None = None
    if request.method == "POST" and not here:
        kind = kind_of(request.scope)
        source = source_of(request.client.host if request.client else "")
        try:
            _, token = redeem(
                project_of(request), code=code, name=form.get("name", "").strip(), kind=kind, source=source
            )
        except (InputError, RefusedError) as refused:
            error = refused
        else:
            if device_here(request) is not None:
                leave(project_of(request), token_of(request.scope))
            answer = see_other("/phones")
            answer.set_cookie(
                COOKIES[kind], token, max_age=SESSION_DAYS[kind] * DAY_S, path="/", secure=kind == "tls",
                httponly=True, samesite="strict",
            )  # fmt: skip
            return answer
    context = {
        "title": "Come in", "here": here, "code": code, "name": form.get("name", "")[:80],
        "mistake": error.sentence() if error else "", "plain": kind_of(request.scope) == "plain",
        "shut_out": request.scope.get("ribwright.shut-out", False) and request.method == "GET",
    }  # fmt: skip
    return page(request, "entrance.html", context, status=status_of(error) if error else 200)


def trust(request: Request) -> Response:
    """How a phone is told to trust this machine's certificate, step by step."""
    return page(request, "trust.html", {"title": "Trust this laptop", "served": served_of(request)})


def authority_file(request: Request) -> Response:
    """The authority's public certificate, as phones take it."""
    served = served_of(request)
    if served is None or not served.certificate:
        raise UnknownNameError("certificate", mend="Serve with: ribwright serve --lan --tls")
    headers = {
        "content-disposition": 'attachment; filename="ribwright-authority.crt"',
        "cache-control": "no-store",
    }
    return Response(served.certificate, media_type="application/x-x509-ca-cert", headers=headers)


def served_of(request: Request) -> Served | None:
    """How this app is served to the home network; None when it is not."""
    served: Served | None = request.app.state.served
    return served


ROUTES = [
    Route("/enter", posting(enter), methods=["GET", "POST"], name="enter"),
    Route("/trust", trust, name="trust"),
    Route("/trust/authority.crt", authority_file, name="authority_file"),
]
