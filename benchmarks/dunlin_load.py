"""Loading the Dunlin at scale 1, 10 and 100: the script alone, then into a project; floor: the same texts hashed and inserted.

python benchmarks/dunlin_load.py [1 10 100]
"""

from __future__ import annotations

import json
import sqlite3
import sys
import tempfile
import time
from hashlib import sha256
from pathlib import Path

from figures import figure

from ribwright.dunlin import dunlin
from ribwright.services.dunlin import make_dunlin
from ribwright.services.project import Actor, create_project
from ribwright.services.record import set_object


def main() -> None:
    """Print one line a scale: objects, floor, script, load, ratio to the floor."""
    for scale in [int(text) for text in sys.argv[1:]] or [1, 10]:
        start = time.perf_counter()
        things = dunlin(scale=scale)
        script = time.perf_counter() - start
        texts = [
            json.dumps([t.noun, t.ref, t.parent, t.title, t.hand, t.data, t.made_from], sort_keys=True)
            for t in things
        ]
        with tempfile.TemporaryDirectory() as folder:
            start = time.perf_counter()
            with sqlite3.connect(Path(folder) / "floor.db") as floor_file:
                floor_file.execute("create table entry (ref text primary key, digest text, body text)")
                rows = [
                    (t.ref, sha256(text.encode()).hexdigest(), text)
                    for t, text in zip(things, texts, strict=True)
                ]
                floor_file.executemany("insert into entry values (?, ?, ?)", rows)
            floor_file.close()
            floor = time.perf_counter() - start
            start = time.perf_counter()
            make_dunlin(Path(folder) / "p", actor=Actor("builder"), request_id="bench", scale=scale).close()
            load = time.perf_counter() - start
        with tempfile.TemporaryDirectory() as folder:
            few = [t for t in things if not t.made_from][:60]
            with create_project(
                Path(folder) / "p", name="one by one", actor=Actor("builder"), request_id="b"
            ) as project:
                start = time.perf_counter()
                for number, t in enumerate(few):
                    set_object(project, actor=Actor("builder"), request_id=f"r{number}", noun=t.noun, ref=t.ref, data=dict(t.data), title=t.title)  # fmt: skip
                each = (time.perf_counter() - start) / len(few)
        figure(
            f"{len(things):,} objects made and loaded", load, "s", floor=("the same texts hashed and inserted", floor),
            against=(f"one transaction each, from {len(few)}", each * len(things)),
        )  # fmt: skip
        print(
            f"scale {scale:>3}: {len(things):>7} objects; floor {floor:.2f} s; script {script:.2f} s; "
            f"made and loaded {load:.2f} s, {load / floor:.1f} times the floor, {len(things) / load:.0f} objects/s"
        )


if __name__ == "__main__":
    main()
