"""What a database says, turned into the program's own errors."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from ribwright.errors import ConflictError, DiskError, NoProjectError, StoreError

_DISK = ("disk is full", "readonly database", "read-only", "disk i/o error", "no space left")
_TORN = ("malformed", "file is not a database", "not a database")
_LINK = (
    (
        ("password", "pg_hba", 'role "', "authentication failed"),
        "the database does not accept this login",
        "Look at name and password; a password is best kept in ~/.pgpass",
    ),
    (
        ('database "',),  # it names the database that isn't there
        "there is no such database",
        "Make it first, as docs/advisers.md says",
    ),
    (
        ("certificate", "ssl"),
        "the encrypted link to the database can't be made",
        "sslrootcert names the authority that signed the database's certificate; the database must have ssl on",
    ),
)
"""Words of the driver, what they mean, what to do."""


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
    if error.connection_invalidated or any(
        words in low for words in ("connection", "server closed", "resolve host")
    ):
        return _not_reached(where, said)
    if "permission denied" in low:
        return StoreError(
            where,
            because="this login may not do that here",
            found=said.splitlines()[0],
            mend="Use the login that owns the tables, or let it do: ribwright project prepare URL --login NAME",
        )
    if any(words in low for words in ("unable to open", "does not exist", "no such table")):
        return NoProjectError(where, found=said)
    return StoreError(where, found=said)


def _not_reached(where: str, said: str) -> StoreError:
    """What stands between the program and a database on a server, by what the driver says."""
    # it speaks in several lines, and says again where; that stands in front already
    found = re.sub(
        r"^connection failed: |connection to server .*? failed: (FATAL: *)?", "", " ".join(said.split())
    )
    low = found.lower()
    for words, because, mend in _LINK:
        if any(one in low for one in words):
            return StoreError(where, because=because, found=found, mend=mend)
    return StoreError(
        where,
        because="the database does not answer",
        found=found,
        mend="See whether it runs, and whether its name and port are right",
    )


def _torn(where: str, said: str) -> DiskError:
    return DiskError(
        where,
        found=said,
        because="the project file is torn or is not a project",
        mend="Restore the newest backup: ribwright project restore",
    )
