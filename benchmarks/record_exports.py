"""Exports changed at random: refused with a sentence, or imported whole; never half.

``python benchmarks/record_exports.py --changes 10000 --state exports.json``; resumable.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import tempfile
from pathlib import Path

from ribwright.errors import RibwrightError
from ribwright.services.backup import export_project, import_project
from ribwright.services.photos import add_photo
from ribwright.services.project import Actor, open_project
from ribwright.services.seals import check, seal

BUILDER = Actor("Ann Bell")


def change(draw: random.Random, content: bytes) -> bytes:
    """One change: a bit, a piece cut out, noise put in, the end cut off, lines doubled or shuffled."""
    at, how = draw.randrange(max(1, len(content))), draw.randrange(6)
    if how == 0:
        return content[:at] + bytes([content[at] ^ (1 << draw.randrange(8))]) + content[at + 1 :]
    if how == 1:
        return content[:at] + content[at + draw.randint(1, 60) :]
    if how == 2:
        return content[:at] + draw.randbytes(draw.randint(1, 9)) + content[at:]
    if how == 3:
        return content[:at]
    lines = content.splitlines(keepends=True)
    if how == 4:
        lines.insert(draw.randrange(len(lines) + 1), draw.choice(lines))
    else:
        draw.shuffle(lines)
    return b"".join(lines)


def main() -> None:
    import hashlib
    import io
    import sqlite3
    import sys
    import time

    from figures import figure
    from PIL import Image

    sys.path.insert(0, str(Path(__file__).parent))
    from record_bytes import make_project

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--changes", type=int, default=10_000)
    parser.add_argument("--state", type=Path, default=Path("record_exports.json"))
    arguments = parser.parse_args()
    state = {"done": 0, "refused": 0, "whole": 0, "half": 0, "traceback": 0}
    if arguments.state.exists():
        state = json.loads(arguments.state.read_text())
    base = Path(tempfile.mkdtemp(prefix="record-exports-"))
    make_project(base / "project")
    out = io.BytesIO()
    Image.new("RGB", (48, 32), (120, 90, 60)).save(out, "JPEG")
    with open_project(base / "project") as project:
        add_photo(project, actor=BUILDER, request_id="p", content=out.getvalue(), about="DN-1")
        folder, right = export_project(project, base / "export"), seal(project)
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != "READ-ME.txt")
    ours_s = read_s = plain_s = 0.0
    looked = 0
    for number in range(state["done"], arguments.changes):
        draw = random.Random(f"export {number}")
        path = draw.choice(files)
        content = path.read_bytes()
        path.write_bytes(change(draw, content))
        target = base / "target"
        began = time.process_time()
        texts = [one.read_bytes() for one in files]
        for text in texts:
            hashlib.sha256(text).digest()
        read_s, began = read_s + time.process_time() - began, time.process_time()
        with sqlite3.connect(":memory:") as plain:  # the same lines put in a table, unlooked at
            plain.execute("CREATE TABLE line (content)")
            plain.executemany(
                "INSERT INTO line VALUES (?)", ((one,) for text in texts for one in text.splitlines())
            )
        plain_s, began = plain_s + time.process_time() - began, time.process_time()
        try:
            with import_project(folder, target) as made:
                same = seal(made) == right and check(made).ok
            state["whole" if same else "half"] += 1
        except RibwrightError:
            state["half" if target.exists() else "refused"] += 1
        except Exception as error:
            state["traceback"] += 1
            print(number, repr(error))
        ours_s, looked = ours_s + time.process_time() - began, looked + 1
        shutil.rmtree(target, ignore_errors=True)
        path.write_bytes(content)
        state["done"] = number + 1
        if state["done"] % 100 == 0:
            arguments.state.write_text(json.dumps(state))
            print(f"\r{state}", end="", flush=True)
    arguments.state.write_text(json.dumps(state))
    print(f"\n{state}")
    if looked:
        each = 1000 / looked
        figure(
            "a changed export refused or taken in whole", ours_s * each, "ms of a core", floor=("its files read and hashed", read_s * each),
            against=("sqlite3, its lines put in a table unlooked at", plain_s * each),
        )  # fmt: skip
    shutil.rmtree(base, ignore_errors=True)


if __name__ == "__main__":
    main()
