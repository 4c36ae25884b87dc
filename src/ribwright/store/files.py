"""Files that must last: written aside, synced, then named."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path


def write_durably(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole, or not at all, whatever happens."""
    aside = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with aside.open("xb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(aside, path)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make sure that a new name in a folder outlives a power cut (a no-op where folders can't be opened)."""
    if os.name == "nt":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):
            os.fsync(descriptor)
    finally:
        os.close(descriptor)
