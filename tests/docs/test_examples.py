"""README and guide are executed: every fenced TOML is entered, every `ribwright` line is run."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from ribwright.services.calculations import run_calculation
from ribwright.services.dunlin import make_dunlin
from ribwright.services.project import Actor

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs" / "guide").glob("*.md"))]
FENCE = re.compile(r"^```(\w+)\n(.*?)^```", re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_every_toml_on_the_page_is_answered(page: Path) -> None:
    for kind, text in FENCE.findall(page.read_text(encoding="utf-8")):
        if kind == "toml":
            run_calculation("seam", tomllib.loads(text))


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_every_command_on_the_page_runs(page: Path, tmp_path: Path) -> None:
    environment = os.environ | {"RIBWRIGHT_PROJECT": ""}
    if page.stem == "README":  # its commands stand after ./run, which makes the demonstration
        make_dunlin(tmp_path / "dunlin", actor=Actor("builder"), request_id="demo").close()
    for kind, text in FENCE.findall(page.read_text(encoding="utf-8")):
        if kind != "sh":
            continue
        for line in text.strip().splitlines():
            words = shlex.split(line, comments=True)
            if not words or not words[0].endswith("ribwright") or "serve" in words:
                continue
            words = [str(ROOT / w) if w.startswith("docs/") else w for w in words[1:]]
            done = subprocess.run(
                [sys.executable, "-m", "ribwright", *words],
                cwd=tmp_path,
                env=environment,
                capture_output=True,
                text=True,
            )
            assert done.returncode == 0, f"{line}\n{done.stderr}"


def test_every_link_on_the_page_leads_somewhere() -> None:
    for page in [*PAGES, ROOT / "ARCHITECTURE.md", ROOT / "CONTRIBUTING.md", ROOT / "docs" / "physics.md"]:
        for target in re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8")):
            if "://" not in target:
                assert (page.parent / target).exists(), f"{page.name}: {target}"
