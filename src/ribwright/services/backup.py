"""Keeping a project safe and moving it: backup, restore, export, import."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from ribwright import __version__
from ribwright.core.record.chain import follow
from ribwright.core.record.entry import Entry, read_entry
from ribwright.core.record.projections import fold
from ribwright.core.record.rules import check_imported
from ribwright.core.record.tables import new_rows
from ribwright.errors import (
    ConflictError,
    DiskError,
    FormatError,
    NoProjectError,
    ProjectExistsError,
    RecordTamperedError,
    RibwrightError,
)
from ribwright.services.links import checked_database
from ribwright.services.project import Project, open_project, utc_now
from ribwright.services.seals import check
from ribwright.store import backup as copies
from ribwright.store import chain, engine, migrations, projections
from ribwright.store import photos as stored_photos
from ribwright.store.engine import DATABASE_NAME, Store, Transaction, is_url
from ribwright.store.unfinished import appear, being_made

ENTRIES, SEAL, PHOTOS, ABOUT = "entries.jsonl", "seal.txt", "photos", "READ-ME.txt"
KEEP = 7
_LONGEST_LINE = 4_000_000

_ABOUT_TEXT = """This folder holds the whole record of one aeroplane project, to be read without any program.

entries.jsonl  one entry a line, oldest first. The SHA-256 of a line (without its line end) is the entry's
               digest; "previous" in the next line repeats it. So no entry can be changed unseen.
seal.txt       project, number of entries, digest of the last one.
photos/        every photo, its file named by the SHA-256 of its content.

Written by ribwright {version}.
"""


def backup_project(
    project: Project,
    to: Path | str | None = None,
    *,
    keep: int = KEEP,
    progress: Callable[[int], None] | None = None,
) -> Path:
    """Copy a project, and let the oldest copies go.

    Args:
        project: an open project in a folder.
        to: a folder for copies, such as on another disk; by default ``backups`` in the project.
        keep: how many to keep there.
        progress: called with the pages still to copy; may raise ``Stopped``.

    Returns:
        The new copy.

    Raises:
        StoreError: the project is in a database server.
        DiskError: it can't be written.
    """
    folder = Path(to) if to is not None else (project.folder or Path()) / copies.BACKUPS
    target = folder / copies.backup_name(project.now())
    number = 1
    while target.exists():
        number += 1
        target = folder / f"{copies.backup_name(project.now())}-{number}"
    copies.copy_project(project.store, target, progress)
    copies.rotate(folder, max(1, keep))
    return target


def restore_project(copy: Path | str, folder: Path | str) -> Project:
    """Make a project again from a copy, prove it by the check, and open it.

    Args:
        copy: a folder that ``backup_project`` made.
        folder: a folder that is new or empty.

    Raises:
        NoProjectError: the copy is none.
        ProjectExistsError: the folder isn't empty.
        RecordTamperedError: the copy doesn't agree with itself; nothing was made.
    """
    source, target = Path(copy).expanduser().resolve(), _free_folder(folder)
    try:
        with being_made(target) as making:
            whole = making / target.name
            with open_project(source) as project:
                copies.copy_project(project.store, whole)
            with open_project(whole) as project:
                _prove(project, "copy", source)
            appear(whole, target)
    except OSError as error:
        raise DiskError("restore", found=f"{target}: {error.strerror or error}") from error
    return open_project(target)


def export_project(project: Project, folder: Path | str, *, positions: bool = False) -> Path:
    """Write the whole record into a folder of open formats.

    Args:
        project: an open project.
        folder: a folder that is new or empty.
        positions: also the originals of photos that say where they were taken; otherwise only their
            report copies, which don't.

    Returns:
        The folder.

    Raises:
        ProjectExistsError: the folder isn't empty.
        DiskError: it can't be written.
    """
    target = _free_folder(folder)
    try:
        with being_made(target) as making:
            (making / PHOTOS).mkdir()
            with project.store.read() as connection:
                seq, last = 0, ""
                with (making / ENTRIES).open("w", encoding="utf-8", newline="\n") as lines:
                    for row in chain.every_row(connection, project.id):
                        lines.write(row.text + "\n")
                        seq, last = row.seq, row.digest
                rows = projections.rows_of(connection, project.id, photos=True).all("photo")
            for row_ in rows.values():
                for name in ("digest", "report", "thumb"):
                    digest = str(row_[name])
                    if name == "digest" and row_["position"] == "yes" and not positions:
                        continue
                    if digest and stored_photos.has_photo(project.store, digest):
                        (making / PHOTOS / digest).write_bytes(
                            stored_photos.read_photo(project.store, digest)
                        )
            (making / SEAL).write_text(_seal_text(project.id, seq, last), encoding="utf-8", newline="\n")
            (making / ABOUT).write_text(
                _ABOUT_TEXT.format(version=__version__), encoding="utf-8", newline="\n"
            )
            appear(making, target)
    except OSError as error:
        raise DiskError("export", found=f"{target}: {error.strerror or error}") from error
    return target


def import_project(source: Path | str, where: Path | str, *, now: Callable[[], str] = utc_now) -> Project:
    """Make a project from an export: the identical chain, whole or not at all.

    Args:
        source: a folder that ``export_project`` wrote.
        where: a new or empty folder, or a ``postgresql://`` URL.
        now: the clock.

    Raises:
        NoProjectError: there is no export.
        FormatError: a line is no entry.
        RecordTamperedError: the chain is broken, the seal doesn't fit, or a photo was changed.
        ProjectExistsError: there is something there already.
    """
    folder = Path(source).expanduser().resolve()
    entries = _read_entries(folder)
    project_id = entries[0][0].project
    if is_url(where):
        address, _, wanted = str(where).partition("#")
        if wanted not in ("", project_id):
            raise ConflictError(
                "project", found=f"#{wanted}", allowed=f"#{project_id}", because="a record keeps the id under which it was begun",
                mend="Leave # and the id away",
            )  # fmt: skip
        store = engine.postgres_store(checked_database(address), project_id)
        try:
            migrations.migrate(store, at=now(), fresh=True)
            _fill(store, entries, folder)
        finally:
            store.close()
        return open_project(f"{address}#{project_id}", now=now)
    target = _free_folder(where)
    try:
        with being_made(target) as making:
            store = engine.sqlite_store(making, create=True)
            try:
                engine.set_journal(store)
                migrations.migrate(store, at=now(), fresh=True)
                _fill(Store(store.engine, store.where, making, project_id), entries, folder)
            finally:
                store.close()
            with open_project(making, now=now) as project:
                _prove(project, "export", folder)
            appear(making, target)
    except OSError as error:
        raise DiskError("import", found=f"{target}: {error.strerror or error}") from error
    return open_project(target, now=now)


def _read_entries(folder: Path) -> list[tuple[Entry, str]]:
    """Every entry of an export, with its chain followed and its seal compared."""
    try:
        content = (folder / ENTRIES).read_bytes()
        said = (folder / SEAL).read_bytes()[:10_000]
    except OSError as error:
        raise NoProjectError(
            "export", found=f"{folder}: {error.strerror}", because="this is no export"
        ) from error
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        raise FormatError(
            "export", found=f"{ENTRIES}, byte {error.start}", because="it is not UTF-8"
        ) from error
    if not text.endswith("\n"):
        raise FormatError("export", found=ENTRIES, because="its last line was cut off")
    made: list[tuple[Entry, str]] = []
    for number, line in enumerate(text[:-1].split("\n"), start=1):
        if len(line) > _LONGEST_LINE:
            raise FormatError(f"export, line {number}", found=f"{len(line)} characters")
        try:
            made.append((read_entry(line), line))
        except RibwrightError as error:
            raise FormatError(f"export, line {number}", found=error.found, because=error.because) from error
    project_id = made[0][0].project
    rows = ((entry.seq, entry.request_id, entry.role, entry.digest, line) for entry, line in made)
    for problem in follow(project_id, rows):
        raise RecordTamperedError(f"export, entry {problem.seq}", because=problem.what)
    if said != _seal_text(project_id, made[-1][0].seq, made[-1][0].digest).encode():
        raise RecordTamperedError("export", found=SEAL, because="the seal is not that of the last entry")
    return made


def _fill(store: Store, entries: list[tuple[Entry, str]], folder: Path) -> None:
    rows, before = new_rows(), ""
    first = entries[0][0]
    name = (first.body.get("data") or {}).get("name") if first.kind == "set" else None
    if not isinstance(name, str) or not name:
        raise RecordTamperedError("export, entry 1", because="it does not name a project")
    for entry, _ in entries:
        try:
            check_imported(entry, rows)
            fold(entry, rows, at_before=before)
        except RibwrightError as error:
            raise RecordTamperedError(f"export, entry {entry.seq}", because=str(error)) from error
        before = entry.at
    with store.write() as connection:
        if chain.project_row(connection, store.project) is not None:
            raise ProjectExistsError("project", found=store.project)
        chain.start_chain(connection, store.project, name, first.at)
        for row in rows.all("photo").values():
            _take_photos(store, connection, row, folder)
        linker = chain.Linker(connection, store.project)
        for entry, line in entries:
            linker.take(entry, line)
        linker.finish()
        projections.flush(connection, store.project, rows)


def _take_photos(store: Store, connection: Transaction, row: dict[str, str | int], folder: Path) -> None:
    for name in ("digest", "report", "thumb"):
        digest = str(row[name])
        if not digest:
            continue
        path = folder / PHOTOS / digest
        if not path.is_file():
            if name == "digest" and row["position"] == "yes":
                continue
            raise RecordTamperedError(
                f"export, entry {row['seq']}", found=f"photo {digest[:12]}", because="it is missing"
            )
        if stored_photos.digest_of_photo(content := path.read_bytes()) != digest:
            raise RecordTamperedError(
                f"export, entry {row['seq']}", found=f"photo {digest[:12]}", because="it was changed"
            )
        stored_photos.keep_photo(store, content, connection)


def _prove(project: Project, field: str, source: Path) -> None:
    for problem in check(project).problems[:1]:
        raise RecordTamperedError(
            field,
            found=f"{source}: {problem.where}: {problem.what}",
            mend="Try an older copy; nothing was made",
        )


def _seal_text(project_id: str, seq: int, digest: str) -> str:
    return f"project {project_id}\nentries {seq}\nlast    {digest}\n"


def _free_folder(folder: Path | str) -> Path:
    path = Path(folder).expanduser().resolve()
    try:
        if (path / DATABASE_NAME).exists() or (path.exists() and (not path.is_dir() or any(path.iterdir()))):
            raise ProjectExistsError("folder", found=path, because="it is not empty; nothing was overwritten")
    except OSError as error:
        raise DiskError("folder", found=f"{path}: {error.strerror}") from error
    return path
