"""A project outlives its machine: backup, restore, export, import, migrations, damage."""

from __future__ import annotations

import io
import os
import random
import resource
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import text

from ribwright.errors import (
    DiskError,
    MigrationError,
    NewerProjectError,
    NoProjectError,
    ProjectExistsError,
    RecordTamperedError,
    RibwrightError,
)
from ribwright.services import amending, record
from ribwright.services.backup import backup_project, export_project, import_project, restore_project
from ribwright.services.photos import add_photo
from ribwright.services.project import (
    Actor,
    Project,
    create_project,
    find_project,
    open_project,
)
from ribwright.services.seals import check, seal
from ribwright.store import migrations

from .conftest import make_seam

BUILDER = Actor("Ann Bell", "builder")
DATA = Path(__file__).parent.parent / "data" / "record"


def small_picture(shade: int = 120) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (48, 32), (shade, 90, 60)).save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def filled(project: Project) -> Project:
    seam = make_seam(project)
    record.add_entry(project, actor=BUILDER, request_id="w", kind="work", about=seam, body={"hours": "1.5"})
    record.add_entry(
        project, actor=BUILDER, request_id="n", kind="note", body={"words": "Größe “naïve” ✓ 3/32"}
    )
    add_photo(project, actor=BUILDER, request_id="p", content=small_picture(), about=seam)
    amending.undo(project, actor=BUILDER, request_id="u", seq=record.history(project, seam)[1].entry.seq)
    return project


def test_export_and_import_give_the_identical_chain(filled: Project, tmp_path: Path) -> None:
    folder = export_project(filled, tmp_path / "out")
    with import_project(folder, tmp_path / "in") as other:
        assert seal(other) == seal(filled)
        assert record.objects(other) == record.objects(filled)
        assert check(other).ok
        again = export_project(other, tmp_path / "out2")
        entry = record.add_entry(other, actor=BUILDER, request_id="x", kind="note", body={"words": "goes on"})
        assert entry.seq == int(seal(filled).split("-")[0]) + 1
    for path in folder.rglob("*"):
        if path.is_file():
            assert (again / path.relative_to(folder)).read_bytes() == path.read_bytes()
    with pytest.raises(ProjectExistsError):
        import_project(folder, tmp_path / "in")
    with pytest.raises(ProjectExistsError):
        export_project(filled, folder)


def test_an_export_moves_between_folder_and_server(
    folder_project: Project, cluster: str, tmp_path: Path
) -> None:
    make_seam(folder_project)
    add_photo(folder_project, actor=BUILDER, request_id="p", content=small_picture())
    folder = export_project(folder_project, tmp_path / "out")
    url = f"postgresql://app@/ribwright?host={cluster}"
    with import_project(folder, url) as there:
        assert check(there).ok
        assert seal(there) == seal(folder_project)
        back = export_project(there, tmp_path / "back")
    assert (back / "entries.jsonl").read_bytes() == (folder / "entries.jsonl").read_bytes()
    with pytest.raises(ProjectExistsError):
        import_project(folder, url)


def test_a_changed_export_is_refused_or_imported_whole(folder_project: Project, tmp_path: Path) -> None:
    """Short form; 10,000 changes are made by benchmarks/record_exports.py."""
    seam = make_seam(folder_project)
    add_photo(folder_project, actor=BUILDER, request_id="p", content=small_picture(), about=seam)
    folder = export_project(folder_project, tmp_path / "out")
    right = seal(folder_project)
    draw = random.Random(7)
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    refused = 0
    for number in range(36):
        path = draw.choice(files)
        content = path.read_bytes()
        at = draw.randrange(len(content))
        path.write_bytes(mutated(draw, content, at))
        target = tmp_path / f"in{number}"
        sentence = ""
        try:
            with import_project(folder, target) as made:
                assert seal(made) == right
                assert check(made).ok
        except RibwrightError as error:
            sentence = str(error)
        refused += bool(sentence)
        assert target.exists() != bool(sentence)
        path.write_bytes(content)
    assert 12 < refused < 36
    assert not list(tmp_path.glob(".*making*"))


def mutated(draw: random.Random, content: bytes, at: int) -> bytes:
    how = draw.randrange(5)
    if how == 0:
        return content[:at] + bytes([content[at] ^ (1 << draw.randrange(8))]) + content[at + 1 :]
    if how == 1:
        return content[:at] + content[at + draw.randint(1, 40) :]
    if how == 2:
        return content[:at] + draw.randbytes(draw.randint(1, 8)) + content[at:]
    if how == 3:
        return content[:at]
    lines = content.splitlines(keepends=True)
    draw.shuffle(lines)
    return b"".join(lines)


def test_a_consistent_forgery_that_can_not_stand_is_refused(folder_project: Project, tmp_path: Path) -> None:
    """A chain that is right in itself, made by hand, with an object inside itself."""
    from ribwright.core.record.entry import GENESIS, make_entry

    bodies = [
        {"noun": "setting", "ref": "project", "revision": "1", "data": {"name": "Forged"}},
        {"noun": "part", "ref": "A", "revision": "1"},
        {"noun": "part", "ref": "B", "revision": "1", "parent": "A"},
        {"noun": "part", "ref": "A", "revision": "2", "parent": "B"},
    ]
    for last in (3, 4):
        folder = tmp_path / f"forged{last}"
        (folder / "photos").mkdir(parents=True)
        previous, lines = GENESIS, []
        for seq, body in enumerate(bodies[:last], start=1):
            entry, line = make_entry(
                project="forged",
                seq=seq,
                request_id=f"r{seq}",
                kind="set",
                about=str(body["ref"]),
                at="2026-01-01T00:00:00Z",
                by="Eve",
                role="builder",
                body=body,
                corrects=None,
                previous=previous,
            )
            previous = entry.digest
            lines.append(line)
        (folder / "entries.jsonl").write_text("\n".join(lines) + "\n")
        (folder / "seal.txt").write_text(f"project forged\nentries {last}\nlast    {previous}\n")
        if last == 3:
            import_project(folder, tmp_path / "fine").close()
        else:
            with pytest.raises(RecordTamperedError, match="inside itself"):
                import_project(folder, tmp_path / "refused")


def test_backups_rotate_and_restoring_proves_itself(folder_project: Project, tmp_path: Path) -> None:
    make_seam(folder_project)
    add_photo(folder_project, actor=BUILDER, request_id="p", content=small_picture())
    made = [backup_project(folder_project, tmp_path / "disk", keep=3) for _ in range(5)]
    kept = sorted((tmp_path / "disk").iterdir())
    assert kept == sorted(made)[2:]
    before = seal(folder_project)
    record.add_entry(folder_project, actor=BUILDER, request_id="later", kind="note", body={"words": "later"})
    with restore_project(kept[-1], tmp_path / "again") as other:
        assert seal(other) == before
        assert check(other).ok
    copied = next(path for path in (kept[-1] / "photos").rglob("*") if path.is_file())
    assert copied.stat().st_nlink > 1, "photos are linked, not copied"
    with sqlite3.connect(kept[-1] / "record.sqlite") as connection:
        connection.execute("UPDATE work SET hours = '1'")
        connection.execute("UPDATE object SET title = 'x' WHERE ref = 'DN'")
    connection.close()
    with pytest.raises(RecordTamperedError):
        restore_project(kept[-1], tmp_path / "bad")
    assert not (tmp_path / "bad").exists()
    with pytest.raises(NoProjectError):
        restore_project(tmp_path / "disk", tmp_path / "none")


def test_a_project_is_never_overwritten(folder_project: Project) -> None:
    assert folder_project.folder is not None
    with pytest.raises(ProjectExistsError):
        create_project(folder_project.folder, name="Other", actor=BUILDER, request_id="other")
    with create_project(folder_project.folder, name="Dunlin", actor=BUILDER, request_id="made") as same:
        assert same.id == folder_project.id


def test_finding_the_project_that_is_meant(
    folder_project: Project, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_project.folder
    assert folder is not None
    monkeypatch.delenv("RIBWRIGHT_PROJECT", raising=False)
    monkeypatch.setattr(sys, "prefix", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    with pytest.raises(NoProjectError, match="ribwright project new"):
        find_project()
    (folder / "deep" / "er").mkdir(parents=True)
    monkeypatch.chdir(folder / "deep" / "er")
    assert find_project() == folder
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RIBWRIGHT_PROJECT", str(folder))
    assert find_project() == folder
    with pytest.raises(NoProjectError):
        find_project(tmp_path / "elsewhere")
    monkeypatch.delenv("RIBWRIGHT_PROJECT")
    (tmp_path / "ribwright-project.txt").write_text(f"{folder}\n")
    assert find_project() == folder


def test_a_newer_project_is_refused_and_not_touched(folder_project: Project) -> None:
    folder = folder_project.folder
    assert folder is not None
    folder_project.close()
    with sqlite3.connect(folder / "record.sqlite") as connection:
        connection.execute("INSERT INTO schema_version VALUES (99, 'later', '', '')")
    connection.close()
    before = (folder / "record.sqlite").read_bytes()
    with pytest.raises(NewerProjectError, match="99"):
        open_project(folder)
    assert (folder / "record.sqlite").read_bytes() == before


def test_a_migration_is_preceded_by_a_copy_and_is_whole_or_not(
    folder_project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_project.folder
    assert folder is not None
    folder_project.close()

    def good(connection: object) -> None:
        connection.execute(text("CREATE TABLE later (project TEXT)"))  # type: ignore[attr-defined]

    def bad(connection: object) -> None:
        good(connection)
        connection.execute(text("INSERT INTO nowhere VALUES (1)"))  # type: ignore[attr-defined]

    monkeypatch.setattr(migrations, "MIGRATIONS", (("a step that fails", bad),))
    with pytest.raises(MigrationError, match="a step that fails"):
        open_project(folder)
    (copy,) = (folder / "backups").iterdir()
    monkeypatch.setattr(migrations, "MIGRATIONS", ())
    with open_project(folder) as unharmed, open_project(copy) as copied:
        assert check(unharmed).ok
        assert check(copied).ok
        assert seal(copied) == seal(unharmed)
    monkeypatch.setattr(migrations, "MIGRATIONS", (("a step", good),))
    shutil.rmtree(folder / "backups")
    with open_project(folder) as brought:
        assert migrations.version_of(brought.store) == 2
    with open_project(folder):
        assert len(list((folder / "backups").iterdir())) == 1, "the copy is made once"


@pytest.mark.parametrize("name", sorted(path.name for path in DATA.iterdir() if path.is_dir()))
def test_a_project_of_every_released_version_opens(name: str, tmp_path: Path) -> None:
    folder = tmp_path / name
    shutil.copytree(DATA / name, folder)
    with open_project(folder) as project:
        assert check(project).problems == ()
        assert seal(project) == (DATA / f"{name}.seal").read_text().strip()


_ON_A_FULL_DISK = """
import resource, sys
from ribwright.services.project import Actor, open_project
from ribwright.services.record import add_entry
from ribwright.errors import DiskError
import signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
done = 0
with open_project(sys.argv[1]) as project:
    resource.setrlimit(resource.RLIMIT_FSIZE, (400_000, 400_000))
    try:
        for number in range(400):
            add_entry(project, actor=Actor("Ann"), request_id=f"x{number}", kind="note", body={"words": "w" * 4000})
            done += 1
    except DiskError as error:
        print(done, str(error))
"""


@pytest.mark.skipif(os.name != "posix", reason="needs resource limits")
def test_a_full_disk_is_a_sentence_and_loses_nothing(folder_project: Project) -> None:
    folder = folder_project.folder
    assert folder is not None
    before = int(seal(folder_project).split("-")[0])
    ran = subprocess.run(
        [sys.executable, "-c", _ON_A_FULL_DISK, str(folder)],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert ran.stderr == ""
    done, _, sentence = ran.stdout.partition(" ")
    assert "the disk refused" in sentence
    assert check(folder_project).problems == ()
    assert int(seal(folder_project).split("-")[0]) == before + int(done)
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] != 400_000


def test_a_folder_that_can_not_be_written_is_read(
    folder_project: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = folder_project.folder
    assert folder is not None
    folder_project.close()
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    with open_project(folder) as project:
        assert check(project).problems == ()
        with pytest.raises(DiskError, match="can't be written"):
            record.add_entry(project, actor=BUILDER, request_id="n", kind="note", body={"words": "x"})


def test_an_export_whose_last_entries_were_cut_off_cleanly_is_refused(
    folder_project: Project, tmp_path: Path
) -> None:
    make_seam(folder_project)
    folder = export_project(folder_project, tmp_path / "out")
    lines = (folder / "entries.jsonl").read_bytes().splitlines(keepends=True)
    (folder / "entries.jsonl").write_bytes(b"".join(lines[:-1]))
    with pytest.raises(RecordTamperedError, match="seal"):
        import_project(folder, tmp_path / "in")
    (folder / "entries.jsonl").write_bytes(b"")
    with pytest.raises(RibwrightError):
        import_project(folder, tmp_path / "in")
    assert not (tmp_path / "in").exists()
