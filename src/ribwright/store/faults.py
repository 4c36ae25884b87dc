"""What a database says, turned into the program's own errors."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from ribwright.errors import ConflictError, DiskError, NoProjectError, StoreError

_DISK = ("disk is full", "readonly database", "read-only", "disk i/o error", "no space left")
_TORN = ("malformed", "file is not a database", "not a database")


@contextmanager
def own_errors(where: str) -> Iterator[None]:
    """Let no database error out: a sentence that says what to do instead."""
    try:
        yield
    except DBAPIError as error:
        raise _translated(where, error) from error
    except UnicodeDecodeError as error:
        # The driver reads even its own messages as UTF-8, and they quote the torn file.
        raise _torn(where, str(error)) from error
    except OSError as error:
        raise DiskError(
            where,
            found=error.strerror or error,
            mend="Free some space or choose a folder that can be written",
        ) from error


def _translated(where: str, error: DBAPIError) -> StoreError | ConflictError:
    said = str(error.orig)
    low = said.lower()
    if any(words in low for words in (*_TORN, "could not decode")):
        return _torn(where, said)
    if any(words in low for words in _DISK):
        return DiskError(where, found=said, mend="Free some space or choose a folder that can be written")
    if "locked" in low or "busy" in low or "lock timeout" in low:
        return ConflictError(where, found=said, because="another program keeps it busy", mend="Try again")
    if "unable to open" in low or "does not exist" in low or "connection" in low or "no such table" in low:
        return NoProjectError(where, found=said)
    return StoreError(where, found=said)


def _torn(where: str, said: str) -> DiskError:
    return DiskError(
        where,
        found=said,
        because="the project file is torn or is not a project",
        mend="Restore the newest backup: ribwright project restore",
    )
