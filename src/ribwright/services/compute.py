"""Where heavy work is done: here, or on workers of a scheduler (dask.distributed) when one is given.

What is handed over is a function of a module and its arguments by value: a worker needs no project, no
database and no file of ours, and can't reach what it was not given. The functions are pure, so a worker that
dies costs a delay: the work is given to another one, and done here when the scheduler itself is gone.
"""

from __future__ import annotations

import functools
import hashlib
import pickle
import socket
import threading
import time
import warnings
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import urlsplit

from ribwright import __version__
from ribwright.errors import RibwrightError, ServeError
from ribwright.services.links import checked_scheduler

R = TypeVar("R")
LOOK_EVERY_S = 0.25
ALONE_S = 20.0
"""How long work waits while there is no worker at all; then it is done here. A worker that was killed and is started
again comes back sooner."""
AHEAD = 4
"""Pieces handed over for each worker before the first comes back: enough to keep it busy, few enough that
a folder of photos is never in memory at once."""

MOST_KEPT_BYTES = 1_000_000

_Packed = tuple[tuple[bool, bytes], ...]
"""Arguments as they travel, each by itself: whether it is a value that never changes, and its bytes."""

_OTHER = "another program"
"""What a worker answers that came later with another program than ours; the work is done here then."""

AGAIN_S = 30.0
"""How long after a scheduler was lost, and after each try, it is looked for again."""


@dataclass(slots=True)
class _Link:
    """The way to a scheduler.

    Attributes:
        connect: makes a client of it.
        client: the one in use.
        seen: when there was a worker last.
        tried: when the scheduler was last looked for again.
    """

    connect: Callable[[], Any]
    client: Any
    seen: float
    tried: float = 0.0


_link: _Link | None = None


@contextmanager
def workers(
    scheduler: str | None, *, ca: Path | None = None, certificate: Path | None = None, key: Path | None = None
) -> Iterator[None]:
    """Within the block, heavy work goes to the workers of this scheduler; without one nothing changes.

    Args:
        scheduler: ``tls://host:port`` or ``tcp://127.0.0.1:port``; None works here.
        ca, certificate, key: of the encrypted link; both sides must show a certificate of this authority.

    Raises:
        ServeError: the scheduler doesn't answer, or may not be used this way.
        MissingError: a file of the link is missing.
    """
    global _link
    if scheduler is None:
        yield
        return
    url = checked_scheduler(scheduler, ca=ca, certificate=certificate, key=key)
    connect = functools.partial(_connected, url, ca, certificate, key)
    before, _link = _link, _Link(connect, connect(), time.monotonic())
    made = _link
    try:
        yield
    finally:
        _link = before
        made.client.close(timeout=5)


def has_workers() -> bool:
    """Whether work goes to workers now."""
    return _link is not None


def run(function: Callable[..., R], *arguments: Any, waiting: Callable[[], None] = lambda: None) -> R:
    """The function of these arguments, worked out here or on a worker; the answer is the same.

    Args:
        function: of a module, pure; arguments and result by value.
        waiting: called now and then while a worker is at it; may raise ``Stopped``, which takes the work back.
    """
    client = _usable()
    if client is None:
        return function(*arguments)
    (future,) = _handed_over(client, function, [_pack(arguments)])
    return _result(future, function, arguments, waiting)


def spread(function: Callable[..., R], each: Iterable[tuple[Any, ...]]) -> Iterator[R]:
    """The function of each of these arguments, in their order, on as many workers as there are."""
    client = _usable()
    if client is None:
        for arguments in each:
            yield function(*arguments)
        return
    most = AHEAD * max(1, _count(client))
    handed: deque[tuple[Any, tuple[Any, ...]]] = deque()
    before: tuple[Any, ...] = ()
    packed: _Packed = ()
    pieces = iter(each)
    try:
        while True:
            # Half of them at once: what the scheduler does for a message costs it 8 ms, whether one piece is in it or ten.
            while len(handed) <= most // 2 and (few := list(islice(pieces, most // 2))):
                packs = []
                for arguments in few:
                    packed = _pack(arguments, before, packed)
                    before = arguments
                    packs.append(packed)
                handed.extend(zip(_handed_over(client, function, packs), few, strict=True))
            if not handed:
                return
            future, given = handed.popleft()
            yield _result(future, function, given, lambda: None)
    finally:
        for future, _ in handed:
            if future is not None:
                future.cancel()


def _usable() -> Any:
    """The client, when there is somebody to work for it; None: it is done here. A lost scheduler is looked for beside."""
    link, now = _link, time.monotonic()
    if link is None:
        return None
    if link.client.status != "running":
        if now - link.tried > AGAIN_S:
            link.tried = now
            threading.Thread(target=_look_again, args=(link,), daemon=True).start()
        return None
    if _count(link.client):
        link.seen = now
    return link.client if now - link.seen <= ALONE_S else None


def _look_again(link: _Link) -> None:
    try:
        client = link.connect()
    except RibwrightError:
        return
    before, link.client, link.seen = link.client, client, time.monotonic()
    (before if link is _link else client).close(timeout=5)


def _count(client: Any) -> int:
    """How many workers there are; this asks the scheduler."""
    try:
        return len(client.scheduler_info(n_workers=-1).get("workers", ()))
    except (OSError, RuntimeError):  # it has just gone
        return 0


def _connected(url: str, ca: Path | None, certificate: Path | None, key: Path | None) -> Any:
    try:
        import dask
        from distributed import Client, Security
    except ModuleNotFoundError as error:
        raise ServeError("--scheduler", found=error.name, mend="pip install 'ribwright[scale]'") from error
    security = None
    if url.startswith("tls://"):
        security = Security(
            tls_ca_file=str(ca),
            tls_client_cert=str(certificate),
            tls_client_key=str(key),
            require_encryption=True,
        )
    _check_somebody_is_there(url)
    # For its developers it would keep the last thousand messages, each with the work that it carried: half a megabyte a minute.
    dask.config.set({"distributed.admin.low-level-log-length": 1})
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Mismatched versions", category=Warning)
            client = Client(url, security=security, timeout="5s", set_as_default=False)
    except (OSError, ValueError) as error:  # a wrong certificate is an OSError here too
        raise _refused(url) from error
    others = _other_programs(client)
    if others:
        client.close(timeout=5)
        raise ServeError(
            "--scheduler",
            because="scheduler and workers must have the same program that runs here",
            found="; ".join(others),
            allowed=f"ribwright {program_mark()}",
            mend=f"Install there: pip install 'ribwright[scale]=={__version__}'",
        )
    return client


def _refused(url: str) -> ServeError:
    """Somebody is there, who doesn't take what this side shows."""
    if url.startswith("tcp:"):
        because, mend = "it answers, but takes no open link", "Give tls:// and the three certificate files"
    else:
        because = "it answers, but one side does not accept the other's certificate"
        mend = "Both must be signed by the authority of --workers-ca"
    return ServeError("--scheduler", because=because, found=url, mend=mend)


def _check_somebody_is_there(url: str) -> None:
    there = urlsplit(url)
    try:
        socket.create_connection((there.hostname or "", there.port or 0), timeout=5).close()
    except OSError as error:
        raise ServeError(
            "--scheduler",
            because="nobody answers there",
            found=f"{url}: {error.strerror or error}",
            mend="See whether the scheduler runs, and whether name and port are right",
        ) from error


@functools.cache
def program_mark() -> str:
    """Version of the program, and a mark of its text: the same input gives the same answer by the same program only."""
    made = hashlib.sha256()
    for name in ("core", "services", "errors.py"):
        at = Path(__file__).parents[1] / name
        for file in sorted(at.rglob("*")) if at.is_dir() else [at]:
            if file.suffix in (".py", ".toml", ".json"):
                made.update(file.relative_to(at.parent).as_posix().encode() + file.read_bytes())
    return f"{__version__}, {made.hexdigest()[:12]}"


def _other_programs(client: Any) -> list[str]:
    """Which of scheduler and workers lack the program, or have another one."""
    found = client.get_versions(packages=["ribwright"])
    asked = {"scheduler": found["scheduler"], **found["workers"]}
    lack = [name for name, one in asked.items() if not one["packages"].get("ribwright")]
    if lack:
        return [f"{name}: none" for name in lack]
    try:
        marks = client.run(program_mark)
    except Exception as error:  # whatever a program says that doesn't know what it is asked
        return [f"workers: another ({' '.join(str(error).split())[:80]})"]
    return [f"{name}: {mark}" for name, mark in marks.items() if mark != program_mark()]


def _pack(arguments: tuple[Any, ...], before: tuple[Any, ...] = (), known: _Packed = ()) -> _Packed:
    """Arguments as bytes; a frozen value that the piece before had in the same place is not packed again.

    In bytes, because the scheduler opens and packs again whatever else it passes on.
    """
    made = []
    for place, value in enumerate(arguments):
        frozen = getattr(getattr(type(value), "__dataclass_params__", None), "frozen", False)
        if frozen and place < len(before) and before[place] is value:
            made.append(known[place])
            continue
        content = pickle.dumps(value, protocol=pickle.HIGHEST_PROTOCOL)
        made.append((frozen and len(content) <= MOST_KEPT_BYTES, content))
    return tuple(made)


@functools.lru_cache(maxsize=4)
def _opened_once(content: bytes) -> Any:
    """On the worker: a frozen value that piece after piece comes with; known by its content, never by a name."""
    return pickle.loads(content)


def _handed_over(client: Any, function: Callable[..., Any], packs: list[_Packed]) -> list[Any]:
    """A future of each; None where the scheduler has just gone."""
    many = len(packs)
    with warnings.catch_warnings():
        # A photo travels with its work on purpose: one kept on a worker would be lost with it.
        warnings.filterwarnings("ignore", message="Sending large graph", category=UserWarning)
        try:
            futures: list[Any] = client.map(
                _answer, [function] * many, packs, [program_mark()] * many, pure=False
            )
        except (OSError, RuntimeError):
            return [None] * many
    return futures


def _answer(function: Callable[..., Any], packed: _Packed, program: str) -> tuple[Any, Any]:
    """On the worker: the result, or our own error as its class and facts (its text is made from these)."""
    if program != program_mark():
        return _OTHER, None
    arguments = (_opened_once(content) if keep else pickle.loads(content) for keep, content in packed)
    try:
        return None, function(*arguments)
    except RibwrightError as refused:
        return type(refused), (dict(vars(refused)), refused.args)


def _result(
    future: Any, function: Callable[..., R], arguments: tuple[Any, ...], waiting: Callable[[], None]
) -> R:
    from distributed import KilledWorker
    from distributed.client import FutureCancelledError
    from distributed.comm import CommClosedError

    if future is None:
        return function(*arguments)
    ended = threading.Event()
    future.add_done_callback(lambda _: ended.set())
    seen = looked = time.monotonic()
    try:
        # Not result(timeout=…): its own time limit can end at the same moment as the work, which it can't bear.
        while not ended.wait(LOOK_EVERY_S):
            waiting()
            now = time.monotonic()
            if now - looked < ALONE_S / 20:
                continue
            looked = now
            if _count(future.client):
                seen = now
            elif now - seen > ALONE_S:
                future.cancel()
                return function(*arguments)
        kind, answer = future.result()
    except (KilledWorker, FutureCancelledError, CommClosedError):
        return function(*arguments)
    except BaseException:
        future.cancel()
        raise
    future.release()
    if kind == _OTHER:
        return function(*arguments)
    if kind is None:
        result: R = answer
        return result
    refused: RibwrightError = kind.__new__(kind)
    facts, refused.args = answer
    vars(refused).update(facts)
    raise refused
