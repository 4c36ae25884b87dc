"""A program killed in the middle of a photo leaves a folder; the next takes it away, and none that is in use."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from ribwright.services import passing

HOLDER = """
import sys
from ribwright.services.passing import passing_folder
with passing_folder() as folder:
    (folder / "photo").write_bytes(b"x" * 100)
    print(folder, flush=True)
    sys.stdin.read()
"""


def _holder(where: Path) -> tuple[subprocess.Popen[str], Path]:
    made = subprocess.Popen(
        [sys.executable, "-c", HOLDER], env=os.environ | {"TMPDIR": str(where)}, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    assert made.stdout is not None
    return made, Path(made.stdout.readline().strip())


def test_what_a_killed_program_left_goes_and_what_is_in_use_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    killed, left = _holder(tmp_path)
    killed.kill()
    killed.communicate()
    assert (left / "photo").exists()
    alive, used = _holder(tmp_path)  # its first folder takes the other one's away
    try:
        assert not left.exists()
        strange = tmp_path / f"{passing.PREFIX}of-somebody-else"
        strange.mkdir()
        (tmp_path / f"{passing.PREFIX}link").symlink_to(used)
        monkeypatch.setattr(passing.tempfile, "gettempdir", lambda: str(tmp_path))
        assert passing.take_away_what_was_left() == 0
        assert (used / "photo").exists()
        assert strange.exists()
    finally:
        alive.communicate("")
    assert not used.exists()
