"""Pages of the Dunlin at 8 clients, in a closed loop and as people open them, without and with 40 idle live streams.

``python benchmarks/live_pages.py [--times 100 --folder /tmp/dunlin-100]``

The floor, a static file, is printed first. In the closed loop each client asks for the next page as soon as it has
the last one: eight of them on one interpreter then wait eight service times for each page, so that it measures how
many pages a second the server gives. As people open them: each client opens a page every second. The goal (middle at
most 20 ms, 95 % at most 50 ms; 80 ms at a hundred aeroplanes) stands for the second form.
"""

from __future__ import annotations

import argparse
import http.client
import os
import random
import resource
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from pathlib import Path

from ending import takes_all_with_it
from figures import figure

from ribwright.services.dunlin import make_dunlin
from ribwright.services.project import Actor, is_project

PATHS = (
    "/",
    "/airframe",
    "/operation/DN-21-S11",
    "/stage/DN-21-S11/rivet",
    "/tally/DN-21-S11",
    "/record",
    "/checks",
)
CLIENTS, TURNS, STREAMS = 8, 3, 40
EVERY_S = 1.0


def measured(
    port: int, path: str | None = None, *, every_s: float = 0.0, turns: int = TURNS
) -> list[tuple[str, float]]:
    """Path and ms of each page of each client; with ``every_s`` each opens one page in that time, at random."""
    took: list[tuple[str, float]] = []

    def client(number: int) -> None:
        rng, paths = random.Random(number), (path,) if path else PATHS
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        for turn in range(turns):
            for place, one in enumerate(paths):
                if every_s:
                    due = began_at + every_s * (turn * len(paths) + place + rng.random())
                    time.sleep(max(0.0, due - time.perf_counter()))
                began = time.perf_counter()
                connection.request("GET", one, headers={"accept-encoding": "gzip"})
                answer = connection.getresponse()
                answer.read()
                assert answer.status == 200, (one, answer.status)
                took.append((one, 1000 * (time.perf_counter() - began)))

    began_at = time.perf_counter()
    threads = [threading.Thread(target=client, args=(number,)) for number in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took


def said(name: str, took: list[tuple[str, float]], *, floor: float = 0.0) -> float:
    ordered = sorted(ms for _, ms in took)
    p50, p95 = statistics.median(ordered), ordered[int(0.95 * len(ordered))]
    ratio = f", {p50 / floor:.1f} and {p95 / floor:.1f} times the floor" if floor else ""
    print(
        f"{name}: p50 {p50:.1f} ms, p95 {p95:.1f} ms, most {ordered[-1]:.1f} ms, {len(ordered)} pages{ratio}"
    )
    return p50


def processor_s(server: subprocess.Popen[bytes]) -> float:
    """Seconds of processor that the server has used: what a busy machine changes least (0 where nothing tells)."""
    try:
        words = Path(f"/proc/{server.pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


def by_page(took: list[tuple[str, float]]) -> None:
    for path in PATHS:
        mine = sorted(ms for one, ms in took if one == path)
        print(f"    {path:28s} p50 {statistics.median(mine):6.1f}  most {mine[-1]:6.1f}")


def start(project: Path) -> tuple[subprocess.Popen[bytes], int, float]:
    """The server, its port, and the seconds from starting it to its first page."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    began = time.perf_counter()
    server = subprocess.Popen(
        [sys.executable, "-m", "ribwright", "serve", "--port", str(port), "--project", str(project)],
        stdout=subprocess.DEVNULL,
    )
    while True:
        try:
            urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=120).close()
            return server, port, time.perf_counter() - began
        except OSError:
            time.sleep(0.01)


def by_command_ms(project: Path) -> float:
    """The same answer as the first page's, without a server: least of three, ms by the clock."""
    took = []
    for _ in range(3):
        began = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "ribwright", "bench", "next", "--project", str(project)], check=True, stdout=subprocess.DEVNULL
        )  # fmt: skip
        took.append(1000 * (time.perf_counter() - began))
    return min(took)


def main() -> int:
    asked = argparse.ArgumentParser()
    asked.add_argument("--times", type=int, default=1, help="so many Dunlins in one project")
    asked.add_argument("--folder", type=Path, help="where the project is, or is made and kept")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        project = given.folder or Path(temporary) / "p"
        if not is_project(project):
            make_dunlin(project, actor=Actor("builder"), request_id="bench", scale=given.times).close()
        starts = []
        for _ in range(3):
            server, port, took = start(project)
            starts.append(took)
            server.terminate()
            server.wait(20)
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(
            "server start to first page: " + ", ".join(f"{s:.2f}" for s in starts)
            + f" s ({(used.ru_utime + used.ru_stime) / 3:.2f} s of processor each, its end included)"
        )  # fmt: skip
        server, port, _ = start(project)
        time.sleep(3)  # the rest of the program is read in after the first page
        measured(port, turns=1)
        floor = said("floor: a static file, closed loop", measured(port, "/static/mark.svg", turns=20))
        said("closed loop", measured(port), floor=floor)
        quiet = said(
            "floor: a static file, every second", measured(port, "/static/mark.svg", every_s=EVERY_S, turns=8)
        )
        before = processor_s(server)
        people = measured(port, every_s=EVERY_S)
        spent = 1000 * (processor_s(server) - before) / len(people)
        alone = said("a page every second", people, floor=quiet)
        print(f"    {spent:.1f} ms of the server's processor each")
        by_page(people)
        streams = []
        for _ in range(STREAMS):
            one = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
            one.request("GET", "/live/DN-21-S11", headers={"accept": "text/event-stream"})
            streams.append((one, one.getresponse()))
        figure(
            f"a page every second, middle, {given.times} times the Dunlin", alone, "ms by the clock", floor=("a static file", quiet),
            against=("ribwright bench next, a program of its own", by_command_ms(project)),
        )  # fmt: skip
        with_streams = said(
            f"a page every second beside {STREAMS} idle streams", measured(port, every_s=EVERY_S)
        )
        print(f"ratio of the middles: {with_streams / alone:.2f}")
        for one, _ in streams:
            one.close()
        server.terminate()
        server.wait(20)
    return 0


if __name__ == "__main__":
    takes_all_with_it()
    raise SystemExit(main())
