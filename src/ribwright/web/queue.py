"""Forms that waited on a phone: the same forms, answered so that the phone knows what became of each."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from ribwright.errors import RibwrightError, UnknownNameError
from ribwright.services.queued import Clash, clashes, known_request
from ribwright.web.errors import status_of
from ribwright.web.pages import actor_of, project_of

HEADER = "ribwright-queue"
TAKEN = "ribwright-taken"
KEEP = "ribwright-keep"
SHUT_OUT = "ribwright-shut-out"
"""Sent with any answer to a device that has been shut out: its worker then clears what it keeps."""


class Clashed(Exception):
    """What waited on the phone and what came meanwhile are about the same things; a person decides."""

    def __init__(self, found: tuple[Clash, ...]) -> None:
        super().__init__("clash")
        self.found = found


def waited(request: Request) -> bool:
    """Whether this form waited on a phone."""
    return request.method == "POST" and request.headers.get(HEADER) == "yes"


def answered(request: Request, form: Mapping[str, str], work: Callable[[], Response]) -> Response:
    """Run the handler of a form that waited, and say what became of it.

    The phone strikes a form off only for an answer that names it as taken; whatever else comes (a page of a
    proxy, the entrance, an error) leaves it waiting.
    """
    request_id = form.get("request", "")
    try:
        answer = work()
    except Clashed as clash:
        rows = [
            {"what": c.what, "mine": c.mine, "theirs": c.theirs, "by": c.by, "at": c.at, "entry": str(c.seq)}
            for c in clash.found
        ]
        said = "Somebody entered the same since this phone last saw the record. Nothing was entered yet."
        return JSONResponse({"said": [said], "clashes": rows}, status_code=409)
    except RibwrightError as refused:
        if refused.field != "form" and _there(request, request_id):
            return _taken(request_id)  # it came through once, only the answer was lost
        said_all = [refused.sentence(), *(other.sentence() for other in getattr(refused, "others", ()))]
        return JSONResponse({"said": said_all, "clashes": []}, status_code=status_of(refused))
    if answer.status_code >= 400:
        return JSONResponse(
            {"said": ["It can't be entered as it is."], "clashes": []}, status_code=answer.status_code
        )
    return _taken(request_id)


def refuse_clashes(
    request: Request, form: Mapping[str, str], *, ref: str, stage: str, readings: list[dict[str, str]] | None = None,
    marks: Mapping[int, str] | None = None, hours: str = "",
) -> None:  # fmt: skip
    """Stop a form that waited when somebody entered the same meanwhile, unless its sender saw both and decided.

    Raises:
        Clashed: with both sides.
    """
    seen = form.get("head", "")
    if (
        not waited(request)
        or form.get("over") == "yes"
        or not (seen.isascii() and seen.isdigit() and len(seen) < 13)
    ):
        return
    request_id = form.get("request", "")
    if _there(request, request_id):
        return
    found = clashes(
        project_of(request), actor=actor_of(request), request_id=request_id, ref=ref, stage=stage, seen=int(seen),
        readings=readings or (), marks=marks, hours=hours,
    )  # fmt: skip
    if found:
        raise Clashed(found)


def tapped(request: Request, form: Mapping[str, str]) -> str:
    """When a form that waited was sent off by hand, by the phone's clock; "" for a form that comes at once."""
    return form.get("tapped", "") if waited(request) else ""


def kept(response: Response) -> Response:
    """A page that a paired phone may keep for when the laptop doesn't answer; what is signed never waits there."""
    response.headers[KEEP] = "yes"
    return response


def _there(request: Request, request_id: str) -> bool:
    ref = str(request.path_params.get("ref", ""))
    return bool(request_id) and known_request(
        project_of(request), request_id, actor=actor_of(request), about=ref
    )


def _taken(request_id: str) -> Response:
    if not request_id.isascii() or not request_id.isprintable():
        raise UnknownNameError("request id", found=request_id)
    return Response(status_code=204, headers={TAKEN: request_id})
