"""Processes killed at random moments while they write: nothing acknowledged may be missing.

``python benchmarks/record_kill.py --runs 1000 --state kill.json [--url postgresql://…]``

Two processes of four threads write; after a random while both are killed with SIGKILL. Then: every
acknowledged entry is there, the check passes, and the shared counter equals the number of its steps
(a lost update would leave it behind). Resumable: the state file keeps the runs done.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from ending import takes_all_with_it

from ribwright.services.project import Actor, create_project, open_project
from ribwright.services.record import get_object, history, recent, set_object
from ribwright.services.seals import check

WRITER = Path(__file__).with_name("record_writer.py")
BUILDER = Actor("Ann Bell")


def make_project(place: str | Path) -> str:
    """A project with a shared counter at 0; returns what opens it."""
    with create_project(place, name="Kill", actor=BUILDER, request_id="made") as project:
        set_object(
            project, actor=BUILDER, request_id="counter", noun="setting", ref="counter", data={"count": "0"}
        )
        return str(project.folder) if project.folder else f"{place}#{project.id}"


def one_run(where: str, draw: random.Random, *, processes: int, threads: int, longest_s: float = 0.6) -> int:
    """Start writers, kill them, and compare. Returns how many entries were acknowledged.

    Raises:
        AssertionError: something acknowledged is missing, or the record doesn't agree with itself.
    """
    with tempfile.TemporaryDirectory() as folder:
        outputs = [Path(folder) / f"{number}.txt" for number in range(processes)]
        running = []
        for number, output in enumerate(outputs):
            with output.open("wb") as stream:
                running.append(
                    subprocess.Popen(
                        [sys.executable, str(WRITER), where, f"w{number}", str(threads)],
                        stdout=stream,
                        stderr=subprocess.DEVNULL,
                    )
                )
        # From the first acknowledgement on, at a moment that nobody chose.
        deadline = time.monotonic() + 60
        while not any(output.stat().st_size for output in outputs) and time.monotonic() < deadline:
            time.sleep(0.005)
        time.sleep(draw.uniform(0.0, longest_s))
        for process in running:
            os.kill(process.pid, signal.SIGKILL)
        for process in running:
            process.wait()
        lines = [
            line.split()
            for output in outputs
            for line in output.read_text().splitlines(keepends=True)
            if line.endswith("\n")
        ]
    assert lines, "nothing was acknowledged"
    with open_project(where) as project:
        report = check(project)
        assert report.ok, report.problems[:3]
        stored = {line.entry.seq: line.entry for line in recent(project, limit=1_000_000)}
        for kind, seq, request_id in lines:
            entry = stored.get(int(seq))
            assert entry is not None, f"acknowledged entry {seq} is missing"
            assert entry.request_id.startswith(request_id)
            assert entry.kind == {"note": "note", "count": "set"}[kind]
        steps = len(history(project, "counter")) - 1
        assert get_object(project, "counter").data["count"] == str(steps), "a step of the counter was lost"
    return len(lines)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=1000)
    parser.add_argument("--state", type=Path, default=Path("record_kill.json"))
    parser.add_argument("--url", help="a prepared PostgreSQL database instead of folders")
    parser.add_argument("--fresh-every", type=int, default=20, help="runs on one project")
    arguments = parser.parse_args()
    state = json.loads(arguments.state.read_text()) if arguments.state.exists() else {"runs": 0, "entries": 0}
    place: Path | None = None
    where = ""
    since_fresh = arguments.fresh_every
    while state["runs"] < arguments.runs:
        if since_fresh >= arguments.fresh_every:
            if place is not None:
                shutil.rmtree(place, ignore_errors=True)
            place = Path(tempfile.mkdtemp(prefix="record-kill-"))
            where, since_fresh = make_project(arguments.url or place / "project"), 0
        draw = random.Random(f"kill {state['runs']}")
        state["entries"] += one_run(where, draw, processes=2, threads=4)
        state["runs"] += 1
        since_fresh += 1
        arguments.state.write_text(json.dumps(state))
        print(
            f"\r{state['runs']} runs, {state['entries']} acknowledged entries, none missing",
            end="",
            flush=True,
        )
    if place is not None:
        shutil.rmtree(place, ignore_errors=True)
    print()


if __name__ == "__main__":
    takes_all_with_it()
    main()
