"""What a server that runs for weeks does to keep its memory at rest. Only glibc has these calls; elsewhere nothing happens."""

from __future__ import annotations

import ctypes
import threading
from contextlib import suppress

EVERY_S = 60.0
_M_ARENA_MAX = -8  # of malloc.h


def keep_memory_at_rest() -> None:
    """Let all threads draw from two arenas of the C library, and give back once a minute what lies free in them.

    Without it each thread keeps what its largest page once took, and the holes between what stays are never given back:
    about 25 MB of 320 and 5 to 28 MB (benchmarks/RESULTS.md).
    """
    with suppress(OSError, AttributeError, TypeError):
        library = ctypes.CDLL(None)
        library.mallopt(_M_ARENA_MAX, 2)
        trim = library.malloc_trim  # the lock of the interpreter is open meanwhile
        threading.Thread(target=_giving_back, args=(trim,), daemon=True, name="ribwright-memory").start()


def _giving_back(trim: object) -> None:
    assert callable(trim)
    never = threading.Event()
    while not never.wait(EVERY_S):
        trim(0)
