"""The adviser's list over many builds in one PostgreSQL database.

``python benchmarks/adviser_list.py [--projects 500] [--calls 200]``

One Dunlin is loaded through the program, with questions and findings; the other builds are copies of its rows
made inside the database, so that tables, indexes and row policies are of full size (their chains are not made
anew: nothing here reads them). The floor is printed first: the same connection answering ``SELECT 1``, then
the list; the alternative in the same run is one statement for each build, as a page over single projects would ask.
"""

from __future__ import annotations

import argparse
import resource
import shutil
import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from ending import takes_all_with_it
from figures import figure
from sqlalchemy import select, text

from ribwright.services import advisers
from ribwright.services.dunlin import load_dunlin
from ribwright.services.project import Actor, create_project, prepare_database
from ribwright.services.record import NewEntry, add_entries, objects
from ribwright.store import engine, schema

ANN, IDA = Actor("Ann Bell"), "Ida Moor"
COPIED = ("object", "question", "finding", "reading")


@contextmanager
def cluster() -> Iterator[str]:
    """A PostgreSQL server of this run's own on a socket; gives its folder. Durable writes are off."""
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin"))[-1]
    import os

    user = "postgres" if os.geteuid() == 0 else None
    with tempfile.TemporaryDirectory(prefix="rw-pg-") as name:
        if user:
            shutil.chown(name, user)
        quiet = {"user": user, "cwd": name, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        make = [
            "initdb",
            "-D",
            f"{name}/data",
            "-U",
            "owner",
            "-A",
            "trust",
            "-N",
            "-E",
            "UTF8",
            "--locale=C",
        ]
        subprocess.run([programs / make[0], *make[1:]], check=True, **quiet)
        command = [programs / "postgres", "-D", f"{name}/data", "-k", name, "-h", "", "-F"]
        server = subprocess.Popen([*command, "-c", "shared_buffers=256MB", "-c", "max_wal_size=4GB"], **quiet)
        try:
            while subprocess.run(
                [programs / "pg_isready", "-h", name, "-q"], check=False, **quiet
            ).returncode:
                time.sleep(0.1)
            sql = ["-c", "CREATE ROLE app LOGIN NOSUPERUSER", "-c", "CREATE DATABASE ribwright"]
            subprocess.run(
                [programs / "psql", "-h", name, "-U", "owner", "-d", "postgres", "-q", *sql],
                check=True,
                **quiet,
            )
            prepare_database(f"postgresql://owner@/ribwright?host={name}", login="app")
            yield name
        finally:
            server.send_signal(2)  # fast shutdown
            server.wait()


def times(call: Callable[[], object], calls: int) -> list[float]:
    """Milliseconds of each call."""
    out = []
    for _ in range(calls):
        start = time.perf_counter()
        call()
        out.append(1000 * (time.perf_counter() - start))
    return sorted(out)


def shown(name: str, ms: list[float], floor: float) -> None:
    """Median and 95th of 100, and the ratio to the floor."""
    p50, p95 = statistics.median(ms), ms[int(0.95 * (len(ms) - 1))]
    print(f"{name}: p50 {p50:.1f} ms, p95 {p95:.1f} ms (x{p50 / floor:.1f} of the floor)", flush=True)


def fill(address: str, owner: str, projects: int, *, also: tuple[str, ...] = ()) -> None:
    """One build through the program, and copies of its rows; ``also`` of these tables."""
    with create_project(address, name="Dunlin", actor=ANN, request_id="made") as one:
        load_dunlin(one, actor=ANN, request_id="dunlin")
        about = [each.ref for each in objects(one, noun="operation")][:100]
        asked = [NewEntry("question", {"words": f"May {ref} stay as it is?"}, ref) for ref in about[:12]]
        entries = add_entries(one, actor=ANN, request_id="asked", items=asked)
        answers = [
            NewEntry(
                "answer",
                {"question": str(e.seq), "words": "Yes.", "who": IDA, "authority": "designer"},
                e.about,
            )
            for e in entries[2:]
        ]
        add_entries(one, actor=ANN, request_id="answers", items=answers)
        found = [
            NewEntry("finding", {"requirement": f"edge distance {k % 7}", "verdict": verdict, "reason": "measured"}, ref)
            for k, ref in enumerate(about)
            for verdict in ("within limits", "refer")
        ]  # fmt: skip
        add_entries(one, actor=ANN, request_id="found", items=found)
        advisers.set_adviser(one, actor=ANN, request_id="invited", name=IDA, shares=True)
        first = one.id
    store = engine.postgres_store(owner, first)
    with store.write() as connection:
        numbers = {"first": first, "last": projects - 1}
        connection.execute(
            text(
                "INSERT INTO project SELECT 'copy-' || n, name || ' ' || n, made_at "
                "FROM project, generate_series(1, :last) n WHERE project = :first"
            ),
            numbers,
        )
        for name in ("entry", *COPIED, *also):
            table = schema.metadata.tables[name]
            rest = ", ".join(f't."{c.name}"' for c in table.c if c.name != "project")
            columns = ", ".join(f'"{c.name}"' for c in table.c if c.name != "project")
            rows = connection.execute(
                text(
                    f"INSERT INTO \"{name}\" (project, {columns}) SELECT 'copy-' || n, {rest} "
                    f'FROM "{name}" t, generate_series(1, :last) n WHERE t.project = :first'
                ),
                numbers,
            ).rowcount
            print(f"{name}: {rows + rows // max(1, projects - 1):,} rows", flush=True)
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.execute(text("VACUUM ANALYZE"))
        size = connection.execute(text("SELECT pg_database_size(current_database())")).scalar_one()
        print(f"database: {size / 1e6:.0f} MB, {size / 1e6 / projects:.2f} MB a build", flush=True)
    store.close()


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--projects", type=int, default=500)
    parser.add_argument("--calls", type=int, default=200)
    said = parser.parse_args()
    with cluster() as host:
        address = f"postgresql://app@/ribwright?host={host}"
        start = time.perf_counter()
        fill(address, f"postgresql://owner@/ribwright?host={host}", said.projects)
        print(f"filled in {time.perf_counter() - start:.0f} s", flush=True)
        with advisers.database(address) as store:

            def nothing() -> None:
                with store.read() as connection:
                    connection.execute(text("SELECT 1"))

            def one_by_one() -> None:
                from dataclasses import replace

                question = schema.projections["question"]
                for project, _, _ in advisers.builds(store, IDA):
                    with replace(store, project=project).read() as connection:
                        connection.execute(
                            select(question).where(question.c.project == project, question.c.answer_seq == 0)
                        ).all()

            found = advisers.waiting(store, IDA, limit=1000)
            print(f"waiting: {len(found)}; builds: {len(advisers.builds(store, IDA))}", flush=True)
            floor = times(nothing, said.calls)
            least = statistics.median(floor)
            shown("floor, SELECT 1", floor, least)
            shown("list, first 200", times(lambda: advisers.waiting(store, IDA), said.calls), least)
            shown("list of all", times(lambda: advisers.waiting(store, IDA, limit=1000), said.calls), least)
            shown("often missed", times(lambda: advisers.often(store, IDA), max(5, said.calls // 10)), least)
            alone = times(one_by_one, 5)
            shown("alternative: each build by itself", alone, least)
            ours = times(lambda: advisers.waiting(store, IDA), said.calls)
            figure(
                f"adviser's list of {said.projects} builds, p50", statistics.median(ours), "ms", floor=("SELECT 1", least),
                against=("one statement a build", statistics.median(alone)),
            )  # fmt: skip
    print(f"memory of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    takes_all_with_it()
    main()
