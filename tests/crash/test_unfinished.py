"""A backup or an export that was killed leaves half a folder; the next into the same place takes it away."""

from __future__ import annotations

import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from ribwright.services.backup import backup_project, export_project
from ribwright.services.project import Actor, Project, create_project
from ribwright.store.unfinished import being_made, take_away_unfinished

HOLDER = """
import sys
from pathlib import Path
from ribwright.services.backup import {name}
from ribwright.services.project import open_project
from ribwright.store import {module}
step = {module}.{step}
def waits(*args, **kwargs):
    print("half", flush=True)
    sys.stdin.read()
    return step(*args, **kwargs)
{module}.{step} = waits
with open_project(sys.argv[1]) as project:
    {name}(project, Path(sys.argv[2]))
"""
BACKUP = HOLDER.format(name="backup_project", module="backup", step="_copy_photos")
EXPORT = HOLDER.format(name="export_project", module="projections", step="rows_of")


@pytest.fixture
def project(tmp_path: Path) -> Iterator[Project]:
    actor = Actor("Ann Bell", "builder")
    with create_project(
        tmp_path / "wren",
        name="Wren",
        actor=actor,
        request_id="made-here",
        now=lambda: "2031-05-01T08:00:00Z",
    ) as made:  # not the second in which another program makes a copy
        yield made


def _half(source: str, *paths: Path) -> subprocess.Popen[str]:
    made = subprocess.Popen(
        [sys.executable, "-c", source, *map(str, paths)],
        text=True, stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    assert made.stdout is not None
    assert made.stdout.readline() == "half\n"
    return made


def _hidden(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir() if path.name.startswith("."))


@pytest.mark.skipif(sys.platform == "win32", reason="a killed program's lock is the system's there")
@pytest.mark.parametrize("source", [BACKUP, EXPORT])
def test_what_a_killed_one_left_goes_with_the_next(project: Project, tmp_path: Path, source: str) -> None:
    place = tmp_path / "copies"
    place.mkdir()
    given = place if source is BACKUP else place / "out"
    killed = _half(source, tmp_path / "wren", given)
    killed.send_signal(signal.SIGKILL)
    killed.communicate()
    assert len(_hidden(place)) == 2, "half a folder, and the file that held it"
    strange = place / ".of-somebody-else.making"
    strange.mkdir()
    alive = _half(source, tmp_path / "wren", given)  # takes the killed one's away
    try:
        used = _hidden(place)
        assert len(used) == 3
        assert take_away_unfinished(place) == 0
        if source is BACKUP:
            backup_project(project, place)
        else:
            export_project(project, place / "second")
        assert _hidden(place) == used, "what is in use stays"
    finally:
        alive.communicate("")
    assert alive.returncode == 0
    assert _hidden(place) == [strange.name]


def test_a_refused_one_leaves_nothing(tmp_path: Path) -> None:
    def refused() -> None:
        with being_made(tmp_path / "out") as making:
            (making / "half").write_text("half")
            raise ValueError("why")

    with pytest.raises(ValueError, match="why"):
        refused()
    assert not list(tmp_path.iterdir())
