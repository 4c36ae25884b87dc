"""Mixed use for a long time: phones that read, enter and send photos, a plan that is worked out, and everything killed.

    python benchmarks/soak.py --minutes 30 [--folder DIR] [--phones 8] [--kill-every 120] [--database] [--workers]

Eight simulated phones on loopback open pages, enter notes and hours and send photos; what is not answered is sent again
with its own request id, as a phone does. The server is killed (SIGKILL) every so often and started again; with
``--database`` PostgreSQL is ended at once (immediate shutdown) in between, with ``--workers`` one of three workers is
killed. At the end every acknowledged entry must be in the record exactly once, the record must check, no answer may
have been a 500, and the memory of a server's life is fitted with a straight line. With ``--folder`` a run goes on
where the last one ended: its acknowledgements are kept beside the project.
"""

from __future__ import annotations

import argparse
import http.client
import io
import json
import os
import random
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import numpy as np
from PIL import Image

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(Path(__file__).parent)]

from ending import takes_all_with_it  # noqa: E402

from ribwright.services.dunlin import make_dunlin  # noqa: E402
from ribwright.services.project import Actor, Project, open_project  # noqa: E402
from ribwright.services.record import check, photos, recent  # noqa: E402

BUILDER = Actor("Ann Bell")
SEAMS = [f"DN-21-S{n:02d}" for n in range(1, 26)]
PAGES = ("/", "/airframe", "/airframe/DN-21", "/checks", "/record", "/stores", "/weight", "/portion")
PLAN = "/plan"
PATIENCE_S = 90.0
"""How long a phone tries to have one form answered before it counts as lost."""


@dataclass
class Seen:
    """What the phones saw, shared by all of them."""

    statuses: Counter[int] = field(default_factory=Counter)
    worst: list[str] = field(default_factory=list)
    given_up: list[str] = field(default_factory=list)
    again: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)

    def answer(self, status: int, path: str) -> None:
        with self.lock:
            self.statuses[status] += 1
            if status == 500 and len(self.worst) < 20:
                self.worst.append(path)


@dataclass
class Server:
    """The served project: started, killed and started again on one port."""

    words: list[str]
    port: int
    log: Path
    process: subprocess.Popen[bytes] | None = None
    began: float = 0.0
    lives: list[list[tuple[float, float]]] = field(default_factory=list)

    def start(self) -> None:
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "ribwright", "serve", "--port", str(self.port), "--by", BUILDER.name, *self.words],
                stdout=log, stderr=subprocess.STDOUT,
            )  # fmt: skip
        self.began = time.monotonic()
        self.lives.append([])
        for _ in range(1200):
            if self.process.poll() is not None:
                raise SystemExit(f"the server ended by itself: {self.log.read_text()[-2000:]}")
            try:
                socket.create_connection(("127.0.0.1", self.port), 1).close()
                return
            except OSError:
                time.sleep(0.05)
        raise SystemExit("the server does not answer")

    def kill(self) -> None:
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def weigh(self) -> None:
        """One reading of its resident memory, MB, and how long it has lived, s."""
        assert self.process is not None
        try:
            pages = int(Path(f"/proc/{self.process.pid}/statm").read_text().split()[1])
        except (OSError, IndexError):
            return
        self.lives[-1].append((time.monotonic() - self.began, pages * os.sysconf("SC_PAGE_SIZE") / 1e6))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def picture(rng: random.Random) -> bytes:
    image = Image.effect_noise((480, 360), 60).convert("RGB")
    image.putpixel((0, 0), (rng.randrange(256), rng.randrange(256), rng.randrange(256)))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=70)
    return out.getvalue()


def multipart(fields: dict[str, str], photo: bytes) -> tuple[bytes, str]:
    edge = "soak-of-the-record"
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    head = f'--{edge}\r\nContent-Disposition: form-data; name="photo"; filename="bay.jpg"\r\nContent-Type: image/jpeg\r\n\r\n'
    return (
        b"".join(parts) + head.encode() + photo + f"\r\n--{edge}--\r\n".encode(),
        f"multipart/form-data; boundary={edge}",
    )


def phone(
    number: int, port: int, until: float, seen: Seen, acknowledged: Path, seed: int, pause_s: float
) -> None:
    """One phone's evening: mostly it reads, now and then it enters something, and it never forgets what it entered."""
    rng = random.Random(f"{seed} {number}")
    log = acknowledged.open("a", encoding="utf-8")

    def ask(method: str, path: str, body: bytes = b"", kind: str = "") -> int:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        headers = {"origin": f"http://127.0.0.1:{port}"} | ({"content-type": kind} if kind else {})
        try:
            connection.request(method, path, body or None, headers)
            answer = connection.getresponse()
            answer.read()
            return answer.status
        except (OSError, http.client.HTTPException):
            return 0
        finally:
            connection.close()

    def sent(path: str, body: bytes, kind: str, token: str, what: str) -> None:
        begun = time.monotonic()
        while time.monotonic() - begun < PATIENCE_S:
            status = ask("POST", path, body, kind)
            seen.answer(status, path)
            if status in (200, 303):
                log.write(json.dumps({"token": token, "what": what}) + "\n")
                log.flush()
                return
            if status and status not in (429, 500, 502, 503):
                break
            with seen.lock:
                seen.again += 1
            time.sleep(0.3)
        with seen.lock:
            seen.given_up.append(f"{what} {token}: {status}")

    count = 0
    while time.monotonic() < until:
        count += 1
        token = f"soak{seed}x{number}x{count}"
        ref, chance = rng.choice(SEAMS), rng.random()
        if chance < 0.62:
            path = rng.choice(
                [*PAGES, f"/operation/{ref}", f"/stage/{ref}/drill", f"/operation/{ref}/worksheet"]
            )
            seen.answer(ask("GET", path), path)
        elif chance < 0.64:
            seen.answer(ask("GET", PLAN), PLAN)
        elif chance < 0.80:
            form = urlencode({"request": f"{token}-form", "about": ref, "words": f"said {token}"}).encode()
            sent("/record/enter/note", form, "application/x-www-form-urlencoded", token, "note")
        elif chance < 0.92:
            form = urlencode(
                {"request": f"{token}-form", "what": "work", "hours": "0.1", "words": f"said {token}"}
            ).encode()
            sent(f"/stage/{ref}/drill", form, "application/x-www-form-urlencoded", token, "work")
        else:
            body, kind = multipart({"request": f"{token}-form", "caption": f"said {token}"}, picture(rng))
            sent(f"/photo/add/{ref}", body, kind, token, "photo")
        time.sleep(rng.expovariate(1 / pause_s))
    log.close()


def counted(project: Project) -> Counter[str]:
    """How often each token stands in the record."""
    found: Counter[str] = Counter()
    for line in recent(project, kinds=("note", "work"), limit=10_000_000):
        words = str(line.entry.body.get("words", ""))
        if words.startswith("said soak"):
            found[words.removeprefix("said ")] += 1
    for one in photos(project):
        if str(one["caption"]).startswith("said soak"):
            found[str(one["caption"]).removeprefix("said ")] += 1
    return found


def slope(lives: list[list[tuple[float, float]]]) -> str:
    """MB a minute in the longest life: over its second half, and for comparison over its first.

    The first half holds what a server reads once and keeps (modules, tables, the last plans): it must come to rest.
    """
    longest = max(lives, key=len, default=[])
    if len(longest) < 24:
        return "no life was long enough to fit"
    at, mb = np.array(longest).T
    late = at > at[-1] / 2
    rise, before = (float(np.polyfit(at[part] / 60, mb[part], 1)[0]) for part in (late, ~late))
    return (
        f"{rise:+.2f} MB a minute over the second half of a life of {at[-1] / 60:.1f} minutes, {mb[late][0]:.0f} to "
        f"{mb[-1]:.0f} MB, at most {mb.max():.0f}; {before:+.2f} over its first half"
    )


def soak(
    folder: Path, *, minutes: float, phones_: int, kill_every_s: float, database: bool, workers: bool, pause_s: float, seed: int
) -> dict[str, Any]:  # fmt: skip
    """One stretch of it; what is in ``folder`` already is gone on with."""
    folder.mkdir(parents=True, exist_ok=True)
    acknowledged = folder / "acknowledged.jsonl"
    seen = Seen()
    with ExitStack() as stack:
        end_database = None
        if database:
            from adviser_list import cluster

            name = stack.enter_context(cluster())
            where = f"postgresql://app@/ribwright?host={name}#soak"
            end_database = _ender(name, stack)
            words = ["--database", where]
        else:
            where = str(folder / "p")
            words = ["--project", where]
        if database or not (folder / "p").exists():
            make_dunlin(where if database else Path(where), actor=BUILDER, request_id="begin").close()
            if database:
                acknowledged.unlink(missing_ok=True)
        killed_workers = None
        if workers:
            from workers import running

            crew = stack.enter_context(running(folder / "workers", count=3))
            killed_workers = list(crew.processes)
            words += ["--scheduler", crew.url, "--workers-ca", str(crew.files["ca"]), "--workers-certificate", str(crew.files["certificate"]), "--workers-key", str(crew.files["key"])]  # fmt: skip
        server = Server(words, free_port(), folder / "serve.log")
        server.start()
        began = time.monotonic()
        until = began + 60 * minutes
        crowd = [
            threading.Thread(target=phone, args=(n, server.port, until, seen, acknowledged, seed, pause_s))
            for n in range(phones_)
        ]
        for one in crowd:
            one.start()
        kills: Counter[str] = Counter()
        rng, next_kill = random.Random(seed), began + kill_every_s
        while any(one.is_alive() for one in crowd):
            time.sleep(1.0)
            server.weigh()
            if time.monotonic() < min(next_kill, until):
                continue
            if time.monotonic() < until:
                # the middle third is left alone, so that one life is long enough to weigh
                share = (time.monotonic() - began) / (60 * minutes)
                if not (minutes > 5 and 1 / 3 < share < 2 / 3):
                    if end_database is not None and kills["server"] > kills["database"]:
                        end_database()
                        kills["database"] += 1
                    elif killed_workers and len(killed_workers) > 1 and kills["server"] > kills["worker"]:
                        killed_workers.pop().kill()
                        kills["worker"] += 1
                    else:
                        server.kill()
                        kills["server"] += 1
                        server.start()
                next_kill = time.monotonic() + kill_every_s * rng.uniform(0.5, 1.5)
        for one in crowd:
            one.join()
        server.kill()
        told = [json.loads(line) for line in acknowledged.read_text(encoding="utf-8").splitlines()]
        with open_project(where if database else Path(where)) as project:
            found, problems = counted(project), check(project).problems
        return {
            "minutes": round((time.monotonic() - began) / 60, 1), "answers": dict(sorted(seen.statuses.items())), "kills": dict(kills),
            "sent again": seen.again, "acknowledged": len(told), "missing": [t["token"] for t in told if not found[t["token"]]],
            "doubled": [token for token, often in found.items() if often > 1], "given up": seen.given_up, "500 at": seen.worst,
            "record": "agrees" if not problems else [str(p) for p in problems[:3]], "memory": slope(server.lives),
        }  # fmt: skip


def _ender(name: str, stack: ExitStack) -> Any:
    """Ends PostgreSQL as a power cut would end its processes, and starts it again on the same socket."""
    programs = sorted(Path("/usr/lib/postgresql").glob("*/bin"))[-1]
    user = "postgres" if os.geteuid() == 0 else None
    quiet: dict[str, Any] = {
        "user": user,
        "cwd": name,
        "stdout": subprocess.DEVNULL,
        "stderr": subprocess.DEVNULL,
    }

    def end() -> None:
        subprocess.run(
            [programs / "pg_ctl", "-D", f"{name}/data", "-m", "immediate", "-w", "stop"], check=True, **quiet
        )
        options = f"-k {name} -h '' -F"
        subprocess.run([programs / "pg_ctl", "-D", f"{name}/data", "-w", "-l", f"{name}/log", "-o", options, "start"], check=True, **quiet)  # fmt: skip

    stack.callback(
        lambda: subprocess.run([programs / "pg_ctl", "-D", f"{name}/data", "-m", "fast", "stop"], **quiet)
    )
    return end


def main() -> int:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("--minutes", type=float, default=30.0)
    ask.add_argument("--folder", type=Path, help="kept and gone on with; else a passing one")
    ask.add_argument("--phones", type=int, default=8)
    ask.add_argument("--kill-every", type=float, default=90.0, help="seconds")
    ask.add_argument("--pause", type=float, default=1.0, help="seconds between a phone's actions, on average")
    ask.add_argument("--database", action="store_true", help="PostgreSQL instead of a folder")
    ask.add_argument("--workers", action="store_true", help="heavy work on three workers")
    ask.add_argument("--seed", type=int, default=int(time.time()) % 100_000)
    said = ask.parse_args()
    folder = said.folder or Path(tempfile.mkdtemp(prefix="soak-"))
    try:
        made = soak(
            folder, minutes=said.minutes, phones_=said.phones, kill_every_s=said.kill_every, database=said.database, workers=said.workers,
            pause_s=said.pause, seed=said.seed,
        )  # fmt: skip
    finally:
        if said.folder is None:
            shutil.rmtree(folder, ignore_errors=True)
    for name, value in made.items():
        print(f"{name}: {value}")
    sound = not made["missing"] and not made["doubled"] and not made["500 at"] and made["record"] == "agrees"
    return 0 if sound else 1


if __name__ == "__main__":
    takes_all_with_it()
    sys.exit(main())
