"""What is given on: its bill of materials, its licences, the same bytes from the same record, the version on paper."""

from __future__ import annotations

import importlib.util
import io
import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from PIL import Image

from filled import filled
from ribwright import __version__
from ribwright.services.backup import export_project
from ribwright.services.calculations import schema_of, toml_of
from ribwright.services.photo_overlay import _jpeg
from seams import REF

ROOT = Path(__file__).parents[2]


def _script(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, ROOT / "scripts" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


@pytest.fixture(scope="module")
def bom() -> ModuleType:
    return _script("bill_of_materials")


def test_every_package_that_is_needed_is_on_the_bill_under_a_free_licence(bom: ModuleType) -> None:
    made, wrong = bom.bill("ribwright", ("postgres",))
    assert wrong == []
    named = {part["name"] for part in made["components"]}
    # named in pyproject; needed by one of those; of an optional part
    assert {"click", "numba", "pi-heif", "llvmlite", "h11", "psycopg"} <= named
    assert "pytest" not in named
    assert made["metadata"]["component"]["version"] == __version__


@pytest.mark.parametrize(
    "licence", ["", "GPL-3.0-only", "MIT AND GPL-2.0", "Proprietary", "AGPL-3.0 OR Commercial"]
)
def test_a_licence_that_is_unknown_or_not_free_is_refused(bom: ModuleType, licence: str) -> None:
    assert not bom.is_free(licence)


@pytest.mark.parametrize(
    "licence", ["MIT", "GPL-3.0-only OR MIT", "(MIT AND BSD-3-Clause)", "Apache-2.0 WITH LLVM-exception"]
)
def test_a_free_one_is_taken(bom: ModuleType, licence: str) -> None:
    assert bom.is_free(licence)


def test_a_packet_made_twice_is_the_same_bytes_and_names_the_version(tmp_path: Path) -> None:
    filled(tmp_path / "p").close()
    made = []
    for number in ("1", "5"):  # seeds under which the DXF writer's own sets are in another order
        out = tmp_path / f"{number}.pdf"
        command = [
            sys.executable,
            "-m",
            "ribwright",
            "packet",
            REF,
            "--dxf",
            "--project",
            str(tmp_path / "p"),
        ]
        subprocess.run(
            [*command, "--out", str(out)], check=True, capture_output=True,
            env=os.environ | {"PYTHONHASHSEED": number, "TZ": f"UTC+{number[0]}"}, cwd=tmp_path,
        )  # fmt: skip
        made.append([out.read_bytes(), *(path.read_bytes() for path in sorted(tmp_path.glob("*.dxf")))])
    assert len(made[0]) > 1
    assert made[0] == made[1]
    assert f"Ribwright {__version__}".encode() in made[0][0]


def test_a_schema_is_named_with_its_version() -> None:
    assert schema_of("seam")["$id"] == "urn:ribwright:calculation:seam:1"
    assert schema_of("seam")["$comment"] == f"ribwright {__version__}"


def test_written_out_records_drawing_data_and_kept_pictures_name_the_version(tmp_path: Path) -> None:
    made_by = f"ribwright {__version__}"
    with filled(tmp_path / "p") as project:
        export_project(project, tmp_path / "out")
    assert made_by in (tmp_path / "out" / "READ-ME.txt").read_text(encoding="utf-8")
    assert toml_of({"pitch": "1.0"}) == f'# {made_by}\npitch = "1.0"\n'
    kept = _jpeg(np.full((40, 60, 3), 200, np.uint8), 88)
    picture = Image.open(io.BytesIO(kept))
    assert (picture.size, picture.info["comment"]) == ((60, 40), made_by.encode())


def test_no_input_breaks_its_promise_without_a_higher_version() -> None:
    promises = _script("promises")
    kept, now = json.loads(promises.KEPT.read_text(encoding="utf-8")), promises.current()
    assert promises.faults(kept, now) == []
    assert kept == now, "promised anew: run scripts/promises.py"


_FIELD = {"must": False, "unit": "in", "low": 0, "high": 5, "choices": ["a", "b"]}
_BREAKS: dict[str, tuple[dict[str, Any], str]] = {
    "gone": ({}, "x is gone"),
    "another unit": ({"x": _FIELD | {"unit": "mm"}}, "was in 'in'"),
    "must": ({"x": _FIELD | {"must": True}}, "must now be entered"),
    "choice": ({"x": _FIELD | {"choices": ["b"]}}, "no longer be 'a'"),
    "low": ({"x": _FIELD | {"low": 1}}, "as small"),
    "high": ({"x": _FIELD | {"high": 4}}, "as large"),
    "a new field that must be": ({"x": _FIELD, "y": {"must": True}}, "y must now be entered"),
    "rows": ({"x": _FIELD, "r": {"must": False, "rows": {}}}, "r.c is gone"),
}


@pytest.mark.parametrize("how", _BREAKS)
def test_a_broken_promise_is_named_unless_the_version_went_up(how: str) -> None:
    promises = _script("promises")
    fields, says = _BREAKS[how]
    before = {
        "calc": {
            "version": 1,
            "fields": {"x": _FIELD}
            | ({"r": {"must": False, "rows": {"c": {"must": False}}}} if how == "rows" else {}),
        }
    }
    (fault,) = promises.faults(before, {"calc": {"version": 1, "fields": fields}})
    assert says in fault
    assert promises.faults(before, {"calc": {"version": 2, "fields": fields}}) == []
    wider = {"x": _FIELD | {"choices": ["a", "b", "c"], "low": -1, "high": 9}, "z": {"must": False}}
    if how != "rows":
        assert promises.faults(before, {"calc": {"version": 1, "fields": wider}}) == []


def test_what_the_command_line_answers_names_the_version() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "ribwright", "calc", "bend-flat", "--schema"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "made_by" not in json.loads(done.stdout)  # a schema is named by its own version
    done = subprocess.run(
        [sys.executable, "-m", "ribwright", "calc", "--list", "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert json.loads(done.stdout)["made_by"] == f"ribwright {__version__}"
