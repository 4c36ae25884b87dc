"""Phones from the network: let in by a code, held to their connection, shut out at once."""

from __future__ import annotations

import asyncio
import io

import pytest
from PIL import Image
from starlette.testclient import TestClient

from filled import ANN
from malformed import walk
from ribwright.services.devices import devices, make_pairing, revoke
from ribwright.services.project import Project
from ribwright.services.record import check, set_object, signatures
from ribwright.web import sessions
from ribwright.web.app import create_app
from ribwright.web.queue import SHUT_OUT
from ribwright.web.security import Message
from seams import REF
from web_phones import HTTP, HTTPS, OPEN, SECURE, come_in, phone


def test_a_stranger_finds_the_entrance_only_and_learns_nothing(project: Project) -> None:
    guest = phone(project, OPEN, HTTP)
    for path in ("/", "/record", f"/operation/{REF}", "/phones", "/none"):
        assert guest.get(path).headers["location"] == "/enter"
    assert guest.get("/record", headers={"accept": "application/json"}).status_code == 401
    assert guest.post(f"/operation/{REF}/sign", headers={"origin": HTTP}).status_code == 401
    for path in ("/enter", "/static/none.css"):
        text = guest.get(path).text
        assert "Test aeroplane" not in text
        assert "Ann Bell" not in text
    answer = guest.post("/enter", data={"code": "x" * 5000, "name": "n"}, headers={"origin": HTTP})
    assert answer.status_code == 413
    assert guest.post("/enter", data={"code": "x", "name": "n"}).status_code == 403


def test_a_code_works_once_and_each_pairing_has_a_new_token(project: Project) -> None:
    one = phone(project, OPEN, HTTP)
    one.cookies.set("ribwright-plain", "A" * 43)
    code = make_pairing(project, actor=ANN, person="Tom", role="helper")
    form = {"code": code, "name": "phone"}
    answer = one.post("/enter", data=form, headers={"origin": HTTP})
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith("ribwright-plain=")
    assert "A" * 43 not in cookie
    assert "HttpOnly" in cookie
    assert "SameSite=strict" in cookie
    assert "Secure" not in cookie
    other = phone(project, OPEN, HTTP, client="192.168.1.10")
    assert other.post("/enter", data=form, headers={"origin": HTTP}).status_code == 403
    assert other.get("/").status_code == 303


def test_wrong_codes_must_wait(project: Project) -> None:
    guest = phone(project, OPEN, HTTP)
    for _ in range(5):
        guest.post("/enter", data={"code": "AAAA-AAAA-AA", "name": "n"}, headers={"origin": HTTP})
    code = make_pairing(project, actor=ANN, person="Tom")
    answer = guest.post("/enter", data={"code": code, "name": "n"}, headers={"origin": HTTP})
    assert answer.status_code == 403
    assert "too many wrong codes" in answer.text


def test_a_plain_phone_works_but_neither_signs_nor_closes_a_space(project: Project) -> None:
    one = phone(project, OPEN, HTTP)
    come_in(one, project)
    assert one.get(f"/operation/{REF}").status_code == 200
    work = {"what": "work", "hours": "1", "request": "w1", "done": "no"}
    head = {"origin": HTTP}
    assert one.post(f"/stage/{REF}/drill", data=work, headers=head).status_code == 303
    signed = one.post(f"/operation/{REF}/sign", data={"request": "s1"}, headers=head)
    assert signed.status_code == 403
    assert "open connection" in signed.text
    assert signatures(project) == ()
    assert one.post(f"/stage/{REF}/drill", data=work | {"request": "w2"}).status_code == 403, "no Origin"
    evil = {"origin": "http://evil.example"}
    assert one.post(f"/stage/{REF}/drill", data=work | {"request": "w3"}, headers=evil).status_code == 403
    assert check(project).ok


def test_closing_over_an_open_connection_is_refused_whatever_form_sends_it(project: Project) -> None:
    from ribwright.errors import RefusedError
    from ribwright.services.amending import correct
    from ribwright.services.project import Actor
    from ribwright.services.record import NewEntry, add_entries

    tom = Actor("Tom", "builder", "plain")
    data = {"closes": "DN-SPACE", "stages": [{"name": "fit"}, {"name": "rivet"}]}
    set_object(
        project, actor=ANN, request_id="c1", noun="operation", ref="DN-21-S9", data=data, parent="DN-21"
    )
    body = {"stage": "rivet", "hours": "1", "done": "yes"}
    with pytest.raises(RefusedError, match="closing a space"):
        add_entries(project, actor=tom, request_id="c2", items=[NewEntry("work", body, "DN-21-S9")])
    made = add_entries(
        project, actor=tom, request_id="c3", items=[NewEntry("work", body | {"done": ""}, "DN-21-S9")]
    )
    with pytest.raises(RefusedError, match="closing a space"):
        correct(project, actor=tom, request_id="c4", seq=made[0].seq, because="x", instead=body)


def test_cookies_of_one_connection_are_worth_nothing_on_the_other(project: Project) -> None:
    safe = phone(project, SECURE, HTTPS)
    cookie = come_in(safe, project)
    assert cookie.startswith("__Host-ribwright=")
    assert "Secure" in cookie
    token = cookie.partition("=")[2].partition(";")[0]
    assert safe.get("/").status_code == 200
    plain = phone(project, OPEN, HTTP)
    for name in ("ribwright-plain", "__Host-ribwright"):
        assert plain.get("/", headers={"cookie": f"{name}={token}"}).status_code == 303
    fresh = phone(project, SECURE, HTTPS)
    plain_cookie = come_in(phone(project, OPEN, HTTP), project)
    stolen = plain_cookie.partition("=")[2].partition(";")[0]
    assert fresh.get("/", headers={"cookie": f"__Host-ribwright={stolen}"}).status_code == 303
    mixed = f"__Host-ribwright={token}; __Host-ribwright={stolen}"
    assert fresh.get("/", headers={"cookie": mixed}).status_code == 303
    on_plain_port = phone(project, SECURE, HTTP)
    assert on_plain_port.get("/").headers["location"] == "/trust"
    assert "AA:BB" in on_plain_port.get("/trust").text.replace("<wbr>", "")


def test_shut_out_is_at_once_and_only_from_the_laptop(project: Project) -> None:
    safe = phone(project, SECURE, HTTPS)
    come_in(safe, project)
    device = devices(project)[0]
    head = {"origin": HTTPS}
    invite = {"what": "invite", "person": "Eve", "role": "builder"}
    safe.post("/phones", data=invite, headers=head)
    assert [d.name for d in devices(project)] == ["phone"]
    signed = safe.post(f"/operation/{REF}/sign", data={"request": "s1"}, headers=head)
    assert "open connection" not in signed.text
    revoke(project, actor=ANN, device=device.id)
    assert safe.get("/").headers["location"] == "/enter"


def test_a_helper_settles_nothing(project: Project) -> None:
    safe = phone(project, SECURE, HTTPS)
    come_in(safe, project, "helper")
    head = {"origin": HTTPS}
    assert safe.post(f"/operation/{REF}/sign", data={"request": "s1"}, headers=head).status_code == 403
    ref = "/discrepancy/D" + str(_discrepancy(project))
    form = {"what": "settle", "decision": "replace", "request": "s2"}
    assert safe.post(ref, data=form, headers=head).status_code == 403


def _discrepancy(project: Project) -> int:
    from ribwright.services.record import discrepancies

    return int(discrepancies(project)[0]["ref"][1:])


def test_each_listener_has_its_own_names(project: Project) -> None:
    app = create_app(project, actor=ANN, served=OPEN)
    here = TestClient(app, base_url="http://127.0.0.1:8370", client=("127.0.0.1", 5))
    assert here.get("/phones").status_code == 200
    assert here.get("/", headers={"host": "garage.local:8370"}).status_code == 421
    there = TestClient(app, base_url=HTTP, client=("192.168.1.9", 5))
    assert there.get("/", headers={"host": "127.0.0.1:8370"}).status_code == 421


def test_too_fast_is_told_to_wait(project: Project) -> None:
    guest = phone(project, OPEN, HTTP)
    answers = [guest.get("/enter").status_code for _ in range(90)]
    assert 429 in answers
    assert answers[0] == 200


def test_malformed_requests_from_laptop_phone_and_stranger_give_no_500(project: Project) -> None:
    seen = walk(project, ANN, 500, seed=5, refs=(REF, "DN-21", "rivet"))
    assert {200, 401, 403, 421} <= set(seen), seen
    assert check(project).ok


def test_a_device_that_was_shut_out_is_told_to_clear_what_it_keeps(project: Project) -> None:
    safe = phone(project, SECURE, HTTPS)
    come_in(safe, project)
    asked = {"accept": "application/json"}
    assert SHUT_OUT not in safe.get("/waiting", headers=asked).headers
    revoke(project, actor=ANN, device=devices(project)[0].id)
    shown = safe.get("/")
    assert (shown.headers["location"], shown.headers[SHUT_OUT]) == ("/enter", "yes")
    assert "storage" in shown.headers["clear-site-data"]
    assert "set-cookie" not in shown.headers, "the worker is still to ask why, and must be known then"
    assert "This phone was shut out on the laptop" in safe.get("/enter").text
    answer = safe.get("/waiting", headers=asked)
    assert (answer.status_code, answer.headers[SHUT_OUT]) == (401, "yes")
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert len(safe.cookies) == 0
    stranger = phone(project, SECURE, HTTPS, client="192.168.1.10")
    made_up = {"cookie": "__Host-ribwright=" + "A" * 43} | asked
    answer = stranger.get("/waiting", headers=made_up)
    assert answer.status_code == 401
    assert SHUT_OUT not in answer.headers, "a session that only ran out leaves what waits"


def test_a_stream_ends_when_its_device_is_shut_out(project: Project, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sessions, "LOOKED_AGAIN_S", 0.0)
    safe = phone(project, SECURE, HTTPS)
    cookie = come_in(safe, project).partition(";")[0]
    app = create_app(project, actor=ANN, served=SECURE)
    pieces: list[bytes] = []
    ended = []

    async def watch() -> None:
        over = asyncio.Event()

        async def receive() -> Message:
            await over.wait()  # as servers do: a disconnect once the answer is complete
            return {"type": "http.disconnect"}

        async def send(message: Message) -> None:
            if message["type"] == "http.response.body":
                pieces.append(message["body"])
                if message.get("more_body"):  # the first piece came: now the device is shut out
                    await asyncio.to_thread(revoke, project, actor=ANN, device=devices(project)[0].id)
                    await asyncio.to_thread(_note, project)
                else:
                    ended.append(True)
                    over.set()

        headers = [
            (b"host", b"192.168.1.20:8371"),
            (b"accept", b"text/event-stream"),
            (b"cookie", cookie.encode()),
        ]
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "scheme": "https", "method": "GET", "path": f"/live/{REF}",
            "raw_path": f"/live/{REF}".encode(), "query_string": b"", "headers": headers, "client": ("192.168.1.9", 5), "server": ("192.168.1.20", 8371),
        }  # fmt: skip
        await asyncio.wait_for(app(scope, receive, send), 10)

    asyncio.run(watch())
    assert ended == [True]
    assert b"event: state" in pieces[0]
    assert b"event: moved" not in b"".join(pieces), "what came after is not told"


def _note(project: Project) -> None:
    from ribwright.services.operations import enter_work

    enter_work(project, actor=ANN, request_id="later", ref=REF, stage="drill", hours="1")


def test_a_plain_phone_is_not_shown_what_it_may_not_send(project: Project) -> None:
    data = {"closes": "DN-SPACE", "stages": [{"name": "fit"}, {"name": "rivet"}]}
    set_object(project, actor=ANN, request_id="c0", noun="space", ref="DN-SPACE", data={}, parent="DN-21")
    set_object(
        project, actor=ANN, request_id="c1", noun="operation", ref="DN-21-S9", data=data, parent="DN-21"
    )
    for served, base, shown in ((OPEN, HTTP, False), (SECURE, HTTPS, True)):
        one = phone(project, served, base)
        come_in(one, project)
        operation = one.get(f"/operation/{REF}").text
        assert ("Sign this operation" in operation) is shown
        assert ("Signing is done on the laptop" in operation) is not shown
        closing = one.get("/stage/DN-21-S9/rivet").text
        assert ('name="done"' in closing) is shown
        assert ("This stage closes a space: it is finished on the laptop" in closing) is not shown
        assert 'name="done"' in one.get(f"/stage/{REF}/drill").text


def test_an_advisers_photo_is_refused_before_it_is_kept(project: Project) -> None:
    safe = phone(project, SECURE, HTTPS)
    come_in(safe, project, "adviser")
    picture = io.BytesIO()
    Image.new("RGB", (70, 50), (3, 2, 1)).save(picture, "PNG")
    before = sorted(
        path for path in project.folder.rglob("*") if path.is_file() and "sqlite" not in path.name
    )
    for path, field in ((f"/photo/add/{REF}", "photo"), ("/photos", "photos")):
        files = {field: ("a.png", picture.getvalue(), "image/png")}
        answer = safe.post(path, data={"request": "p1"}, files=files, headers={"origin": HTTPS})
        assert answer.status_code == 403, answer.text
    after = sorted(path for path in project.folder.rglob("*") if path.is_file() and "sqlite" not in path.name)
    assert after == before
