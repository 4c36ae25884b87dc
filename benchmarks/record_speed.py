"""Speed of the record: entering, loading, listing, searching, checking.

``python benchmarks/record_speed.py [--objects 110000] [--notes 100000]``

The floor is printed first: a durable commit of one row by the standard library alone, and SHA-256 with
a read of every row. Times are of this machine and of this moment; ratios are within the run. Rates
of the chain are by processor time.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import shutil
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from figures import figure

from ribwright.core.record.chain import follow
from ribwright.services import record
from ribwright.services.project import Actor, create_project
from ribwright.services.seals import check
from ribwright.store.checking import chain_rows

BUILDER = Actor("Ann Bell")
WORDS = [
    "drilled",
    "dimpled",
    "deburred",
    "riveted",
    "inboard",
    "outboard",
    "rib",
    "spar",
    "skin",
    "hinge",
    "aileron",
    "flap",
    "left",
    "right",
    "primer",
]


def quantiles(run: Callable[[int], object], times: int) -> tuple[float, float]:
    """p50 and p95 in ms, by the clock."""
    taken, worked = [], []
    for number in range(times):
        start, cpu = time.perf_counter(), time.process_time()
        run(number)
        taken.append((time.perf_counter() - start) * 1000)
        worked.append((time.process_time() - cpu) * 1000)
    taken.sort()
    worked.sort()
    CPU[:] = [statistics.median(worked), worked[int(0.95 * len(worked))]]
    return statistics.median(taken), taken[int(0.95 * len(taken))]


CPU = [0.0, 0.0]
"""Processor time of the last ``quantiles``, p50 and p95 in ms: what a busy machine doesn't change much."""


def of_cpu() -> str:
    return f" (processor {CPU[0]:.2f}, {CPU[1]:.2f} ms)"


def floor_commit_ms(folder: Path) -> float:
    connection = sqlite3.connect(folder / "floor.sqlite", isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE t (x TEXT)")

    def one(number: int) -> None:
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("INSERT INTO t VALUES (?)", (f"{number}" * 300,))
        connection.execute("COMMIT")

    p50, _ = quantiles(one, 200)
    connection.close()
    return p50


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--objects", type=int, default=110_000)
    parser.add_argument("--notes", type=int, default=100_000)
    arguments = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="record-speed-"))
    draw = random.Random(1)
    floor = floor_commit_ms(folder)
    print(f"floor: one durable commit by sqlite3 alone   p50 {floor:.2f} ms")
    with create_project(folder / "p", name="Dunlin ×100", actor=BUILDER, request_id="made") as project:
        record.set_object(project, actor=BUILDER, request_id="top", noun="aircraft", ref="DN", data={})
        p50, p95 = quantiles(
            lambda n: record.add_entry(
                project,
                actor=BUILDER,
                request_id=f"one{n}",
                kind="note",
                about="DN",
                body={"words": "drilled a rib"},
            ),
            200,
        )
        print(
            f"one entry                                    p50 {p50:.2f} ms, p95 {p95:.2f} ms ({p50 / floor:.1f} floors)"
        )
        entry, made = p50, 0
        while made < arguments.objects:
            count = min(20_000, arguments.objects - made)
            items = [
                record.new_object(
                    "operation" if n % 5 < 3 else "part",
                    f"DN-{n:06}",
                    {"thickness": ".020", "rivet": "AN426AD3", "pitch": "1.0"},
                    parent="DN",
                    title=f"seam {n}",
                    made_from=["DN"] if n % 7 == 0 else [],
                )
                for n in range(made, made + count)
            ]
            start, cpu = time.perf_counter(), time.process_time()
            record.add_entries(project, actor=BUILDER, request_id=f"bulk{made}", items=items)
            if made == 0:
                print(
                    f"{count:,} objects in one transaction         {time.perf_counter() - start:.1f} s "
                    f"({time.process_time() - cpu:.1f} s of processor)"
                )
            made += count
        every = json.dumps([[f"DN-{n:06}", {"thickness": ".020", "rivet": "AN426AD3"}] for n in range(made)])

        def whole_file(number: int) -> None:
            with (folder / "whole.json").open("w") as file:
                file.write(every)
                file.flush()
                os.fsync(file.fileno())

        other, _ = quantiles(whole_file, 20)
        figure(
            "one entry, p50", entry, "ms", floor=("a durable commit by sqlite3 alone", floor),
            against=(f"one JSON file of {made:,} objects written anew", other),
        )  # fmt: skip
        for part in range(0, arguments.notes, 20_000):
            notes = [
                record.NewEntry(
                    "note",
                    {"words": f"{' '.join(draw.choices(WORDS, k=8))} {draw.randrange(10_000)}"},
                    f"DN-{draw.randrange(made):06}",
                )
                for _ in range(min(20_000, arguments.notes - part))
            ]
            record.add_entries(project, actor=BUILDER, request_id=f"notes{part}", items=notes)
        p50, p95 = quantiles(
            lambda n: record.objects(
                project, noun="operation", after=f"DN-{draw.randrange(made):06}", limit=100
            ),
            200,
        )
        print(f"list page of 100 of {made:,} objects         p50 {p50:.2f} ms, p95 {p95:.2f} ms{of_cpu()}")
        typed = [f"{draw.choice(WORDS)} {draw.choice(WORDS)[:3]}" for _ in range(150)]
        typed += [f"{draw.choice(WORDS)} {draw.randrange(10_000)}" for _ in range(150)]
        p50, p95 = quantiles(lambda n: record.search(project, typed[n], 50), 300)
        print(
            f"search in {made + arguments.notes:,} entries               p50 {p50:.2f} ms, p95 {p95:.2f} ms{of_cpu()}"
        )
        p50, p95 = quantiles(lambda n: record.history(project, f"DN-{draw.randrange(made):06}"), 200)
        print(f"history of one object                        p50 {p50:.2f} ms, p95 {p95:.2f} ms{of_cpu()}")
        with project.store.read() as connection:
            start = time.process_time()
            rows = list(chain_rows(connection, project.id))
            read_s = time.process_time() - start
            start = time.process_time()
            for row in rows:
                hashlib.sha256(row[4].encode()).hexdigest()
            hash_s = time.process_time() - start
            start = time.process_time()
            assert not list(follow(project.id, rows))
            follow_s = time.process_time() - start
            start = time.process_time()
            assert not list(follow(project.id, chain_rows(connection, project.id)))
            whole_s = time.process_time() - start
        count = len(rows)
        print(f"floor: SHA-256 of every entry                {count / hash_s:,.0f} entries/s")
        print(
            f"following the chain, entries in memory       {count / follow_s:,.0f} entries/s ({follow_s / hash_s:.2f} floors)"
        )
        print(
            f"following the chain, read from the file      {count / whole_s:,.0f} entries/s (reading alone {count / read_s:,.0f})"
        )
        del rows
        start = time.perf_counter()
        report = check(project)
        print(
            f"whole check, every table rebuilt             {time.perf_counter() - start:.1f} s for {count:,} entries"
        )
        assert report.ok, report.problems[:3]
    shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()
