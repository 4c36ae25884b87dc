"""Requests that no browser sends: over every route, as the laptop, a paired phone and a stranger."""

from __future__ import annotations

import random
import re
from collections import Counter

from starlette.routing import Route
from starlette.testclient import TestClient

from ribwright.services.devices import make_pairing
from ribwright.services.network import Served
from ribwright.services.project import Actor, Project
from ribwright.web import sessions
from ribwright.web.app import create_app, routes

JUNK = (
    "",
    "nan",
    "1,500",
    "\x00",
    "é" * 40,
    "9" * 400,
    "-1",
    "1e999",
    "' OR 1=1",
    "<script>",
    "../..",
    "{}",
    "seam",
    "5 kg",
)
KEYS = (
    "request", "seen", "what", "hours", "done", "as", "value.0", "requirement.0", "u", "code", "name", "person", "role", "device", "ref", "title",
    "layers.0.part", "layers.99999.part", "layers.x.part", "add:layers", "remove:layers:-5", "copy:layers:999999", "words", "before", "hand", "kind",
)  # fmt: skip
BODIES = (
    "application/x-www-form-urlencoded",
    "multipart/form-data",
    "multipart/form-data; boundary=x",
    "text/plain",
    "application/json",
)
BASE = "https://192.168.1.20:8371"


def walk(project: Project, actor: Actor, number: int, *, seed: int, refs: tuple[str, ...]) -> Counter[int]:
    """Send so many requests; every status is counted.

    Raises:
        AssertionError: an answer of 500 or more, or one that shows a trace.
    """
    rng = random.Random(seed)
    before = sessions.DEVICES_BURST, sessions.STRANGERS_BURST
    sessions.DEVICES_BURST = sessions.STRANGERS_BURST = 10 * number  # the rates would hide what is looked for
    try:
        served = Served(("192.168.1.20",), ("garage.local",), 8370, 8371, b"certificate", "AA:BB")
        app = create_app(project, actor=actor, served=served)
    finally:
        sessions.DEVICES_BURST, sessions.STRANGERS_BURST = before
    common = {"follow_redirects": False, "raise_server_exceptions": False}
    laptop = TestClient(app, base_url="http://127.0.0.1:8370", client=("127.0.0.1", 5), **common)  # type: ignore[arg-type]
    phone = TestClient(app, base_url=BASE, client=("192.168.1.9", 5), **common)  # type: ignore[arg-type]
    stranger = TestClient(app, base_url=BASE, client=("192.168.1.66", 5), **common)  # type: ignore[arg-type]
    code = make_pairing(project, actor=actor, person="Tom")
    came = phone.post("/enter", data={"code": code, "name": "phone"}, headers={"origin": BASE})
    assert came.status_code == 303
    cookie = {
        "cookie": came.headers["set-cookie"].partition(";")[0]
    }  # a form with "leave" must not end the walk
    seen: Counter[int] = Counter()
    bad: dict[str, object] = {}
    every = [
        r
        for r in routes()
        if isinstance(r, Route) and not r.path.endswith((".pdf", ".dxf", ".zip", "/events"))
    ]
    for _ in range(number):
        route, client = rng.choice(every), rng.choice((laptop, phone, stranger))
        if "live" in route.name or "stream" in route.name:  # these answers don't end
            continue
        method = rng.choice((*sorted(route.methods or {"GET"}), "POST", "PUT", "DELETE"))
        path = re.sub(
            r"\{\w+(:\w+)?\}", lambda m: rng.choice((*refs, "x", "7", "%00", "a" * 300)), route.path
        )
        data = {rng.choice(KEYS): rng.choice(JUNK) for _ in range(rng.randrange(8))}
        headers = {"origin": rng.choice((BASE, "http://127.0.0.1:8370", "null", "http://evil.example"))}
        if client is phone and rng.random() < 0.9:
            headers |= cookie
        if client is not laptop and rng.random() < 0.2:
            headers["cookie"] = rng.choice(
                ("__Host-ribwright=", "__Host-ribwright=;;=;", "=" * 300, "__Host-ribwright=" + "A" * 43)
            )
        if rng.random() < 0.1:
            headers["host"] = rng.choice(("evil.example", "[::1", "a" * 400, "192.168.1.20:x"))
        if method == "POST" and rng.random() < 0.7:
            answer = client.request(method, path, data=data, headers=headers)
        else:
            headers["content-type"] = rng.choice(BODIES)
            kept = {k: v for k, v in data.items() if "\x00" not in v}
            body = b"--x\r\n" + rng.randbytes(rng.randrange(60))
            answer = client.request(method, path, content=body, headers=headers, params=kept)
        seen[answer.status_code] += 1
        # "Not yet, ask again then" is an answer; every other 500 is a fault.
        later = answer.status_code == 503 and answer.headers.get("retry-after", "").isdigit()
        if (answer.status_code >= 500 and not later) or "Traceback" in answer.text:
            bad.setdefault(f"{method} {route.path}", (path, data, headers))
    assert not bad, bad
    return seen
