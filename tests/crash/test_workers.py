"""Heavy work on workers: the same answers as here, over a link that both sides prove; a killed one only delays."""

from __future__ import annotations

import os
import pickle
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from ribwright.errors import FormatError, MissingError, OutOfRangeError, ServeError
from ribwright.services import compute
from ribwright.services.backup import export_project, import_project
from ribwright.services.calculations import run_calculation
from ribwright.services.links import checked_database
from ribwright.services.photo_folder import measure_folder
from ribwright.services.project import Actor, create_project, open_project
from workers import at_work, certificates, refusing, running, slow_square

NEST = {
    "blanks": [{"name": "rib", "count": "6", "length": "12", "width": "5", "grain": "along"}],
    "sheets": [{"name": "offcut", "length": "30", "width": "20"}],
    "seconds": "0",
}
PHOTOS = Path(__file__).parents[1] / "data" / "photo"


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[object]:
    if os.environ.get("CI") is None:
        pytest.importorskip("distributed")
    with running(tmp_path_factory.mktemp("workers")) as made:
        yield made


def test_answers_are_those_of_the_embedded_run_and_a_killed_worker_only_delays(cluster, tmp_path) -> None:
    for name in ("a01.jpg", "a01.card.json", "a01.input.json"):
        (tmp_path / name).write_bytes((PHOTOS / name).read_bytes())
    (tmp_path / "b.jpg").write_bytes(b"no photo")
    here = measure_folder(tmp_path, kind="profile")
    assert [answer["status"] for answer in here] == ["measured", "error"]
    nested = run_calculation("nest-blanks", NEST)
    with compute.workers(cluster.url, **cluster.files):
        assert compute.has_workers()
        assert measure_folder(tmp_path, kind="profile") == here
        assert run_calculation("nest-blanks", NEST).answer == nested.answer, (
            "steps, places and use, all of it"
        )
        assert compute.run(at_work) == (False, [])
        with pytest.raises(OutOfRangeError) as there:
            compute.run(refusing, "3")
        with pytest.raises(OutOfRangeError) as embedded:
            refusing("3")
        # what was handed over is not kept here for developers to look at
        assert len(compute._link.client.scheduler_comm.recent_message_log) <= 1
        assert str(there.value) == str(embedded.value)
        assert there.value.as_dict() == embedded.value.as_dict()
        killer = threading.Timer(0.6, cluster.kill_one)
        killer.start()
        assert list(compute.spread(slow_square, ((n,) for n in range(8)))) == [n * n for n in range(8)]
        killer.join()
        assert cluster.processes[0].poll() is not None, "the worker was killed while it worked"
    assert not compute.has_workers()


def test_a_stranger_without_a_certificate_of_the_authority_is_not_answered(cluster, tmp_path) -> None:
    with (
        pytest.raises(ServeError, match="one side does not accept the other's certificate"),
        compute.workers(cluster.url, **certificates(tmp_path)),
    ):
        pass


def test_a_file_that_is_no_certificate_or_no_key_of_it_is_named(cluster, tmp_path) -> None:
    other = certificates(tmp_path)
    (tmp_path / "junk.pem").write_text("no certificate")
    for files, said in (
        (cluster.files | {"ca": tmp_path / "junk.pem"}, "--workers-ca"),
        (cluster.files | {"key": other["key"]}, "with its own key"),
    ):
        with pytest.raises(FormatError, match=said), compute.workers(cluster.url, **files):
            pass


def test_nobody_there_is_told_apart_from_a_certificate_that_is_not_taken() -> None:
    with pytest.raises(ServeError, match="nobody answers there"), compute.workers("tcp://127.0.0.1:1"):
        pass


def test_workers_of_another_program_are_refused_and_one_that_comes_later_is_given_nothing(
    cluster, monkeypatch
) -> None:
    with compute.workers(cluster.url, **cluster.files):
        assert compute.run(os.getpid) != os.getpid()
        monkeypatch.setattr(compute, "__version__", "0.0.9")
        compute.program_mark.cache_clear()
        try:
            assert compute.run(os.getpid) == os.getpid(), "done here"
            with (
                pytest.raises(ServeError, match="must have the same program"),
                compute.workers(cluster.url, **cluster.files),
            ):
                pass
        finally:
            compute.program_mark.cache_clear()


@pytest.mark.parametrize(
    "url", ["tcp://10.0.0.5:8786", "http://127.0.0.1:1", "tls://", "tcp://[::1", "tcp://h:x"]
)
def test_an_open_link_to_another_machine_is_refused(url: str) -> None:
    with pytest.raises(ServeError), compute.workers(url):
        pass


def test_an_encrypted_link_needs_its_files() -> None:
    with pytest.raises(MissingError, match="--workers-ca"), compute.workers("tls://10.0.0.5:8786"):
        pass
    away = Path("away.pem")
    with (
        pytest.raises(MissingError, match="there is no such file .found: away.pem"),
        compute.workers("tls://10.0.0.5:8786", ca=away, certificate=away, key=away),
    ):
        pass


@pytest.mark.parametrize(
    "url",
    [
        "postgresql://u@db.example/x", "postgresql://u@db.example/x?sslmode=require", "sqlite:///x",
        "postgresql://u@/x?host=/tmp,db.example", "postgresql://u@h:port/x",
    ],
)  # fmt: skip
def test_an_open_link_to_a_database_is_refused(url: str) -> None:
    with pytest.raises(ServeError):
        checked_database(url)


def test_no_command_takes_an_open_link(tmp_path: Path) -> None:
    away = "postgresql://u@db.example/x#p"
    with create_project(
        tmp_path / "p", name="P", actor=Actor("Ann Bell", "builder"), request_id="made-here"
    ) as made:
        written = export_project(made, tmp_path / "out")
    with pytest.raises(ServeError, match="encrypted"):
        open_project(away)
    with pytest.raises(ServeError, match="encrypted"):
        create_project(away, name="P", actor=Actor("Ann Bell", "builder"), request_id="made-there")
    with pytest.raises(ServeError, match="encrypted"):
        import_project(written, away.partition("#")[0])


@pytest.mark.parametrize(
    "url",
    [
        "postgresql://u@/x?host=/run/pg#p",
        "postgresql://u@127.0.0.1/x",
        "postgresql://u@db.example/x?sslmode=verify-full#p",
    ],
)
def test_a_link_that_is_proven_or_stays_here_is_taken(url: str) -> None:
    assert checked_database(url) == url


def test_a_frozen_value_that_comes_again_is_packed_once_and_what_can_change_each_time() -> None:
    plan, rows = Actor("Ann Bell"), [1]
    first = compute._pack((plan, rows))
    rows.append(2)
    again = compute._pack((plan, rows), (plan, rows), first)
    assert again[0] is first[0]
    assert [pickle.loads(one) for _, one in again] == [plan, [1, 2]]
    other = compute._pack((Actor("Tom Reed"), rows), (plan, rows), again)
    assert pickle.loads(other[0][1]) == Actor("Tom Reed")
    assert [kept for kept, _ in other] == [True, False], "only what never changes is kept on a worker"


def test_without_workers_and_without_a_scheduler_the_work_is_done_here(cluster, monkeypatch) -> None:
    """The last, as it leaves nothing of them."""
    monkeypatch.setattr(compute, "ALONE_S", 1.0)
    with compute.workers(cluster.url, **cluster.files):
        for worker in cluster.processes:
            worker.kill()
        assert compute.run(os.getpid) == os.getpid()
        cluster.scheduler.kill()
        cluster.scheduler.wait()
        assert list(compute.spread(pow, ((n, 2) for n in range(5)))) == [0, 1, 4, 9, 16]
        assert compute.run(os.getpid) == os.getpid()
