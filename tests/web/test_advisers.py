"""The builder's page about advisers: invite, let findings be counted, take it back; all of it stands in the record."""

from __future__ import annotations

from starlette.testclient import TestClient

from ribwright.services.advisers import Invitation, invitations
from ribwright.services.project import Project
from ribwright.services.record import check

ORIGIN = {"origin": "http://127.0.0.1:8370"}


def send(client: TestClient, request: str, **typed: str) -> int:
    return client.post(
        "/advisers", data={"request": f"adviser-{request}", **typed}, headers=ORIGIN
    ).status_code


def test_an_adviser_is_invited_shared_with_and_taken_back_on_the_page(
    client: TestClient, project: Project
) -> None:
    assert "Nobody is invited" in client.get("/advisers").text
    assert "/advisers" in client.get("/phones").text
    for _ in range(2):
        assert send(client, "1", what="invite", name=" Ida  Moor ") == 303
    assert invitations(project) == (Invitation("Ida Moor", True, False),)
    assert send(client, "2", what="invite", name="Ida Moor", shares="yes") == 303
    shown = client.get("/advisers").text
    assert "counted with those of other builds" in shown
    assert "no adviser can reach it yet" in shown, "a build in a folder says so"
    assert send(client, "3", what="withdraw", name="Ida Moor") == 303
    assert invitations(project) == (Invitation("Ida Moor", False, False),)
    assert "Taken back" in client.get("/advisers").text
    assert check(project).problems == ()


def test_what_can_t_be_is_said_and_keeps_what_was_typed(client: TestClient, project: Project) -> None:
    for what, name in (
        ("invite", ""),
        ("invite", "x" * 81),
        ("invite", "a\x07b"),
        ("withdraw", "Nobody Known"),
    ):
        assert send(client, f"bad-{len(name)}", what=what, name=name) in (409, 422), (what, name)
    refused = client.post("/advisers", data={"request": "adviser-b", "what": "invite", "name": "<b>" * 30}, headers=ORIGIN)  # fmt: skip
    assert "&lt;b&gt;&lt;b&gt;" in refused.text
    assert send(client, "odd", what="else", name="Ida") == 404
    assert invitations(project) == ()
