"""What stands before every route: who may call, from where, how much, and what a page may load.

The app answers only to names it knows (a page on the internet could point its own name at this machine),
takes changes only from its own pages, and never runs a script that it did not ship.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import urlsplit

from starlette.exceptions import HTTPException

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_FORM = 2_000_000
LARGEST_UPLOAD = 64_000_000
SAFE = ("GET", "HEAD", "OPTIONS")

OPENER = b"cross-origin-opener-policy"
LOCAL_HOSTS = frozenset(("127.0.0.1", "localhost", "::1"))
HEADERS = (
    (
        b"content-security-policy",
        b"default-src 'self'; img-src 'self' data: blob:; style-src 'self'; script-src 'self'; object-src 'none'; "
        b"base-uri 'none'; form-action 'self'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"same-origin"),
    (b"x-frame-options", b"DENY"),
    (OPENER, b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
)

ELSEWHERE = "This was asked for by another site; open the app itself."


class TooLarge(HTTPException):
    """The body went on beyond what is allowed, whatever length was said."""


def guard(app: App, *, hosts: frozenset[str], upload_paths: tuple[str, ...] = ()) -> App:
    """Wrap an app: known hosts, own origin on unsafe methods, bounded bodies, headers on every answer.

    Args:
        hosts: names this server is known by, without port.
        upload_paths: where a photo's worth of bytes may be sent, in a form of parts; those are kept on disk as they
            come, where a plain form is held in memory. One that ends in a slash stands for all below it.
    """

    async def guarded(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await app(scope, receive, send)
            return
        headers = {name.lower(): value for name, value in scope["headers"]}
        refused = _refusal(scope, headers, hosts)
        here = _host_name(headers.get(b"host", b"").decode("latin-1").lower()) in LOCAL_HOSTS
        limit = LARGEST_UPLOAD if _brings_a_photo(scope["path"], headers, upload_paths) else LARGEST_FORM
        length = headers.get(b"content-length", b"0")
        too_large = f"The form is too large: at most {limit // 1_000_000} MB can be sent here."
        if refused is None and (not length.isdigit() or int(length) > limit):
            refused = (413, too_large)
        if refused is not None:
            await plain_answer(send, *refused)
            return
        taken = 0
        started = False

        async def bounded() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > limit:
                raise TooLarge(413, too_large)
            return message

        async def sealed(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                have = {name.lower() for name, _ in message["headers"]}
                if scope.get("scheme") != "https" and not here:
                    have.add(OPENER)  # a browser complains of it on every page of an open connection
                message["headers"] = [*message["headers"], *(pair for pair in HEADERS if pair[0] not in have)]
            await send(message)

        try:
            await app(scope, bounded, sealed)
        except TooLarge:
            if not started:
                await plain_answer(send, 413, too_large)

    return guarded


def _brings_a_photo(path: str, headers: dict[bytes, bytes], upload_paths: tuple[str, ...]) -> bool:
    parts = headers.get(b"content-type", b"").lower().startswith(b"multipart/form-data")
    return parts and any(path.startswith(one) if one.endswith("/") else path == one for one in upload_paths)


def _refusal(scope: Scope, headers: dict[bytes, bytes], hosts: frozenset[str]) -> tuple[int, str] | None:
    host = headers.get(b"host", b"").decode("latin-1").lower()
    name = _host_name(host)
    if name not in hosts:
        return (
            421,
            "This server does not answer to that name. Open it by the address that it printed when it started.",
        )
    site = headers.get(b"sec-fetch-site")
    if scope["method"] in SAFE:
        # a link from elsewhere may open a page; a page elsewhere may not draw in what the app holds
        opened = (
            headers.get(b"sec-fetch-mode") == b"navigate" and headers.get(b"sec-fetch-dest") == b"document"
        )
        return (403, ELSEWHERE) if site in (b"cross-site", b"same-site") and not opened else None
    if site is not None and site not in (b"same-origin", b"none"):
        return (
            403,
            "This form came from another site; nothing was changed. Open the app itself and send it from there.",
        )
    origin = headers.get(b"origin")
    if origin is not None:
        came = origin.decode("latin-1").lower()
        if came != f"{scope.get('scheme', 'http')}://{host}":  # "null" never fits
            return (
                403,
                "This form came from another site; nothing was changed. Open the app itself and send it from there.",
            )
    return None


def _host_name(host: str) -> str | None:
    """The name without port; None for what is no name, such as a bracket left open."""
    if not 0 < len(host) < 256 or not all(c.isalnum() or c in ".:-[]" for c in host):
        return None
    try:
        return urlsplit(f"//{host}").hostname
    except ValueError:
        return None


async def plain_answer(send: Send, status: int, text: str, *more: tuple[bytes, bytes]) -> None:
    """A sentence as the whole answer, sent before any page is made."""
    body = text.encode()
    await send(
        {
            "type": "http.response.start",
            "status": status,
            "headers": [
                (b"content-type", b"text/plain; charset=utf-8"),
                (b"content-length", str(len(body)).encode()),
                (b"cache-control", b"no-store"),
                *more,
                *(pair for pair in HEADERS if pair[0] != OPENER),
            ],
        }
    )
    await send({"type": "http.response.body", "body": body})
