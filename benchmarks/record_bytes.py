"""Single bytes of a project file changed at random: what alters a row is found, the rest alters nothing.

``python benchmarks/record_bytes.py --changes 100000 --state bytes.json``

The oracle is a dump of all rows, and answers to a few searches, by the standard library alone. For
comparison the same changes are given to SQLite's own integrity check, and to the chain alone.
Half of the changes go to bytes that are not zero: a small project's pages are mostly empty.
Resumable: the state file keeps the counts.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import shutil
import sqlite3
import tempfile
import time
from pathlib import Path

from figures import figure

from ribwright.errors import RibwrightError
from ribwright.services import amending, record
from ribwright.services.project import Actor, create_project, open_project
from ribwright.services.seals import check

BUILDER = Actor("Ann Bell")
WORDS = ("work", "note", "ann", "seam", "15", "an426ad3", "refer", "rib", "dimpled")
_NOT_ROWS = ("words_index_data", "words_index_idx", "words_index_config", "words_index_docsize")


def make_project(folder: Path) -> bytes:
    """A small project with every kind of row; returns its file."""
    with create_project(folder, name="Dunlin", actor=BUILDER, request_id="made") as project:
        items = [
            record.new_object("part", f"DN-{n}", {"thickness": ".020"}, title=f"rib {n}") for n in range(8)
        ]
        items.append(record.new_object("aircraft", "DN", {}))
        items += [
            record.new_object(
                "operation", f"DN-{n}/seam", {"rivet": "AN426AD3"}, parent=f"DN-{n}", made_from=[f"DN-{n}"]
            )
            for n in range(8)
        ]
        for n in range(8):
            about = f"DN-{n}/seam"
            items += [
                record.NewEntry("work", {"hours": "1.5", "stage": "drill"}, about),
                record.NewEntry("note", {"words": f"dimpled the rib {n}"}, about),
                record.NewEntry(
                    "reading", {"requirement": "shop head", "value": ".141", "unit": "in", "u": ".001"}, about
                ),
                record.NewEntry(
                    "finding", {"requirement": "edge", "verdict": "refer", "reason": "short"}, about
                ),
                record.NewEntry("material", {"item": "AN426AD3-4", "lot": "L7"}, about),
                record.NewEntry("question", {"words": "May it stay?"}, about),
            ]
        record.add_entries(project, actor=BUILDER, request_id="all", items=items)
        amending.sign(project, actor=BUILDER, request_id="s", about="DN")
        record.set_object(
            project, actor=BUILDER, request_id="o", noun="part", ref="DN-1", data={"thickness": ".025"}
        )
    return (folder / "record.sqlite").read_bytes()


def dump(path: Path) -> object:
    """Every row of every table and some searches; "unreadable" when SQLite refuses."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    connection.text_factory = bytes
    try:
        names = [
            row[0].decode()
            for row in connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")
        ]
        rows = {
            name: sorted(map(repr, connection.execute(f'SELECT * FROM "{name}"')))
            for name in names
            if name not in _NOT_ROWS
        }
        hits = [
            sorted(connection.execute("SELECT rowid FROM words_index WHERE words_index MATCH ?", (w,)))
            for w in WORDS
        ]
        return rows, hits
    except (sqlite3.Error, UnicodeDecodeError, ValueError):
        return "unreadable"
    finally:
        connection.close()


def sqlite_finds(path: Path) -> bool:
    """What SQLite's own integrity check says."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    connection.text_factory = bytes
    try:
        return connection.execute("PRAGMA integrity_check(1)").fetchone()[0] != b"ok"
    except (sqlite3.Error, UnicodeDecodeError):
        return True
    finally:
        connection.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=100_000)
    parser.add_argument("--state", type=Path, default=Path("record_bytes.json"))
    arguments = parser.parse_args()
    state = {
        "done": 0, "altered": 0, "found": 0, "located": 0, "missed": 0,
        "unaltered": 0, "false_alarms": 0, "integrity_check_missed": 0, "missed_at": [],
    }  # fmt: skip
    if arguments.state.exists():
        state = json.loads(arguments.state.read_text())
    base = Path(tempfile.mkdtemp(prefix="record-bytes-"))
    kept = arguments.state.with_suffix(".sqlite")
    if not kept.exists():
        kept.write_bytes(make_project(base / "project"))
    content = kept.read_bytes()
    folder = base / "changed"
    folder.mkdir()
    path = folder / "record.sqlite"
    path.write_bytes(content)
    before = dump(path)
    project = open_project(folder)
    filled = [at for at, byte in enumerate(content) if byte]
    ours_s = sqlite_s = read_s = 0.0
    looked = 0
    for number in range(state["done"], arguments.changes):
        draw = random.Random(f"byte {number}")
        at = draw.choice(filled) if number % 2 else draw.randrange(len(content))
        value = draw.choice([v for v in range(256) if v != content[at]])
        path.write_bytes(content[:at] + bytes([value]) + content[at + 1 :])
        after = dump(path)
        began = time.process_time()
        by_sqlite = sqlite_finds(path)
        between = time.process_time()
        hashlib.sha256(path.read_bytes()).digest()
        sqlite_s, read_s = sqlite_s + between - began, read_s + time.process_time() - between
        located = False
        began = time.process_time()
        try:
            # Connections are given back, statements stay compiled: three times as fast as opening it anew.
            project.store.engine.dispose()
            problems = check(project).problems
            found = bool(problems)
            located = any(problem.where != "file" for problem in problems)
        except RibwrightError:
            found = located = True  # refused with a sentence that names the file
        ours_s, looked = ours_s + time.process_time() - began, looked + 1
        if after != before:
            state["altered"] += 1
            state["found"] += found
            state["located"] += located
            state["integrity_check_missed"] += not by_sqlite
            if not found:
                state["missed"] += 1
                state["missed_at"].append([number, at, value])
        else:
            state["unaltered"] += 1
            state["false_alarms"] += found
        project.store.engine.dispose()
        for leftover in folder.glob("record.sqlite-*"):
            leftover.unlink()
        state["done"] = number + 1
        if state["done"] % 200 == 0:
            arguments.state.write_text(json.dumps(state))
            print(
                f"\r{ {name: value for name, value in state.items() if name != 'missed_at'} }",
                end="",
                flush=True,
            )
    arguments.state.write_text(json.dumps(state))
    print(f"\n{state}")
    if looked:
        each = 1000 / looked
        figure(
            "a changed record checked", ours_s * each, "ms of a core", floor=("the file read and hashed", read_s * each),
            against=(f"SQLite's integrity check, which missed {state['integrity_check_missed']} of {state['altered']}", sqlite_s * each),
        )  # fmt: skip
    project.close()
    shutil.rmtree(base, ignore_errors=True)


if __name__ == "__main__":
    main()
