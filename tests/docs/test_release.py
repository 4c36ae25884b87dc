"""What is given on: its bill of materials, its licences, the same bytes from the same record, the version on paper."""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from filled import filled
from ribwright import __version__
from ribwright.services.calculations import schema_of
from seams import REF

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def bom() -> ModuleType:
    spec = importlib.util.spec_from_file_location("bill", ROOT / "scripts" / "bill_of_materials.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


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
