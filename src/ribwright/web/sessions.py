"""Who comes in from the home network: only a paired device, on the connection that it was paired over.

The machine itself is told by its own listener: what arrives at 127.0.0.1 is the laptop and needs no pairing.
Everything that arrives at another address is a device with a session, or a stranger, for whom only the
entrance is open.
"""

from __future__ import annotations

import ipaddress
import math
import time
from collections import Counter
from collections.abc import Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request

from ribwright.errors import RibwrightError
from ribwright.services.devices import Device, device_of, was_shut_out
from ribwright.services.network import Served, source_of
from ribwright.services.project import Project
from ribwright.web.queue import SHUT_OUT
from ribwright.web.rates import limiter
from ribwright.web.security import SAFE, App, Message, Receive, Scope, Send, plain_answer

COOKIES: Mapping[str, str] = {"plain": "ribwright-plain", "tls": "__Host-ribwright"}
"""Each kind of connection reads its own cookie alone. A browser takes a ``__Host-`` cookie over https only, so
that whoever can write into plain http can't plant one."""

CLEARED = (b"clear-site-data", b'"cache", "storage"')
"""What the browser keeps of the app goes, also where no worker of ours runs."""

WORKER_ASKS = "/waiting"
"""What the worker asks for when a page led to the entrance, to learn why."""

ENTRANCE = ("/enter", "/static/")
TRUST = ("/trust", "/static/")
DESK = "/adviser/"
"""Where advisers sign in, with a key of their own; open to a secure connection only."""

STRANGERS_BYTES, DESK_BYTES = 4096, 64_000
LOOKED_AGAIN_S = 5.0

STRANGERS_PER_S, STRANGERS_BURST = 5.0, 60
DEVICES_PER_S, DEVICES_BURST = 40.0, 400
MOST_AT_ONCE = 24
"""Answers that one device may wait for at once, open streams among them: a browser asks for six, and fewer than
the program works at are left to the others."""


def is_here(scope: Scope) -> bool:
    """Whether a request came from this machine to its own address, where nobody else arrives."""
    return _loopback((scope.get("client") or ("",))[0]) and (scope.get("server") or ("",))[0] in (
        "127.0.0.1",
        "::1",
    )


def kind_of(scope: Scope) -> str:
    """What kind of session this connection carries: "tls" or "plain"."""
    return "tls" if scope.get("scheme") == "https" else "plain"


def token_of(scope: Scope) -> str:
    """The session's token that came with a request; "" for none, and for two that differ."""
    wanted = COOKIES[kind_of(scope)]
    found = set()
    for name, value in scope["headers"]:
        if name.lower() == b"cookie":
            for part in value.decode("latin-1").split(";"):
                key, _, token = part.strip().partition("=")
                if key == wanted:
                    found.add(token)
    return found.pop() if len(found) == 1 else ""


def device_here(request: Request) -> Device | None:
    """The paired device that sent this; None for the laptop itself and for strangers."""
    device: Device | None = request.scope.get("ribwright.device")
    return device


def admit(app: App, *, project: Project, served: Served, with_desk: bool = False) -> App:
    """Wrap an app for the home network: sessions, entrance, rates.

    Args:
        app: already guarded (names, origin, bodies).
        project: whose devices are let in.
        served: how; with TLS, plain http offers nothing but the page that explains how to trust it.
        with_desk: advisers, who have no device here, may come to their own desk over TLS.
    """
    strangers_wait = limiter(per_second=STRANGERS_PER_S, burst=STRANGERS_BURST)
    devices_wait = limiter(per_second=DEVICES_PER_S, burst=DEVICES_BURST)
    answering: Counter[str] = Counter()

    async def admitted(scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        only_trust = served.tls_port > 0 and kind_of(scope) == "plain"
        token = "" if only_trust else token_of(scope)
        try:
            device = await run_in_threadpool(_session, project, token, kind_of(scope))
        except RibwrightError as error:
            await plain_answer(send, 503, error.sentence())
            return
        source = source_of((scope.get("client") or ("",))[0])
        wait = devices_wait(device.id) if device is not None else strangers_wait(source)
        if wait > 0:
            after = (b"retry-after", str(math.ceil(wait)).encode())
            await plain_answer(send, 429, "Too fast. Wait a moment, then try again.", after)
            return
        if device is not None and answering[device.id] >= MOST_AT_ONCE:
            await plain_answer(
                send, 429, "Too much at once. Close a page, then try again.", (b"retry-after", b"2")
            )
            return
        scope["ribwright.device"] = device
        scope["ribwright.actor"] = None if device is None else device.actor
        if device is None:
            out = bool(token) and await run_in_threadpool(was_shut_out, project, token)
            scope["ribwright.shut-out"] = out
            to_desk = with_desk and kind_of(scope) == "tls"
            paths = TRUST if only_trust else (*ENTRANCE, DESK) if to_desk else ENTRANCE
            await _stranger(app, scope, receive, send, paths, shut_out=out)
            return
        if scope["method"] not in SAFE and not any(name.lower() == b"origin" for name, _ in scope["headers"]):
            await plain_answer(send, 403, "It was not said which page sent this; nothing was changed.")
            return
        looked, ended = time.monotonic(), False

        async def watched(message: Message) -> None:
            # an answer that runs on and on (live values) ends when its device is shut out
            nonlocal looked, ended
            if message.get("more_body") and not ended and time.monotonic() - looked > LOOKED_AGAIN_S:
                looked = time.monotonic()
                if await run_in_threadpool(_session, project, token, kind_of(scope)) is None:
                    ended = True
                    await send({"type": "http.response.body", "body": b""})
            if not ended:
                await send(message)

        async def heard() -> Message:
            return {"type": "http.disconnect"} if ended else await receive()

        answering[device.id] += 1
        try:
            await app(scope, heard, watched)
        finally:
            answering[device.id] -= 1
            if not answering[device.id]:
                del answering[device.id]

    return admitted


def _session(project: Project, token: str, kind: str) -> Device | None:
    device = device_of(project, token) if token else None
    return device if device is not None and device.kind == kind else None


async def _stranger(
    app: App,
    scope: Scope,
    receive: Receive,
    send: Send,
    open_paths: tuple[str, ...],
    *,
    shut_out: bool,
) -> None:
    """The entrance, small forms only; every other page leads there."""
    path, headers = scope["path"], {name.lower(): value for name, value in scope["headers"]}
    if any(
        path.startswith(one) if one.endswith("/") else path == one or path.startswith(f"{one}/")
        for one in open_paths
    ):
        length = headers.get(b"content-length", b"")
        if scope["method"] not in SAFE:
            if b"origin" not in headers:
                await plain_answer(send, 403, "It was not said which page sent this; nothing was changed.")
                return
            most = DESK_BYTES if path.startswith(DESK) else STRANGERS_BYTES
            if not (length.isdigit() and len(length) < 9 and int(length) <= most):
                await plain_answer(send, 413, "The form is too large.")
                return
        await app(scope, receive, send)
        return
    kind, more = kind_of(scope), list[tuple[bytes, bytes]]()
    if shut_out:
        more = [(SHUT_OUT.encode(), b"yes"), CLEARED]
        if kind == "plain" or path == WORKER_ASKS:
            # not sooner: the worker, which clears what waits, is known by the session that was
            more.append((b"set-cookie", _forgotten(kind)))
    if scope["method"] in SAFE and b"text/html" in headers.get(b"accept", b"text/html"):
        location = (b"location", open_paths[0].encode())
        await plain_answer(send, 303, "Go to the entrance.", location, *more)
        return
    await plain_answer(send, 401, "This device is not let in, or not any more. Nothing was changed.", *more)


def _forgotten(kind: str) -> bytes:
    secure = "; Secure" if kind == "tls" else ""
    return f"{COOKIES[kind]}=; Max-Age=0; Path=/; HttpOnly; SameSite=Strict{secure}".encode()


def _loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address.partition("%")[0]).is_loopback
    except ValueError:
        return False
