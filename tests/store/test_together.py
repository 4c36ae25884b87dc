"""Many at once: forms sent twice, two programs, one shared counter; and one project never sees another."""

from __future__ import annotations

import importlib
import random
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import text

from ribwright.errors import NoProjectError, RibwrightError, StaleRevisionError
from ribwright.services import record
from ribwright.services.project import Actor, Project, create_project, open_project
from ribwright.services.seals import check

BUILDER = Actor("Ann Bell", "builder")


def reopened(project: Project, place: object) -> Project:
    """The same project in another program."""
    return open_project(project.folder if project.folder is not None else f"{place}#{project.id}")


def test_concurrent_forms_each_count_once(project: Project, place: object) -> None:
    """400 forms from 8 threads over two open programs, half of them sent again (some at the same moment)."""
    draw = random.Random(5)
    forms = [f"form{number}" for number in range(200)]
    sent = forms + draw.sample(forms, 100) + draw.sample(forms, 100)
    draw.shuffle(sent)
    with reopened(project, place) as other:

        def send(item: tuple[int, str]) -> tuple[str, int]:
            number, form = item
            made = record.add_entry(
                other if number % 2 else project,
                actor=BUILDER,
                request_id=form,
                kind="note",
                body={"words": f"from {form}"},
            )
            return form, made.seq

        with ThreadPoolExecutor(8) as threads:
            answers = list(threads.map(send, enumerate(sent)))
    assert len(answers) == 400
    assert len(set(answers)) == 200, "the same form always gets the same entry"
    notes = record.recent(project, kinds=["note"], limit=1000)
    assert sorted(line.entry.request_id for line in notes) == sorted(forms)
    assert [line.entry.seq for line in notes] == list(range(201, 1, -1)), "no place in the chain is left out"


def test_no_step_of_a_shared_counter_is_lost(project: Project, place: object) -> None:
    record.set_object(
        project, actor=BUILDER, request_id="c", noun="setting", ref="counter", data={"count": "0"}
    )
    with reopened(project, place) as other:

        def step(number: int) -> int:
            at, tries = (other if number % 2 else project), 0
            while True:
                seen = record.get_object(at, "counter")
                try:
                    made = record.set_object(
                        at,
                        actor=BUILDER,
                        request_id=f"s{number}.{tries}",
                        noun="setting",
                        ref="counter",
                        data={"count": str(int(seen.data["count"]) + 1)},
                        seen_revision=seen.revision,
                    )
                    # What comes back is what this form set, whoever came after it.
                    assert record.get_entry(at, made.seq).entry.request_id == f"s{number}.{tries}"
                    assert made.data == {"count": str(int(seen.data["count"]) + 1)}
                    return tries
                except StaleRevisionError:
                    tries += 1

        with ThreadPoolExecutor(6) as threads:
            tries = list(threads.map(step, range(30)))
    assert record.get_object(project, "counter").data["count"] == "30"
    assert sum(tries) > 0, "nobody ever met anybody: this test has shown nothing"


@pytest.mark.postgres
def test_a_project_in_a_shared_database_sees_nothing_of_another(cluster: str) -> None:
    url = f"postgresql://app@/ribwright?host={cluster}"
    with (
        create_project(url, name="Mine", actor=BUILDER, request_id="made") as mine,
        create_project(url, name="Theirs", actor=BUILDER, request_id="made") as theirs,
    ):
        for project in (mine, theirs):
            record.set_object(
                project, actor=BUILDER, request_id="p", noun="part", ref="DN-1", data={"of": project.id}
            )
        assert record.get_object(mine, "DN-1").data == {"of": mine.id}
        with mine.store.read() as connection:
            for table in ("project", "entry", "object", "head", "words", "device", "photo_file", "revision"):
                found = connection.execute(text(f"SELECT DISTINCT project FROM {table}")).scalars().all()
                assert set(found) <= {mine.id}
        for statement in (
            "UPDATE object SET title = 'x' WHERE project = :id",
            "UPDATE head SET seq = 0 WHERE project = :id",
            "DELETE FROM work WHERE project = :id",
        ):
            with mine.store.write() as connection:
                assert connection.execute(text(statement), {"id": theirs.id}).rowcount == 0
        with pytest.raises(RibwrightError, match="row-level security"), mine.store.write() as connection:
            connection.execute(
                text("INSERT INTO words (project, seq, words) VALUES (:id, 99, 'x')"), {"id": theirs.id}
            )
        # The scope ends with its transaction: a pooled connection carries it nowhere.
        with mine.store.engine.connect() as connection:
            assert connection.execute(text("SELECT count(*) FROM entry")).scalar_one() == 0
        assert check(theirs).ok
    with pytest.raises(NoProjectError):
        open_project(f"{url}#{'x' * 8}")
    with pytest.raises(NoProjectError):
        open_project(f"{url}#' OR 1=1 --")
    with pytest.raises(NoProjectError):
        open_project(url)


@pytest.mark.postgres
def test_the_login_owns_nothing_and_can_not_lift_the_policies(cluster: str) -> None:
    with create_project(
        f"postgresql://app@/ribwright?host={cluster}", name="Mine", actor=BUILDER, request_id="made"
    ) as mine:
        for statement in (
            "ALTER TABLE entry DISABLE ROW LEVEL SECURITY",
            "DROP TABLE words",
            "TRUNCATE entry",
            "UPDATE entry SET text = ''",
            "DELETE FROM entry",
            "UPDATE schema_version SET version = 1",
        ):
            with (
                pytest.raises(RibwrightError, match=r"must be owner|permission denied"),
                mine.store.write() as connection,
            ):
                connection.execute(text(statement))
    # The owner of the tables is held to the policies as well.
    from ribwright.store.engine import postgres_store

    owner = postgres_store(f"postgresql://maker@/ribwright?host={cluster}", pooled=False)
    with owner.read() as connection:
        assert connection.execute(text("SELECT count(*) FROM entry")).scalar_one() == 0
    owner.close()


def test_both_databases_find_the_same_words(folder_project: Project, cluster: str) -> None:
    url = f"postgresql://app@/ribwright?host={cluster}"
    words = [
        "rib",
        "ribs",
        "rivet",
        "3/32",
        ".032",
        "Größe",
        "groesse",
        "naïve",
        "жук",
        "жу",
        "鋲打ち",
        "AN470AD4-5",
        "a",
        "ß",
        "²",
    ]
    draw = random.Random(3)
    with create_project(url, name="Dunlin", actor=BUILDER, request_id="made") as server:
        items = [record.NewEntry("note", {"words": " ".join(draw.choices(words, k=4))}) for _ in range(150)]
        for project in (folder_project, server):
            record.add_entries(project, actor=BUILDER, request_id="batch", items=items)
        hits = 0
        for _ in range(80):
            typed = " ".join(draw.choices(words, k=draw.randint(1, 2)))[: draw.randint(1, 12)]
            found = [
                [entry.seq for entry in record.search(project, typed, 1000)]
                for project in (folder_project, server)
            ]
            assert found[0] == found[1], typed
            assert found[0] == sorted(found[0], reverse=True)
            hits += len(found[0])
        assert hits > 500


@pytest.mark.postgres
def test_writers_killed_on_a_server_lose_nothing(cluster: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Short form; 100 runs are made by benchmarks/record_kill.py --url."""
    benchmarks = Path(__file__).parent.parent.parent / "benchmarks"
    monkeypatch.syspath_prepend(str(benchmarks))
    kill = importlib.import_module("record_kill")
    where = kill.make_project(f"postgresql://app@/ribwright?host={cluster}")
    assert (
        sum(
            kill.one_run(where, random.Random(seed), processes=2, threads=4, longest_s=0.3)
            for seed in range(2)
        )
        > 2
    )
