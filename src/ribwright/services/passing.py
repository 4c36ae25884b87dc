"""Folders of one piece of work, gone with it; what a program that was killed left is taken away by the next."""

from __future__ import annotations

import functools
import os
import shutil
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ribwright.store.unfinished import locked

PREFIX = "ribwright-"
HELD = ".held"
"""A file in each such folder, locked for as long as its program lives: the system gives a lock back, whatever ends it."""


@contextmanager
def passing_folder() -> Iterator[Path]:
    """An empty folder for files that a reader wants by their path; it is gone with the block."""
    _taken_away_once()
    with tempfile.TemporaryDirectory(prefix=PREFIX) as name, (Path(name) / HELD).open("wb") as held:
        locked(held)
        yield Path(name)


def take_away_what_was_left() -> int:
    """Take away the folders of this user's programs that were killed; how many. One that is in use stays."""
    user = getattr(os, "getuid", lambda: None)()
    gone = 0
    with suppress(OSError):
        for folder in Path(tempfile.gettempdir()).glob(f"{PREFIX}*"):
            with suppress(OSError):
                about = folder.lstat()
                if not stat.S_ISDIR(about.st_mode) or (user is not None and about.st_uid != user):
                    continue
                with (folder / HELD).open("rb+") as held:  # without it: not one of these, or just being made
                    if not locked(held):
                        continue
                shutil.rmtree(folder)  # where a system has no such locks, it does not let an open file go
                gone += 1
    return gone


@functools.cache
def _taken_away_once() -> int:
    return take_away_what_was_left()
