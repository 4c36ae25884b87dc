"""What a server that runs for weeks does to keep its memory at rest. Some of these calls only glibc has; elsewhere they are left out."""

from __future__ import annotations

import ctypes
import gc
import threading
from collections.abc import Callable
from contextlib import suppress

EVERY_S = 60.0
LOOKED_THROUGH = 5_000, 20, 500
"""After how many new values Python looks for rings among them, and how often farther back."""
_M_MMAP_THRESHOLD, _M_ARENA_MAX = -3, -8  # of malloc.h


def keep_memory_at_rest() -> None:
    """Let Python and the C library keep less of what was once taken.

    Each connection, and each bound value of a statement, leaves a ring of values that only the collector takes away:
    20 a page, 50 an entry. Looked for after 50,000 of them, they lay between what stays, and the blocks that both were
    in never came free again: a megabyte a minute. After 5,000 it rests. All that there is, is looked through a hundred
    times more seldom than that: it costs 50 ms in the middle of a page.

    All threads draw from two arenas; else each keeps what its largest page once took. A block of 8 MB or more, as
    pictures fill, goes back as soon as it is free; by itself the library comes to keep blocks of up to 32 MB, and
    held 800 MB after pictures of 49 megapixels had been sent to it. And once a minute what lies free between the
    blocks that stay is given back: 4 to 28 MB. Measures: benchmarks/RESULTS.md.
    """
    gc.set_threshold(*LOOKED_THROUGH)
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
