"""Photos offered to the operation whose clock ran when they were taken: from a folder, or sent many at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ribwright.core.record.entry import Entry
from ribwright.core.record.rules import check_role
from ribwright.errors import NoProjectError, UnreadablePhotoError
from ribwright.services import record
from ribwright.services.photos import add_photo, photo_content, plain_name, taken
from ribwright.services.project import Actor, Project
from ribwright.store import photos as stored_photos

_ENDINGS = (".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif")


@dataclass(frozen=True, slots=True)
class Offer:
    """A photo in a folder, and the operation whose clock ran when it was taken.

    Attributes:
        path: the file.
        taken_at: by the camera's clock, ``YYYY-MM-DDTHH:MM:SS``, or "".
        about: reference of the operation, or "" when none fits.
        problem: why it can't be taken in, or "".
    """

    path: Path
    taken_at: str
    about: str
    problem: str = ""


def offer_photos(project: Project, folder: Path | str) -> tuple[Offer, ...]:
    """Look through a folder: each photo is offered to the operation whose clock ran when it was taken.

    Raises:
        NoProjectError: the folder can't be read.
    """
    spans = _spans(project)
    try:
        paths = sorted(
            path for path in Path(folder).iterdir() if path.suffix.lower() in _ENDINGS and path.is_file()
        )
    except OSError as error:
        raise NoProjectError(
            "folder", found=f"{folder}: {error.strerror}", because="it can't be read"
        ) from error
    offers = []
    for path in paths:
        try:
            taken_at = taken(path.read_bytes())
        except (UnreadablePhotoError, OSError) as error:
            offers.append(Offer(path, "", "", str(error)))
            continue
        offers.append(Offer(path, taken_at, _fitting(spans, taken_at)))
    return tuple(offers)


def _spans(project: Project) -> list[tuple[str, str, str]]:
    """From, to and operation of every stretch of work whose clock was kept."""
    return [
        (str(row["started"])[:19], str(row["ended"])[:19], str(row["about"]))
        for row in record.work(project)
        if row["started"] and row["ended"]
    ]


def _fitting(spans: Sequence[tuple[str, str, str]], taken_at: str) -> str:
    fitting = [about for start, end, about in spans if taken_at and start <= taken_at <= end]
    return fitting[-1] if fitting else ""


@dataclass(frozen=True, slots=True)
class Held:
    """A photo that was sent and lies in the project, but that nobody has placed yet.

    Attributes:
        mark: its digest, "" when it can't be taken.
        name: what the file was called, as a word only.
        taken_at: by the camera's clock, or "".
        about: operation whose clock ran then, or "".
        problem: why it can't be taken in, or "".
    """

    mark: str
    name: str
    taken_at: str
    about: str
    problem: str = ""


def hold_photos(project: Project, sent: Sequence[tuple[str, bytes]], *, actor: Actor) -> tuple[Held, ...]:
    """Keep photos from a camera and say to which operation each is offered; no entry is made yet.

    Args:
        sent: name and content of each.
        actor: who sends them.

    Raises:
        RefusedError: the role keeps no photos.
    """
    check_role("photo", by=actor.name, role=actor.role)
    spans = _spans(project)
    held = []
    for name, content in sent:
        plain = plain_name(name)
        try:
            taken_at = taken(content)
        except UnreadablePhotoError as error:
            held.append(Held("", plain, "", "", error.sentence()))
            continue
        mark = stored_photos.keep_photo(project.store, content)
        held.append(Held(mark, plain, taken_at, _fitting(spans, taken_at)))
    return tuple(held)


def place_photo(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    mark: str,
    about: str,
    name: str = "",
    caption: str = "",
) -> Entry:
    """Take in a photo that is held. Errors as ``add_photo``, and UnknownNameError: it isn't held."""
    content, _ = photo_content(project, mark)
    return add_photo(
        project, actor=actor, request_id=request_id, content=content, about=about, name=name, caption=caption
    )
