"""An adviser of many builds: who invited him, what waits for his answer, what is often wrong in all of them.

The invitation is an entry of each build's own record; so is every answer. A build that takes it back is out
of his list at once, and its record stays as it is.
"""

from __future__ import annotations

import hashlib
import json
import secrets
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

from ribwright.core.record.entry import Entry, check_name
from ribwright.errors import ConflictError, MissingError, OutOfRangeError, RefusedError
from ribwright.services.discrepancies import enter_answer
from ribwright.services.links import checked_database
from ribwright.services.project import Actor, Project, utc_now
from ribwright.services.record import objects, set_object
from ribwright.store import advisers as stored
from ribwright.store import chain, engine
from ribwright.store.engine import Store

MOST_SHOWN = 200
KEY_LENGTH = 24
LETTERS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Of a key: nothing that is read as something else. 24 of them can't be guessed."""

_BEGINS = "adviser "


@dataclass(frozen=True, slots=True)
class Invitation:
    """What a build lets an adviser do: answer its questions; count its findings with those of others."""

    name: str
    invited: bool
    shares: bool


@dataclass(frozen=True, slots=True)
class Waiting:
    """A question that has no answer yet.

    Attributes:
        project: id of the build.
        build: its name.
        question: number of the entry.
        about: reference of the operation or part.
        discrepancy: reference of the discrepancy, or "".
        words: as asked.
        asked_by, asked_at: who and when.
    """

    project: str
    build: str
    question: int
    about: str
    discrepancy: str
    words: str
    asked_by: str
    asked_at: str


@dataclass(frozen=True, slots=True)
class Often:
    """How one requirement came out over the builds that share: findings by verdict, and in how many builds."""

    requirement: str
    counts: tuple[tuple[str, int, int], ...]

    @property
    def findings(self) -> int:
        """All of them."""
        return sum(count for _, count, _ in self.counts)

    @property
    def outside(self) -> int:
        """Those that are not within limits."""
        return sum(count for verdict, count, _ in self.counts if verdict != "within limits")


def set_adviser(
    project: Project, *, actor: Actor, request_id: str, name: str, invited: bool = True, shares: bool = False
) -> Invitation:
    """Let an adviser answer the questions of this build, or no longer.

    Args:
        name: the adviser's.
        invited: False takes it back, and with it the sharing.
        shares: let the findings be counted with those of other builds; can be taken back alone.

    Raises:
        RefusedError: somebody else than the builder.
        OutOfRangeError: no name.
        ConflictError: taking back what was never given.
    """
    if actor.role != "builder":
        raise RefusedError("adviser", found=f"{actor.name}, {actor.role}", allowed="the builder")
    plain = _plain(name)
    before = {one.name: one for one in invitations(project)}
    if not invited and plain not in before:
        raise ConflictError("adviser", found=plain, because="was never invited to this build")
    data = {
        "name": plain,
        "invited": "yes" if invited else "no",
        "share": "yes" if invited and shares else "no",
    }
    set_object(
        project, actor=actor, request_id=request_id, noun="setting", ref=_ref(plain), title=f"Adviser {plain}", data=data
    )  # fmt: skip
    return _invitation(data)


def invitations(project: Project) -> tuple[Invitation, ...]:
    """Every adviser that was ever invited to this build, as it stands."""
    return tuple(
        _invitation(one.data) for one in objects(project, noun="setting") if one.ref.startswith(_BEGINS)
    )


@contextmanager
def database(url: str) -> Iterator[Store]:
    """The database of many builds, to be looked at by an adviser.

    Raises:
        ServeError: the link is open to others.
    """
    store = engine.postgres_store(checked_database(url).partition("#")[0])
    try:
        yield store
    finally:
        store.close()


def store_of(project: Project) -> Store | None:
    """The database that a build lies in, on no build; None for a folder."""
    return replace(project.store, project="") if project.folder is None else None


def builds(store: Store, adviser: str) -> tuple[tuple[str, str, Invitation], ...]:
    """Id, name and invitation of each build that invited this adviser."""
    ref = _ref(adviser)
    with stored.as_adviser(store, ref) as connection:
        rows = stored.invited(connection, ref)
    return tuple((project, name, _invitation(json.loads(data))) for project, name, data in rows)


def waiting(store: Store, adviser: str, *, limit: int = MOST_SHOWN) -> tuple[Waiting, ...]:
    """What waits for an answer over all builds that invited this adviser, the longest waiting first.

    Args:
        limit: at most so many, 1 to 1000.
    """
    if not 1 <= limit <= 1000:
        raise OutOfRangeError("limit", found=limit, allowed="1 to 1000")
    with stored.as_adviser(store, _ref(adviser)) as connection:
        return tuple(Waiting(*row) for row in stored.open_questions(connection, limit=limit))


def often(store: Store, adviser: str) -> tuple[Often, ...]:
    """How requirements came out over the builds that share their findings, the most often missed first."""
    with stored.as_adviser(store, _ref(adviser)) as connection:
        rows = stored.findings_together(connection)
    by: dict[str, list[tuple[str, int, int]]] = {}
    for requirement, verdict, count, in_builds in rows:
        by.setdefault(requirement, []).append((verdict, count, in_builds))
    made = [Often(requirement, tuple(counts)) for requirement, counts in by.items()]
    return tuple(sorted(made, key=lambda one: (-one.outside, one.requirement)))


def make_key(url: str, name: str, *, now: Callable[[], str] = utc_now) -> str:
    """A new key for an adviser to sign in with; the keys before stay good until they are ended.

    Args:
        url: of the database, with the login that owns it: who runs the server knows who the adviser is.
        name: the adviser's, as the builds invite him.
        now: the clock.

    Returns:
        The key, such as ``7KQ4-MX2P-9TAB-…``. It is shown, and kept nowhere.

    Raises:
        StoreError: this login doesn't own the database. ServeError: the link is open to others.
        OutOfRangeError: no such name can be.
    """
    letters = "".join(secrets.choice(LETTERS) for _ in range(KEY_LENGTH))
    with database(url) as store, stored.as_owner(store) as connection:
        stored.put_key(connection, digest=key_digest(letters), adviser=_plain(name), at=now())
    return "-".join(letters[at : at + 4] for at in range(0, KEY_LENGTH, 4))


def end_keys(url: str, name: str, *, now: Callable[[], str] = utc_now) -> int:
    """End every key of an adviser at once, also where he is signed in; how many these were. Errors as ``make_key``."""
    with database(url) as store, stored.as_owner(store) as connection:
        return stored.end_keys(connection, adviser=_plain(name), at=now())


def key_digest(key: str) -> str:
    """What is kept of a key; blanks, dashes and small letters make no difference."""
    letters = "".join(one for one in key.upper() if one.isalnum())[:80]
    return hashlib.sha256(f"adviser\n{letters}".encode()).hexdigest()


def holder(store: Store, digest: str) -> str | None:
    """Whose key has this digest; None when it was ended, or never was."""
    with store.read() as connection:
        return stored.holder(connection, digest)


def answer(
    store: Store, *, adviser: str, request_id: str, project: str, question: int, words: str, authority: str
) -> Entry:
    """Answer a build's question; the answer is an entry of that build's record.

    Args:
        store: of the database, on no project.
        adviser: who answers.
        project: id of the build.
        question: number of the question's entry.
        words: the answer.
        authority: on what it rests: designer, licensed mechanic, opinion.

    Raises:
        RefusedError: this build did not invite him, or there is no such build.
        MissingError: no words, or no authority.
        ConflictError: it has been answered.
    """
    adviser = _plain(adviser)
    for field, said in (("answer", words), ("authority", authority)):
        if not said.strip():
            raise MissingError(field, mend="Say it in a few words")
    of_build = replace(store, project=project)
    with of_build.read() as connection:
        row = chain.project_row(connection, project)
    opened = Project(row[0], row[1], of_build) if row is not None else None
    if opened is None or not any(one.invited and one.name == adviser for one in invitations(opened)):
        raise RefusedError(
            "build",
            found=project,
            because="this build did not invite you",
            mend="Ask its builder for an invitation",
        )
    return enter_answer(
        opened,
        actor=Actor(adviser, "adviser"),
        request_id=request_id,
        question=question,
        words=words.strip(),
        who=adviser,
        authority=authority.strip(),
    )


def _ref(name: str) -> str:
    return f"{_BEGINS}{_plain(name)}"


def _plain(name: str) -> str:
    """A name as it is compared: one space between words, one way of writing each letter."""
    return " ".join(unicodedata.normalize("NFC", check_name(name, "adviser")).split())


def _invitation(data: dict[str, str]) -> Invitation:
    return Invitation(data["name"], data["invited"] == "yes", data["share"] == "yes")
