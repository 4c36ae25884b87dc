"""An adviser over many builds: sees what each build lets him, answers into its record, and is out when told."""

from __future__ import annotations

import json
import re
import secrets
import shlex
from contextlib import ExitStack
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from ribwright.cli.app import run
from ribwright.errors import ConflictError, MissingError, RefusedError, ServeError, StoreError
from ribwright.services import advisers, record
from ribwright.services.network import Served
from ribwright.services.project import Actor, Project, create_project, open_project
from ribwright.web.adviser import ROUTES, create_adviser_app
from ribwright.web.app import create_app

ANN = Actor("Ann Bell")
IDA = "Ida Moor"


def build(address: str, name: str, begun: list[Project]) -> Project:
    """A build with one operation, one question and one finding."""
    made = create_project(address, name=name, actor=ANN, request_id="made")
    begun.append(made)
    record.set_object(made, actor=ANN, request_id="o", noun="operation", ref="DN-1", data={}, title="Seam")
    for kind, body in (
        ("question", {"words": f"May this stay, {name}?"}),
        ("reading", {"requirement": "edge distance", "value": ".15", "unit": "in"}),
        ("finding", {"requirement": "edge distance", "verdict": "refer", "reason": "short"}),
    ):
        record.add_entry(made, actor=ANN, request_id=kind, kind=kind, about="DN-1", body=body)
    return made


def invite(project: Project, **how: bool) -> None:
    advisers.set_adviser(project, actor=ANN, request_id=secrets.token_hex(8), name=IDA, **how)


@pytest.mark.postgres
def test_an_adviser_sees_and_answers_only_where_invited_and_counts_only_what_is_shared(
    cluster: str, capsys
) -> None:
    address = f"postgresql://app@/ribwright?host={cluster}"
    begun: list[Project] = []
    try:
        one, two, three = (build(address, name, begun) for name in ("One", "Two", "Three"))
        with advisers.database(address) as store:

            def seen() -> list[str]:
                return [w.build for w in advisers.waiting(store, IDA)]

            def counted() -> list[int]:
                return [o.findings for o in advisers.often(store, IDA)]

            assert seen() == []
            invite(one, shares=True)
            invite(two)
            assert sorted(seen()) == ["One", "Two"]
            assert counted() == [1], "only what is shared"
            invite(two, shares=True)
            assert counted() == [2]
            assert advisers.often(store, IDA)[0].counts == (("refer", 2, 2),)
            invite(two)
            assert counted() == [1], "sharing can be taken back alone"
            assert advisers.waiting(store, "Ida") == ()

            said = {"adviser": IDA, "words": "Yes, with a doubler.", "authority": "designer"}
            question = next(w.question for w in advisers.waiting(store, IDA) if w.build == "One")
            for _ in range(2):
                advisers.answer(store, request_id="a1", project=one.id, question=question, **said)
            row = record.questions(one, "DN-1")[0]
            assert (row["answer"], row["answered_by"], row["authority"]) == (
                "Yes, with a doubler.",
                IDA,
                "designer",
            )
            line = record.get_entry(one, int(row["answer_seq"])).entry
            assert (line.by, line.role) == (IDA, "adviser")
            assert seen() == ["Two"]
            with pytest.raises(ConflictError):
                advisers.answer(store, request_id="a2", project=one.id, question=question, **said)
            for project in (three.id, "no such build"):
                with pytest.raises(RefusedError):
                    advisers.answer(store, request_id="a3", project=project, question=question, **said)
            with pytest.raises(MissingError):
                advisers.answer(
                    store, request_id="a4", project=two.id, question=question, **said | {"authority": " "}
                )

            with pytest.raises(SystemExit):
                run(["adviser", "waiting", "--database", address, "--by", IDA, "--json"])
            printed = json.loads(capsys.readouterr().out)
            assert [w["build"] for w in printed["waiting"]] == ["Two"]
            with pytest.raises(SystemExit):
                run(["adviser", "often", "--database", address, "--by", IDA])
            assert "1 of 1 not within limits" in capsys.readouterr().out

            invite(two, invited=False)
            invite(one, invited=False)
            assert seen() == []
            assert counted() == []
            with pytest.raises(RefusedError):
                advisers.answer(store, request_id="a5", project=two.id, question=question, **said)
        assert all(record.check(project).problems == () for project in (one, two, three))
    finally:
        for project in begun:
            project.close()


@pytest.mark.postgres
def test_what_the_document_tells_a_club_to_do_works_as_written(
    cluster: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    text = (Path(__file__).parents[2] / "docs" / "advisers.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, flags=re.S)
    lines = [
        line
        for block in blocks
        for line in block.splitlines()
        if " serve " not in line and line.startswith("ribwright")
    ]
    assert len(lines) > 10
    said = {}
    for line in lines:
        imported = re.search(r"#(the-lark-\w+)", "".join(said.values()))
        line = re.sub(r"the-lark-\w+", imported.group(1) if imported else "", line).replace(
            "Ida Moor", "Una Vale"
        )
        words = [
            re.sub(
                r"(postgresql://\w+@)127\.0\.0\.1/builds(#[\w-]+)?", rf"\1/ribwright?host={cluster}\2", word
            )
            for word in shlex.split(line)
        ]
        if words[1:3] == ["adviser", "waiting"]:
            with open_project(f"postgresql://app@/ribwright?host={cluster}#wren") as wren:
                record.set_object(
                    wren, actor=ANN, request_id="o", noun="operation", ref="DN-1", data={}, title="Seam"
                )
                record.add_entry(
                    wren,
                    actor=ANN,
                    request_id="q",
                    kind="question",
                    about="DN-1",
                    body={"words": "May it stay?"},
                )
        with pytest.raises(SystemExit) as ended:
            run(words[1:])
        said[line] = capsys.readouterr().out
        assert not ended.value.code, (line, said[line])
    assert "The Wren, DN-1: May it stay? (Ann Bell)" in next(
        out for line, out in said.items() if " waiting " in line
    )
    assert "1 build shares its findings" in next(out for line, out in said.items() if " often " in line)
    for url in (
        f"postgresql://owner@/ribwright?host={cluster}",
        "sqlite:///x",
        "",
        "postgresql://db.example/x",
    ):
        with pytest.raises(SystemExit) as ended:
            run(["project", "prepare", url, "--login", "nobody"])
        assert ended.value.code


def test_only_the_builder_invites_and_nothing_is_taken_back_that_was_not_given(
    folder_project: Project,
) -> None:
    with pytest.raises(RefusedError):
        advisers.set_adviser(folder_project, actor=Actor("Tom", "helper"), request_id="x", name=IDA)
    with pytest.raises(ConflictError, match="never invited"):
        invite(folder_project, invited=False)
    invite(folder_project)
    assert advisers.invitations(folder_project) == (advisers.Invitation(IDA, True, False),)
    invite(folder_project, invited=False, shares=True)
    assert advisers.invitations(folder_project) == (advisers.Invitation(IDA, False, False),)
    with pytest.raises(StoreError):
        advisers.waiting(folder_project.store, IDA)
    with pytest.raises(ServeError), advisers.database("postgresql://u@db.example/x"):
        pass


ORIGIN = {"origin": "http://127.0.0.1:8371"}
HTTP, HTTPS = "http://192.168.1.20:8370", "https://192.168.1.20:8371"
SECURE = Served(("192.168.1.20",), ("garage.local",), 8370, 8371, b"the authority's certificate", "AA:BB")


@pytest.mark.postgres
def test_an_adviser_signs_in_beside_a_build_with_a_key_of_his_own(cluster: str) -> None:
    address, owner = (f"postgresql://{login}@/ribwright?host={cluster}" for login in ("app", "owner"))
    begun: list[Project] = []
    with ExitStack() as stack:
        one, other, _ = (build(address, name, begun) for name in ("Tern", "Knot", "Sealed"))
        for project in begun:
            stack.callback(project.close)
        nell = "Nell Orr"
        for project in (one, other):
            advisers.set_adviser(project, actor=ANN, request_id=secrets.token_hex(8), name=nell)
        with pytest.raises(StoreError, match="this login may not do that"):
            advisers.make_key(address, nell)
        key, tom = advisers.make_key(owner, nell), advisers.make_key(owner, "Tom Reed")
        assert re.fullmatch("([2-9A-Z]{4}-){5}[2-9A-Z]{4}", key)

        def browser(base: str, served: Served | None = SECURE, at: str = "192.168.1.9") -> TestClient:
            app = create_app(one, actor=ANN, served=served)
            return TestClient(app, base_url=base, client=(at, 5), follow_redirects=False)

        def signed_in(client: TestClient, with_key: str) -> int:
            origin = {"origin": str(client.base_url).rstrip("/")}
            return client.post("/adviser/enter", data={"key": with_key}, headers=origin).status_code

        there = browser(HTTPS)
        assert there.get("/adviser/").headers["location"] == "/adviser/enter"
        assert there.get("/adviser/enter").status_code == 200
        assert signed_in(there, key[:-1] + ("2" if key[-1] != "2" else "3")) == 403
        assert there.post("/adviser/enter", data={"key": key}).status_code == 403, "nobody says from where"
        entered = there.post(
            "/adviser/enter", data={"key": key.lower().replace("-", " ")}, headers={"origin": HTTPS}
        )
        assert entered.status_code == 303
        for word in ("__Host-ribwright-adviser=", "HttpOnly", "Secure", "SameSite=strict"):
            assert word in entered.headers["set-cookie"]
        page = there.get("/adviser/").text
        assert "May this stay, Tern?" in page
        assert "May this stay, Knot?" in page
        assert "Sealed" not in page
        for closed in ("/", "/record", "/advisers", "/adviserx"):
            assert there.get(closed).status_code == 401, "the build itself stays closed"
        fields = dict(re.findall(r'name="(request|build|question)" value="([^"]*)"', page))
        form = fields | {"words": "It may. " * 900, "authority": "designer"}
        assert there.post("/adviser/answer", data=form, headers={"origin": HTTPS}).status_code == 303
        assert sum(len(record.recent(p, kinds=("answer",))) for p in begun) == 1
        assert there.post("/adviser/answer", data=form | {"words": "x" * 70_000}, headers={"origin": HTTPS}).status_code == 413  # fmt: skip

        stranger = browser(HTTPS, at="192.168.1.10")
        assert signed_in(stranger, tom) == 303
        assert "Nothing waits" in stranger.get("/adviser/").text, (
            "a key opens what its own name was invited to"
        )
        asked = form | {"request": "tom-12345678", "build": other.id}
        assert stranger.post("/adviser/answer", data=asked, headers={"origin": HTTPS}).status_code == 422

        assert browser(HTTP).get("/adviser/").status_code == 401
        plain = browser(HTTP, Served(("192.168.1.20",), ("garage.local",), 8370))
        assert plain.get("/adviser/").status_code == 401, "never over an open connection"
        here = browser("http://127.0.0.1:8370", at="127.0.0.1")
        assert here.get("/").status_code == 200
        assert here.get("/adviser/").headers["location"] == "/adviser/enter", "nor does the builder come in"

        assert advisers.end_keys(owner, nell) == 1
        assert there.get("/adviser/").headers["location"] == "/adviser/enter", "ended at once"
        assert stranger.post("/adviser/leave", headers={"origin": HTTPS}).status_code == 303
        assert stranger.get("/adviser/").headers["location"] == "/adviser/enter"
        assert all(record.check(project).problems == () for project in begun)


@pytest.mark.postgres
def test_a_question_is_answered_on_the_page_and_stands_in_the_builds_record(cluster: str) -> None:
    address = f"postgresql://app@/ribwright?host={cluster}"
    begun: list[Project] = []
    with ExitStack() as stack:
        one, other = (build(address, name, begun) for name in ("Wren <b>", "Sealed build"))
        for project in begun:
            stack.callback(project.close)
        app = create_adviser_app(address, adviser=IDA, stack=stack)
        client = stack.enter_context(
            TestClient(app, base_url="http://127.0.0.1:8371", follow_redirects=False)
        )
        assert "No build has invited you" in client.get("/adviser/builds").text
        invite(one, shares=True)
        page = client.get("/adviser/").text
        assert "May this stay, Wren &lt;b&gt;?" in page
        assert "Sealed build" not in page
        fields = dict(re.findall(r'name="(request|build|question)" value="([^"]*)"', page))
        form = fields | {"words": "It may stay.", "authority": "designer"}
        assert (
            client.post("/adviser/answer", data=form, headers={"origin": "http://evil.example"}).status_code
            == 403
        )
        empty = client.post(
            "/adviser/answer", data=form | {"words": " ", "request": "empty-12345678"}, headers=ORIGIN
        )
        assert (empty.status_code, "nothing was entered" in empty.text) == (422, True)
        for _ in range(2):
            assert client.post("/adviser/answer", data=form, headers=ORIGIN).status_code == 303
        answers = [line.entry for line in record.recent(one, kinds=("answer",))]
        assert [(a.by, a.role, a.body["words"]) for a in answers] == [(IDA, "adviser", "It may stay.")]
        assert "Nothing waits" in client.get("/adviser/").text
        question = record.recent(other, kinds=("question",))[0].entry.seq
        for wrong in (
            {"build": other.id, "question": str(question)},
            {"build": "' OR 1=1--"},
            {"build": "../x", "question": "-1"},
            {"question": "9" * 40},
            {"question": "x"},
            {"request": ""},
        ):
            answer = client.post(
                "/adviser/answer", data=form | {"request": "other-12345678"} | wrong, headers=ORIGIN
            )
            assert answer.status_code in (403, 404, 409, 422), (wrong, answer.status_code)
        assert not record.recent(other, kinds=("answer",))
        often = client.get("/adviser/often").text
        assert "1 of 1 build lets its findings" in often
        assert "edge distance" in often
        assert client.get("/").headers["location"] == "/adviser/"
        for route in ROUTES:
            if "GET" in (route.methods or ()):
                answer = client.get(f"/adviser{route.path}")
                assert answer.status_code == 200
                assert "content-security-policy" in answer.headers
        assert client.get("/adviser/", headers={"host": "evil.example"}).status_code == 421
        assert client.get("/adviser/nowhere").status_code == 404
        assert client.get("/adviser/answer").status_code == 405
