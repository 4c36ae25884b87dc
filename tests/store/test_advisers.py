"""An adviser over many builds: sees what each build lets him, answers into its record, and is out when told."""

from __future__ import annotations

import json
import secrets

import pytest

from ribwright.cli.app import run
from ribwright.errors import ConflictError, MissingError, RefusedError, ServeError, StoreError
from ribwright.services import advisers, record
from ribwright.services.project import Actor, Project, create_project

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
                advisers.answer(address, request_id="a1", project=one.id, question=question, **said)
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
                advisers.answer(address, request_id="a2", project=one.id, question=question, **said)
            for project in (three.id, "no such build"):
                with pytest.raises(RefusedError):
                    advisers.answer(address, request_id="a3", project=project, question=question, **said)
            with pytest.raises(MissingError):
                advisers.answer(
                    address, request_id="a4", project=two.id, question=question, **said | {"authority": " "}
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
                advisers.answer(address, request_id="a5", project=two.id, question=question, **said)
        assert all(record.check(project).problems == () for project in (one, two, three))
    finally:
        for project in begun:
            project.close()


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
