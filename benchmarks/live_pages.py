"""Pages of the Dunlin at 8 clients, without and with 40 idle live streams."""

from __future__ import annotations

import http.client
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.request
from pathlib import Path

from ribwright.services.dunlin import make_dunlin
from ribwright.services.project import Actor

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


def measured(port: int, path: str | None = None) -> list[float]:
    took: list[float] = []

    def client() -> None:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        for _ in range(TURNS):
            for one in (path,) if path else PATHS:
                began = time.perf_counter()
                connection.request("GET", one)
                answer = connection.getresponse()
                answer.read()
                assert answer.status == 200, (one, answer.status)
                took.append(1000 * (time.perf_counter() - began))

    threads = [threading.Thread(target=client) for _ in range(CLIENTS)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return took


def said(name: str, took: list[float]) -> float:
    ordered = sorted(took)
    p50, p95 = statistics.median(ordered), ordered[int(0.95 * len(ordered))]
    print(f"{name}: p50 {p50:.1f} ms, p95 {p95:.1f} ms, {len(ordered)} pages")
    return p50


def main() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        project = Path(folder) / "p"
        make_dunlin(project, actor=Actor("builder"), request_id="bench").close()
        server = subprocess.Popen(
            [sys.executable, "-m", "ribwright", "serve", "--port", str(port), "--project", str(project)],
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
        for _ in range(600):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/static/mark.svg", timeout=1).close()
                break
            except OSError:
                time.sleep(0.1)
        measured(port)
        said("floor: a static file", measured(port, "/static/mark.svg"))
        alone = said("no stream", measured(port))
        streams = []
        for _ in range(STREAMS):
            one = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
            one.request("GET", "/live/DN-21-S11", headers={"accept": "text/event-stream"})
            streams.append((one, one.getresponse()))
        with_streams = said(f"{STREAMS} idle streams", measured(port))
        print(f"ratio of the middles: {with_streams / alone:.2f}")
        for one, _ in streams:
            one.close()
        server.terminate()
        server.wait(20)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
