"""Folders that are filled beside their target and then renamed; what a killed program left is taken away by the next."""

from __future__ import annotations

import os
import secrets
import shutil
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from ribwright.store.files import sync_folder

MAKING, HELD = ".making", ".held"
"""A folder that is being filled, and the file beside it that is locked meanwhile: so the folder can be renamed at once."""


@contextmanager
def being_made(target: Path, mode: int = 0o777) -> Iterator[Path]:
    """An empty folder beside the target, to be filled; what is left of it is gone with the block.

    What earlier programs of this user left beside the target is taken away first. The lock is there before the
    folder, and given back by the system whatever ends the program: a folder in use is never taken.

    Args:
        target: what it will be, or what it will hold.
        mode: of the folder.
    """
    parent = target.parent
    parent.mkdir(parents=True, exist_ok=True)
    take_away_unfinished(parent)
    making = parent / f".{target.name}.{secrets.token_hex(4)}{MAKING}"
    beside = making.with_suffix(HELD)
    try:
        with beside.open("xb") as held:
            locked(held)
            try:
                making.mkdir(mode=mode)
                yield making
            finally:
                shutil.rmtree(making, ignore_errors=True)
    finally:
        beside.unlink(missing_ok=True)


def appear(making: Path, target: Path) -> None:
    """Give a finished folder its name in one step; an empty folder of that name makes room."""
    if target.is_dir():
        target.rmdir()
    os.replace(making, target)
    sync_folder(target.parent)


def take_away_unfinished(parent: Path) -> int:
    """Take away the half-made folders of this user's programs that were killed; how many. One in use stays."""
    gone = 0
    with suppress(OSError):
        for beside in parent.glob(f".*{HELD}"):
            with suppress(OSError):
                if not _own(beside, stat.S_ISREG):
                    continue
                with beside.open("rb+") as held:
                    if not locked(held):
                        continue
                beside.unlink()  # where a system has no such locks, it does not let an open file go
                making = beside.with_suffix(MAKING)
                if _own(making, stat.S_ISDIR):
                    shutil.rmtree(making)
                    gone += 1
    return gone


def locked(file: BinaryIO) -> bool:
    """Lock a file for this program, for as long as it is open; whether nobody else has it."""
    try:
        import fcntl
    except ModuleNotFoundError:
        return True
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _own(path: Path, kind: Callable[[int], bool]) -> bool:
    about = path.lstat()
    user = getattr(os, "getuid", lambda: about.st_uid)()
    return kind(about.st_mode) and about.st_uid == user
