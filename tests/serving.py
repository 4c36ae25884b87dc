"""Serving a project for a test: a real server on a free port."""

from __future__ import annotations

import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Running:
    """A served project: its address and folder."""

    url: str
    folder: Path

    def command(self, *words: str) -> str:
        """Run the command line on the same project; what was typed is read back from the record with it."""
        done = subprocess.run(
            [sys.executable, "-m", "ribwright", *words, "--project", str(self.folder)],
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout


def serve(folder: Path) -> Iterator[Running]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    log = (folder.parent / "serve.log").open("w+")
    server = subprocess.Popen(
        [sys.executable, "-m", "ribwright", "serve", "--port", str(port), "--project", str(folder), "--by", "Ann Bell"], stdout=log, stderr=subprocess.STDOUT,
    )  # fmt: skip
    url = f"http://127.0.0.1:{port}"
    try:
        for _ in range(600):  # a shared machine can take its time
            try:
                urllib.request.urlopen(url + "/static/mark.svg", timeout=1).close()
                break
            except OSError:
                assert server.poll() is None, (folder.parent / "serve.log").read_text()
                time.sleep(0.1)
        else:
            raise AssertionError("the server did not answer")
        yield Running(url, folder)
    finally:
        server.terminate()
        server.wait(10)
        log.close()
