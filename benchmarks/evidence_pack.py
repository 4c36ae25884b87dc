"""The evidence pack at size: 200 pages with 300 photos, its time and its bytes; the floor first.

Floor: the 300 report copies read from the project and written to one file. `python benchmarks/evidence_pack.py`.
"""

from __future__ import annotations

import io
import itertools
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import numpy as np
import pypdfium2
from figures import figure
from PIL import Image

from ribwright.services.dunlin import make_dunlin
from ribwright.services.evening import BUILDER
from ribwright.services.evidence import write_pack
from ribwright.services.flap import close_left_flap
from ribwright.services.photos import add_photo, photo_content
from ribwright.services.record import NewEntry, add_entries, objects, photos

PHOTOS = 300


def pictures() -> Iterator[bytes]:
    """Different pictures without end, of the size and grain of a photo: the report copies take 200 to 350 kB."""
    rng = np.random.default_rng(1)
    small = rng.integers(60, 200, (60, 80, 3), dtype=np.uint8)
    smooth = np.asarray(Image.fromarray(small).resize((1600, 1200), Image.Resampling.BICUBIC)).astype(
        np.float64
    )
    grain = rng.normal(0, 2.5, smooth.shape[:2])[:, :, None]
    whole = np.clip(smooth + grain, 0, 255).astype(np.uint8)
    for number in count():
        out = io.BytesIO()
        Image.fromarray(np.roll(whole, (37 * number, 53 * number), (0, 1))).save(out, "JPEG", quality=85)
        yield out.getvalue()


def measured(seams: list[str]) -> list[NewEntry]:
    """Readings with their findings, so that the pack comes to the pages of a finished airframe."""
    said = []
    for ref in seams:
        said.append(
            NewEntry(
                "reading",
                {
                    "requirement": "formed head diameter",
                    "value": ".131",
                    "unit": "in",
                    "u": ".001",
                    "stage": "rivet",
                },
                ref,
            )
        )
        said.append(
            NewEntry("finding", {"requirement": "formed head diameter", "verdict": "within limits", "reason": "1.40 of 1.30 to 1.60", "stage": "rivet"}, ref)
        )  # fmt: skip
    return said


def main() -> None:
    """Make the project, the floor, the pack."""
    with (
        tempfile.TemporaryDirectory() as folder,
        make_dunlin(Path(folder) / "p", actor=BUILDER, request_id="d") as project,
    ):
        close_left_flap(project)
        seams = [one.ref for one in objects(project, noun="operation")]
        add_entries(project, actor=BUILDER, request_id="m", items=measured(seams))
        began = time.process_time()
        for n, content in zip(range(PHOTOS), pictures(), strict=False):
            add_photo(
                project, actor=BUILDER, request_id=f"p{n}", content=content, about=seams[2 * n % len(seams)], caption=f"photo {n}"
            )  # fmt: skip
        print(f"photos made and taken in: {time.process_time() - began:.1f} s of a core for {PHOTOS}")
        began = time.perf_counter()
        copies = b"".join(
            photo_content(project, str(one["report"]))[0] for one in photos(project) if one["report"]
        )
        (Path(folder) / "floor").write_bytes(copies)
        floor = time.perf_counter() - began
        print(f"floor, report copies read and written: {floor:.3f} s, {len(copies) / 1e6:.1f} MB")
        for number in (1, 2):
            began, cpu = time.perf_counter(), time.process_time()
            pack = write_pack(project, Path(folder) / f"pack{number}")
            took, core = time.perf_counter() - began, time.process_time() - cpu
            size = pack.pdf.stat().st_size / 1e6
            pages = len(pypdfium2.PdfDocument(pack.pdf))
            print(
                f"pack {number}: {core:.2f} s of a core, {took:.2f} s by the clock (x{took / floor:.1f} of the floor), {pages} pages, PDF {size:.1f} MB"
            )
        began = time.process_time()
        for content in itertools.islice(pictures(), 5):
            with Image.open(io.BytesIO(content)) as whole:
                whole.resize((1200, 900)).save(io.BytesIO(), "JPEG", quality=85)
        reduced = (time.process_time() - began) / 5
        figure(
            "evidence pack of 300 photos", core, "s of a core", floor=("report copies read and written", floor),
            against=("photos reduced when it is made, from 5 of them", core + PHOTOS * reduced),
        )  # fmt: skip
    sys.stdout.flush()


if __name__ == "__main__":
    main()
