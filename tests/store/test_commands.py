"""The record and the project on the command line."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path

import pytest

from ribwright.cli.app import run


@pytest.fixture
def ribwright(capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Runs a command line; gives its exit code and what it printed."""
    monkeypatch.setenv("RIBWRIGHT_PROJECT", str(tmp_path / "dunlin"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "settings"))

    def ran(*arguments: str) -> tuple[int, str]:
        with pytest.raises(SystemExit) as leaving:
            run([*arguments])
        printed = capsys.readouterr()
        return int(leaving.value.code or 0), printed.out + printed.err

    assert ran("project", "new", str(tmp_path / "dunlin"), "--name", "Dunlin")[0] == 0
    return ran


def data(answer: tuple[int, str]) -> dict[str, object]:
    assert answer[0] == 0, answer[1]
    return dict(json.loads(answer[1]))


def test_a_note_is_entered_once_found_and_taken_back(ribwright) -> None:
    for _ in range(2):
        made = data(
            ribwright("record", "note", "Deburred the ribs", "--by", "Ann", "--request", "n1", "--json")
        )
    assert made["entry"] == 2
    found = data(ribwright("record", "search", "deb", "--json"))
    assert [entry["entry"] for entry in found["entries"]] == [2]  # type: ignore[attr-defined]
    assert ribwright("record", "undo", "2", "--because", "wrong part")[0] == 0
    recent = data(ribwright("record", "recent", "--json"))
    assert recent["entries"][1]["undone_by"] == 3  # type: ignore[index]
    assert "taken back by entry 3" in ribwright("record", "recent")[1]
    assert ribwright("record", "undo", "2")[0] == 6
    assert ribwright("record", "history", "no such part")[0] == 3


def test_a_helper_can_not_take_back_what_is_another_s(ribwright) -> None:
    ribwright("record", "note", "x", "--by", "Ann")
    code, said = ribwright("record", "undo", "2", "--by", "Tom", "--role", "helper")
    assert code == 6
    assert "Ann" in said


def test_the_check_says_what_differs_by_its_exit_code(ribwright, tmp_path: Path) -> None:
    assert data(ribwright("record", "check", "--json"))["ok"] is True
    assert ribwright("record", "seal", "--signed", str(tmp_path / "seal.txt"))[0] == 0
    assert "your key" in ribwright("record", "check", "--against", str(tmp_path / "seal.txt"))[1]
    with sqlite3.connect(tmp_path / "dunlin" / "record.sqlite") as connection:
        connection.execute("UPDATE object SET title = 'Gull'")
    connection.close()
    code, said = ribwright("record", "check")
    assert code == 5
    assert "title: stored 'Gull', by the entries 'Dunlin'" in said
    code, said = ribwright("record", "check", "--json")
    assert code == 5
    assert json.loads(said)["first_bad"] == 1


def test_a_project_moves(ribwright, tmp_path: Path) -> None:
    seal = data(ribwright("project", "where", "--json"))["seal"]
    assert data(ribwright("project", "export", str(tmp_path / "out"), "--json"))["seal"] == seal
    assert (
        data(ribwright("project", "import", str(tmp_path / "out"), str(tmp_path / "in"), "--json"))["seal"]
        == seal
    )
    copy = data(ribwright("project", "backup", "--to", str(tmp_path / "disk"), "--json"))["copy"]
    assert data(ribwright("project", "restore", str(copy), str(tmp_path / "again"), "--json"))["seal"] == seal
    assert ribwright("project", "new", str(tmp_path / "in"))[0] == 4
    (tmp_path / "out" / "entries.jsonl").write_text("{}\n")
    assert ribwright("project", "import", str(tmp_path / "out"), str(tmp_path / "bad"))[0] in (3, 5)
    assert not (tmp_path / "bad").exists()


def test_photos_by_the_folder(ribwright, tmp_path: Path) -> None:
    from PIL import Image

    folder = tmp_path / "camera"
    folder.mkdir()
    Image.new("RGB", (40, 30)).save(folder / "a.jpg")
    (folder / "b.jpg").write_bytes(b"nothing")
    listed = data(ribwright("record", "photos", str(folder), "--json"))["photos"]
    assert [bool(row["problem"]) for row in listed] == [False, True]  # type: ignore[attr-defined]
    assert data(ribwright("record", "photo", str(folder / "a.jpg"), "--json"))["kind"] == "photo"
    assert ribwright("record", "photo", str(folder / "b.jpg"))[0] == 3
