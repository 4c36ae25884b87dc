"""What is compiled before the first photo is all that measuring compiles: nobody waits for the rest."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

DATA = Path(__file__).parents[1] / "data" / "photo"
TRIED = """
import importlib, sys
from pathlib import Path
from ribwright.services.photo_measure import measure_profile_photo, measure_row_photo, read_json, warm

def compiled():
    modules = [importlib.import_module(f"ribwright.core.metrology.{n}_compiled") for n in ("camera", "light", "paths", "row")]
    return {
        f"{name} {signature}"
        for module in modules
        for name, one in vars(module).items()
        for signature in getattr(one, "signatures", ())
    }

warm()
before = compiled()
folder = Path(sys.argv[1])
for name, ending, measure in (
    ("a01", "card", measure_profile_photo), ("b02", "strip", measure_row_photo), ("b04", "strip", measure_row_photo)
):
    layout, typed = (read_json(folder / f"{name}.{e}.json", e) for e in (ending, "input"))
    assert measure(folder / f"{name}.jpg", layout=layout, typed=typed)["quality"]
assert len(before) >= 8, before
assert compiled() == before, compiled() ^ before
"""


def test_the_first_photo_waits_for_no_compiling() -> None:
    done = subprocess.run(
        [sys.executable, "-c", TRIED, str(DATA)], capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
