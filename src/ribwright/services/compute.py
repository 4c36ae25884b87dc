"""Where heavy work is done: here, or on workers of a scheduler (dask.distributed) when one is given.

What is handed over is a function of a module and its arguments by value: a worker needs no project, no
database and no file of ours, and can't reach what it was not given. The functions are pure, so a worker that
dies costs a delay: the work is given to another one, and done here when the scheduler itself is gone.
"""

from __future__ import annotations

import functools
import pickle
import threading
import warnings
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

from ribwright.errors import RibwrightError, ServeError
from ribwright.services.links import checked_scheduler

R = TypeVar("R")
LOOK_EVERY_S = 0.25
AHEAD = 4
"""Pieces handed over for each worker before the first comes back: enough to keep it busy, few enough that
a folder of photos is never in memory at once."""

MOST_KEPT_BYTES = 1_000_000

_Packed = tuple[tuple[bool, bytes], ...]
"""Arguments as they travel, each by itself: whether it is a value that never changes, and its bytes."""

_client: Any = None


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
    global _client
    if scheduler is None:
        yield
        return
    client = _connected(
        checked_scheduler(scheduler, ca=ca, certificate=certificate, key=key), ca, certificate, key
    )
    before, _client = _client, client
    try:
        yield
    finally:
        _client = before
        client.close(timeout=5)


def has_workers() -> bool:
    """Whether work goes to workers now."""
    return _client is not None


def run(function: Callable[..., R], *arguments: Any, waiting: Callable[[], None] = lambda: None) -> R:
    """The function of these arguments, worked out here or on a worker; the answer is the same.

    Args:
        function: of a module, pure; arguments and result by value.
        waiting: called now and then while a worker is at it; may raise ``Stopped``, which takes the work back.
    """
    client = _client
    if client is None:
        return function(*arguments)
    return _result(_handed_over(client, function, _pack(arguments)), function, arguments, waiting)


def spread(function: Callable[..., R], each: Iterable[tuple[Any, ...]]) -> Iterator[R]:
    """The function of each of these arguments, in their order, on as many workers as there are."""
    client = _client
    if client is None:
        for arguments in each:
            yield function(*arguments)
        return
    most = AHEAD * max(1, len(client.scheduler_info(n_workers=-1)["workers"]))
    handed: deque[tuple[Any, tuple[Any, ...]]] = deque()
    before: tuple[Any, ...] = ()
    packed: _Packed = ()
    try:
        for arguments in each:
            packed = _pack(arguments, before, packed)
            before = arguments
            handed.append((_handed_over(client, function, packed), arguments))
            if len(handed) >= most:
                future, given = handed.popleft()
                yield _result(future, function, given, lambda: None)
        while handed:
            future, given = handed.popleft()
            yield _result(future, function, given, lambda: None)
    finally:
        for future, _ in handed:
            future.cancel()


def _connected(url: str, ca: Path | None, certificate: Path | None, key: Path | None) -> Any:
    try:
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
    try:
        return Client(url, security=security, timeout="5s", set_as_default=False)
    except (OSError, ValueError) as error:  # a wrong certificate is an OSError here too
        raise ServeError(
            "--scheduler",
            because="it doesn't answer, or doesn't accept this certificate",
            found=url,
            mend="See whether it runs, and whether both certificates are of the same authority",
        ) from error


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


def _handed_over(client: Any, function: Callable[..., Any], packed: _Packed) -> Any:
    with warnings.catch_warnings():
        # A photo travels with its work on purpose: one kept on a worker would be lost with it.
        warnings.filterwarnings("ignore", message="Sending large graph", category=UserWarning)
        return client.submit(_answer, function, packed, pure=False)


def _answer(function: Callable[..., Any], packed: _Packed) -> tuple[Any, Any]:
    """On the worker: the result, or our own error as its class and facts (its text is made from these)."""
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

    ended = threading.Event()
    future.add_done_callback(lambda _: ended.set())
    try:
        # Not result(timeout=…): its own time limit can end at the same moment as the work, which it can't bear.
        while not ended.wait(LOOK_EVERY_S):
            waiting()
        kind, answer = future.result()
    except (KilledWorker, FutureCancelledError, CommClosedError):
        return function(*arguments)
    except BaseException:
        future.cancel()
        raise
    future.release()
    if kind is None:
        result: R = answer
        return result
    refused: RibwrightError = kind.__new__(kind)
    facts, refused.args = answer
    vars(refused).update(facts)
    raise refused
