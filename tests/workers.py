"""A scheduler and workers of this run's own, on loopback, with both sides of the link known."""

from __future__ import annotations

import datetime
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ribwright.errors import OutOfRangeError
from ribwright.services import compute


def slow_square(number: int) -> int:
    time.sleep(0.4)
    return number * number


def refusing(value: str) -> None:
    raise OutOfRangeError("pitch", found=value, allowed="1 to 2", mend="Measure again.")


def at_work() -> tuple[bool, list[str]]:
    """Whether a worker would pass work on, and what of ours its surroundings tell it."""
    return compute.has_workers(), [name for name in os.environ if name.startswith(("RIBWRIGHT", "PG"))]


@dataclass
class Workers:
    """What a client needs to reach them, and the processes."""

    url: str
    files: dict[str, Path]
    processes: list[subprocess.Popen[bytes]] = field(default_factory=list)
    scheduler: subprocess.Popen[bytes] | None = None

    def wait_for(self, count: int) -> None:
        """Until so many have come; within ``compute.workers``."""
        assert compute._link is not None
        compute._link.client.wait_for_workers(count, timeout=120)

    def kill_one(self) -> None:
        """The first worker, with no chance to say so."""
        self.processes[0].kill()
        self.processes[0].wait()


def certificates(folder: Path) -> dict[str, Path]:
    """An authority and one certificate by it, good for both sides."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    begin = datetime.datetime.now(datetime.UTC) - datetime.timedelta(hours=1)

    def certified(name: str, public: Any, issuer: str, key: Any, is_authority: bool) -> x509.Certificate:
        def named(text: str) -> x509.Name:
            return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

        return (
            x509.CertificateBuilder()
            .subject_name(named(name))
            .issuer_name(named(issuer))
            .public_key(public)
            .serial_number(x509.random_serial_number())
            .not_valid_before(begin)
            .not_valid_after(begin + datetime.timedelta(days=2))
            .add_extension(x509.BasicConstraints(is_authority, None), critical=True)
            .sign(key, hashes.SHA256())
        )

    def pem(key: ec.EllipticCurvePrivateKey) -> bytes:
        return key.private_bytes(
            serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
        )

    authority, own = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    written = {
        "ca": certified("authority", authority.public_key(), "authority", authority, True).public_bytes(
            serialization.Encoding.PEM
        ),
        "certificate": certified("side", own.public_key(), "authority", authority, False).public_bytes(
            serialization.Encoding.PEM
        ),
        "key": pem(own),
    }
    folder.mkdir(parents=True, exist_ok=True)
    files = {name: folder / f"{name}.pem" for name in written}
    for name, content in written.items():
        files[name].write_bytes(content)
    return files


@contextmanager
def running(folder: Path, *, count: int = 2, wait_s: float = 60.0) -> Iterator[Workers]:
    """A scheduler with so many workers of one process and one thread each; ended with the block."""
    files = certificates(folder / "keys")
    tls = ["--tls-ca-file", files["ca"], "--tls-cert", files["certificate"], "--tls-key", files["key"]]
    said = folder / "scheduler.json"
    quiet: dict[str, Any] = {"stdout": subprocess.DEVNULL, "stderr": (folder / "workers.log").open("ab")}
    environment = {
        name: value for name, value in os.environ.items() if not name.startswith(("RIBWRIGHT", "PG"))
    } | {
        "DASK_DISTRIBUTED__COMM__REQUIRE_ENCRYPTION": "true",
        "DASK_DISTRIBUTED__WORKER__MEMORY__TERMINATE": "false",
        # looking at each thread a hundred times a second is a tenth of a worker's time
        "DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "false",
        "DASK_DISTRIBUTED__WORKER__PROFILE__INTERVAL": "10s",
        "DASK_DISTRIBUTED__ADMIN__SYSTEM_MONITOR__INTERVAL": "5s",
        # and fifty wakings a second to see whether it is late are 16 ms of each second
        "DASK_DISTRIBUTED__ADMIN__TICK__INTERVAL": "1s",
        # the last messages are kept with the work that they carried, a thousand of them
        "DASK_DISTRIBUTED__ADMIN__LOW_LEVEL_LOG_LENGTH": "10",
        "OMP_NUM_THREADS": "1",
        "PYTHONPATH": os.pathsep.join([str(Path(__file__).parent), os.environ.get("PYTHONPATH", "")]),
    }

    def started(module: str, *arguments: object) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.{module}", *map(str, [*arguments, *tls])]
        return subprocess.Popen(command, cwd=folder, env=environment, **quiet)

    scheduler = started(
        "dask_scheduler", "--protocol", "tls", "--host", "127.0.0.1", "--port", 0, "--no-dashboard",
        "--scheduler-file", said,
    )  # fmt: skip
    made = Workers("", files, scheduler=scheduler)
    try:
        until = time.monotonic() + wait_s
        while not said.exists() or not said.read_bytes().endswith(b"}"):
            assert scheduler.poll() is None, (folder / "workers.log").read_text()
            assert time.monotonic() < until, "the scheduler did not start"
            time.sleep(0.05)
        made.url = json.loads(said.read_text())["address"]
        for number in range(count):
            made.processes.append(
                started(
                    "dask_worker",
                    made.url,
                    "--no-nanny",
                    "--nthreads",
                    1,
                    "--name",
                    f"w{number}",
                    "--host",
                    "127.0.0.1",
                    "--protocol",
                    "tls",
                    "--no-dashboard",
                    "--memory-limit",
                    0,
                    "--local-directory",
                    folder,
                )
            )
        yield made
    finally:
        for process in [*made.processes, scheduler]:
            process.kill()  # nothing is theirs to save
            process.wait()
        quiet["stderr"].close()
