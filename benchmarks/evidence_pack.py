"""The evidence pack at size: 200 pages with 300 photos, its time and its bytes; the floor first.

Floor: the 300 report copies read from the project and written to one file. `python benchmarks/evidence_pack.py`.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pypdfium2
from PIL import Image

from ribwright.services.dunlin import make_dunlin
from ribwright.services.evening import BUILDER
from ribwright.services.evidence import write_pack
from ribwright.services.flap import close_left_flap
from ribwright.services.photos import add_photo, photo_content
from ribwright.services.record import objects, photos

PHOTOS = 300


def photo(number: int) -> bytes:
    """A picture with enough grain that it does not vanish in compression."""
    rng = np.random.default_rng(number)
    small = rng.integers(60, 200, (60, 80, 3), dtype=np.uint8)
    image = Image.fromarray(small).resize((1600, 1200), Image.Resampling.BICUBIC)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=85)
    return out.getvalue()


def main() -> None:
    """Make the project, the floor, the pack."""
    with (
        tempfile.TemporaryDirectory() as folder,
        make_dunlin(Path(folder) / "p", actor=BUILDER, request_id="d") as project,
    ):
        close_left_flap(project)
        seams = [one.ref for one in objects(project, noun="operation")]
        pictures = [photo(n) for n in range(12)]
        began = time.perf_counter()
        for n in range(PHOTOS):
            add_photo(
                project, actor=BUILDER, request_id=f"p{n}", content=pictures[n % 12] + n.to_bytes(4, "big"), about=seams[n % len(seams)], caption=f"photo {n}"
            )  # fmt: skip
        print(f"photos taken in: {time.perf_counter() - began:.1f} s for {PHOTOS}")
        began = time.perf_counter()
        copies = b"".join(
            photo_content(project, str(one["report"]))[0] for one in photos(project) if one["report"]
        )
        (Path(folder) / "floor").write_bytes(copies)
        floor = time.perf_counter() - began
        print(f"floor, report copies read and written: {floor:.3f} s, {len(copies) / 1e6:.1f} MB")
        for number in (1, 2):
            began = time.perf_counter()
            pack = write_pack(project, Path(folder) / f"pack{number}")
            took = time.perf_counter() - began
            size = pack.pdf.stat().st_size / 1e6
            pages = len(pypdfium2.PdfDocument(pack.pdf))
            print(
                f"pack {number}: {took:.2f} s (x{took / floor:.1f} of the floor), {pages} pages, PDF {size:.1f} MB"
            )
    sys.stdout.flush()


if __name__ == "__main__":
    main()
