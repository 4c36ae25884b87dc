"""House rules about errors, commands, imports and the comparator."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

import ribwright
from ribwright import errors
from ribwright.cli.errors import EXIT_CODES, exit_code

SRC = Path(ribwright.__file__).parent


def tree(cls: type) -> list[type]:
    return [cls, *(sub for child in cls.__subclasses__() for sub in tree(child))]


CLASSES = tree(errors.RibwrightError)


@pytest.mark.parametrize("cls", CLASSES, ids=lambda c: c.__name__)
def test_error_is_drawn_in_the_tree_and_maps_to_an_exit_code(cls: type[errors.RibwrightError]) -> None:
    assert cls.__name__ in (errors.__doc__ or "")
    made = cls("thickness", found="x", allowed="y", mend="Do z")
    assert made.sentence().startswith("thickness: ")
    for part in ("x", "y", "Do z."):
        assert part in made.sentence()
    assert 1 < exit_code(made) < 131
    assert set(made.as_dict()) == {"code", "message", "field", "found", "allowed", "mend"}


def test_error_codes_are_unique() -> None:
    codes = [cls.code for cls in CLASSES]
    assert len(set(codes)) == len(codes)


def test_every_mapped_error_exists() -> None:
    assert set(EXIT_CODES) <= set(CLASSES)


def test_only_the_comparator_holds_a_value_against_a_limit() -> None:
    """No module outside core/bench builds a Verdict or compares with a requirement's limit."""
    offenders = []
    for path in SRC.rglob("*.py"):
        if "core/bench" in path.as_posix():
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            if re.search(
                r"[<>]=?\s*\w*requirement\w*\.(low|high)\b|\brequirement\w*\.(low|high)\s*[<>]", line
            ):
                offenders.append(f"{path.relative_to(SRC)}:{number}")
    assert not offenders, offenders


@pytest.mark.parametrize("name", ["seam"])
def test_running_one_calculation_imports_no_heavy_library(name: str, tmp_path: Path) -> None:
    probe = (
        "import sys, json\n"
        "from ribwright.services.calculations import run_calculation\n"
        "raw = json.loads(sys.argv[1])\n"
        f"run_calculation({name!r}, raw)\n"
        "print(json.dumps(sorted(m for m in ('numba', 'scipy', 'cv2', 'sqlalchemy', 'reportlab', 'ezdxf', 'shapely') if m in sys.modules)))"
    )
    raw = {
        "title": "t", "first": "1", "last": "5",
        "layers": [{"part": "a", "thickness": ".020"}, {"part": "b", "thickness": ".032"}],
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-c", probe, json.dumps(raw)], capture_output=True, text=True, check=True
    )
    assert json.loads(done.stdout) == []


def test_no_file_says_where_it_was_made() -> None:
    """No path of the machine at hand in anything that is shipped."""
    root = SRC.parents[1]
    tracked = subprocess.run(["git", "ls-files"], cwd=root, capture_output=True, text=True)
    if tracked.returncode:
        pytest.fail("git must be able to list the files")
    bad = re.compile("|".join(re.escape(f"{path}/") for path in {root, Path.home()} if path != Path("/")))
    offenders = []
    for name in tracked.stdout.splitlines():
        path = root / name
        if (
            path.suffix in (".py", ".md", ".toml", ".json", ".html", ".css", ".js", ".sh")
            and "vendor" not in name
            and path.exists()
        ):
            if name == "tests/architecture/test_house.py":
                continue
            if bad.search(path.read_text(encoding="utf-8")):
                offenders.append(name)
    assert not offenders, offenders
