"""What a server that runs for weeks does to keep its memory at rest. Only glibc has these calls; elsewhere nothing happens."""

from __future__ import annotations

import ctypes
import threading
from collections.abc import Callable
from contextlib import suppress

EVERY_S = 60.0
_M_MMAP_THRESHOLD, _M_ARENA_MAX = -3, -8  # of malloc.h


def keep_memory_at_rest() -> None:
    """Let the C library keep less of what was once taken.

    All threads draw from two arenas; else each keeps what its largest page once took. A block of 8 MB or more, as
    pictures fill, goes back as soon as it is free; by itself the library comes to keep blocks of up to 32 MB, and
    held 800 MB after pictures of 49 megapixels had been sent to it. And once a minute what lies free between the
    blocks that stay is given back: 4 to 28 MB. Measures: benchmarks/RESULTS.md.
    """
    with suppress(OSError, AttributeError, TypeError):
        library = ctypes.CDLL(None)
        library.mallopt(_M_ARENA_MAX, 2)
        library.mallopt(_M_MMAP_THRESHOLD, 8_000_000)
        trim = library.malloc_trim  # the interpreter is free for others meanwhile
        threading.Thread(target=_giving_back, args=(trim,), daemon=True, name="ribwright-memory").start()


def _giving_back(trim: Callable[[int], object]) -> None:
    never = threading.Event()
    while not never.wait(EVERY_S):
        trim(0)
