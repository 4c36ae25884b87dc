"""The check finds what was changed behind the record's back, and says where."""

from __future__ import annotations

import random
import shutil
import sqlite3
from pathlib import Path

import pytest
from sqlalchemy import text

from ribwright.errors import DiskError, FormatError, RibwrightError
from ribwright.services import record
from ribwright.services.project import Actor, Project, create_project, open_project
from ribwright.services.seals import check, seal, sign_seal

from .conftest import make_seam

BUILDER = Actor("Ann Bell", "builder")


@pytest.fixture
def filled(folder_project: Project) -> Project:
    seam = make_seam(folder_project)
    for number in range(12):
        record.add_entry(
            folder_project,
            actor=BUILDER,
            request_id=f"w{number}",
            kind="work",
            about=seam,
            body={"hours": "1.5"},
        )
    record.add_entry(
        folder_project,
        actor=BUILDER,
        request_id="f",
        kind="finding",
        about=seam,
        body={"requirement": "edge distance", "verdict": "refer", "reason": "short"},
    )
    return folder_project


def _change(project: Project, statement: str) -> None:
    """What no part of the program does: a change around the triggers."""
    assert project.folder is not None
    with sqlite3.connect(project.folder / "record.sqlite") as connection:
        triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        assert connection.execute(statement).rowcount >= 1
        for _, sql in triggers:
            connection.execute(sql)
    connection.close()


@pytest.mark.parametrize(
    ("statement", "seq", "where"),
    [
        ("UPDATE entry SET text = replace(text, '1.5', '9.5') WHERE seq = 7", 7, "entry"),
        ("UPDATE entry SET text = CAST(text AS BLOB) WHERE seq = 7", 7, "entry"),
        ("UPDATE entry SET digest = CAST(digest AS BLOB) WHERE seq = 7", 7, "entry"),
        ("UPDATE head SET digest = CAST(digest AS BLOB)", 17, "head"),
        ("UPDATE object SET data = CAST(data AS BLOB) WHERE ref = 'DN'", 2, "object DN"),
        ("UPDATE entry SET about = 'DN' WHERE seq = 9", 9, "entry"),
        ("UPDATE entry SET entered_by = 'Eve' WHERE seq = 9", 9, "entry"),
        ("UPDATE entry SET digest = replace(digest, substr(digest, 1, 1), 'x') WHERE seq = 6", 6, "entry"),
        ("DELETE FROM entry WHERE seq = 8", 9, "entry"),
        ("DELETE FROM entry WHERE seq = 17", 16, "head"),
        ("UPDATE work SET hours = '15' WHERE seq = 10", 10, "work 10"),
        ("DELETE FROM work WHERE seq = 10", 10, "work 10"),
        ("UPDATE object SET data = '{}' WHERE ref = 'DN-2101'", 3, "object DN-2101"),
        ("UPDATE object SET outdated = 1 WHERE ref = 'DN-2101'", 3, "object DN-2101"),
        ("UPDATE discrepancy SET state = 'closed'", 17, "discrepancy D17"),
        ("UPDATE head SET seq = 40", 17, "head"),
        ("UPDATE project SET name = 'Gull'", 1, "project"),
        ("UPDATE schema_version SET at = ''", 0, "schema_version 1"),
        ("INSERT INTO link SELECT project, 'DN', 'DN-2101', '', 0 FROM project", 0, "link DN DN-2101"),
        ("UPDATE words SET words = 'nothing' WHERE seq = 5", 5, "words 5"),
        ("UPDATE words_index_data SET block = zeroblob(9) WHERE id > 10", 0, "search"),
    ],
)
def test_a_change_is_found_and_located(filled: Project, statement: str, seq: int, where: str) -> None:
    assert check(filled).ok
    _change(filled, statement)
    report = check(filled)
    assert not report.ok
    assert (seq, where) in {(problem.seq, problem.where) for problem in report.problems}
    if where == "entry":
        assert report.first_bad == seq


def test_a_description_of_a_table_that_was_changed_is_found(filled: Project) -> None:
    assert filled.folder is not None
    with sqlite3.connect(filled.folder / "record.sqlite") as connection:
        connection.execute("DROP TRIGGER entry_no_delete")
    connection.close()
    assert [problem.where for problem in check(filled).problems] == ["schema entry_no_delete"]


def test_entries_can_not_be_changed_or_removed(project: Project) -> None:
    for statement in ("UPDATE entry SET role = 'helper'", "DELETE FROM entry"):
        with (
            pytest.raises(RibwrightError, match=r"never changed|permission denied"),
            project.store.write() as connection,
        ):
            connection.execute(text(statement))


def test_a_signed_seal_shows_that_the_whole_chain_was_rebuilt(filled: Project, tmp_path: Path) -> None:
    key = tmp_path / "elsewhere" / "seal.key"
    kept = sign_seal(filled, tmp_path / "seal.txt", key_file=key)
    assert key.stat().st_mode & 0o077 == 0
    record.add_entry(filled, actor=BUILDER, request_id="later", kind="note", body={"words": "later"})
    report = check(filled, kept)
    assert report.ok
    assert "entries 1 to 17 are the same" in report.against
    # Somebody makes the whole record again, consistent in itself.
    with create_project(tmp_path / "forged", name="Dunlin", actor=BUILDER, request_id="made") as forged:
        make_seam(forged)
        assert check(forged).ok
        assert [problem.where for problem in check(forged, kept).problems] == ["seal"]
    text_ = kept.read_text()
    kept.write_text(text_.replace("entries   17", "entries   16"))
    with pytest.raises(FormatError, match="signature"):
        check(filled, kept)
    kept.write_text("nothing")
    with pytest.raises(FormatError):
        check(filled, kept)


def test_a_seal_of_a_record_whose_end_was_cut_off(filled: Project, tmp_path: Path) -> None:
    assert filled.folder is not None
    copy = tmp_path / "copy"
    shutil.copytree(filled.folder, copy)
    record.add_entry(filled, actor=BUILDER, request_id="later", kind="note", body={"words": "later"})
    kept = sign_seal(filled, tmp_path / "seal.txt", key_file=tmp_path / "key")
    with open_project(copy) as older:
        report = check(older, kept)
    assert "cut off" in report.problems[0].what


def test_the_key_is_never_kept_in_the_project(filled: Project, tmp_path: Path) -> None:
    assert filled.folder is not None
    with pytest.raises(FormatError, match="hold the key"):
        sign_seal(filled, tmp_path / "s", key_file=filled.folder / "seal.key")


def test_the_seal_moves_with_every_entry(filled: Project) -> None:
    before = seal(filled)
    entry = record.add_entry(filled, actor=BUILDER, request_id="n", kind="note", body={"words": "x"})
    assert seal(filled) == f"{entry.seq}-{entry.digest}" != before


def test_settings_are_those_that_keep_what_was_acknowledged(folder_project: Project) -> None:
    with folder_project.store.write() as connection:
        read = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "foreign_keys", "trusted_schema", "busy_timeout")
        }
    assert read == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "trusted_schema": 0,
        "busy_timeout": 60000,
    }


def _rows(path: Path) -> object:
    """Oracle: every row of every table, read by nothing of ours; or that it can't be read."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    connection.text_factory = bytes
    try:
        names = [
            name.decode()
            for (name,) in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        ]
        tables = {
            name: sorted(map(repr, connection.execute(f'SELECT * FROM "{name}"')))
            for name in names
            if name
            not in ("words_index_data", "words_index_idx", "words_index_config", "words_index_content")
        }
        found = [
            sorted(connection.execute("SELECT rowid FROM words_index WHERE words_index MATCH ?", (w,)))
            for w in WORDS
        ]
        return tables, found
    except (sqlite3.DatabaseError, UnicodeDecodeError, ValueError):
        return "unreadable"
    finally:
        connection.close()


WORDS = ("work", "drilled", "ann", "seam", "15", "an426ad3", "refer")


def test_single_bytes_changed_at_random(filled: Project, tmp_path: Path) -> None:
    """Each changed byte that alters a row is found; the rest alters nothing anybody can see.

    Short form; 100,000 changes are made by benchmarks/record_bytes.py.
    """
    assert filled.folder is not None
    filled.close()
    from_file = filled.folder / "record.sqlite"
    content = from_file.read_bytes()
    folder = tmp_path / "changed"
    folder.mkdir()
    before = _rows(from_file)
    assert before != "unreadable"
    draw = random.Random(20260301)
    # A small project's pages are mostly empty: draw among the bytes that hold something.
    places = [at for at, byte in enumerate(content) if byte]
    altered = 0
    for _ in range(45):
        at = draw.choice(places)
        changed = bytearray(content)
        changed[at] ^= 1 << draw.randrange(8)
        (folder / "record.sqlite").write_bytes(changed)
        same = _rows(folder / "record.sqlite") == before
        try:
            with open_project(folder) as project:
                found = not check(project).ok
        except RibwrightError:
            found = True
        if not same:
            altered += 1
            assert found, f"byte {at}"
        for leftover in folder.glob("record.sqlite-*"):
            leftover.unlink()
    assert altered > 15


def test_a_torn_file_is_a_sentence(filled: Project, tmp_path: Path) -> None:
    assert filled.folder is not None
    filled.close()
    whole = (filled.folder / "record.sqlite").read_bytes()
    for size in (0, 10, 100, 4096, 20_000, len(whole) // 2):
        folder = tmp_path / f"torn{size}"
        folder.mkdir()
        (folder / "record.sqlite").write_bytes(whole[:size])
        try:
            with open_project(folder) as project:
                found = not check(project).ok
        except RibwrightError:
            found = True
        assert found, f"{size} bytes"
    noise = tmp_path / "noise"
    noise.mkdir()
    (noise / "record.sqlite").write_bytes(random.Random(1).randbytes(20_000))
    with pytest.raises(DiskError, match="torn"):
        open_project(noise)
