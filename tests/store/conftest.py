"""Projects for the store's tests: each runs in a project folder and in PostgreSQL."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ribwright.services.project import Actor, Project, create_project, prepare_database
from ribwright.services.record import add_entry, check, set_object

BUILDER = Actor("Ann Bell", "builder")


def _postgres_programs() -> Path | None:
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"))
    if found:
        return found[-1].parent
    named = shutil.which("postgres")
    return Path(named).parent if named else None


@pytest.fixture(scope="session")
def cluster() -> Iterator[str]:
    """A PostgreSQL server of this run's own, on a socket in a temporary folder."""
    programs = _postgres_programs()
    if programs is None:
        if os.environ.get("CI"):
            pytest.fail("PostgreSQL is not installed")
        pytest.skip("PostgreSQL is not installed")
    # The server refuses to run as root.
    user = "postgres" if os.name == "posix" and os.geteuid() == 0 else None
    with tempfile.TemporaryDirectory(prefix="rw-pg-") as name:
        folder = Path(name)
        if user:
            shutil.chown(folder, user)
        run = {"user": user, "cwd": name, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        subprocess.run(
            [
                programs / "initdb",
                "-D",
                folder / "data",
                "-U",
                "owner",
                "-A",
                "trust",
                "-N",
                "-E",
                "UTF8",
                "--locale=C",
            ],
            check=True,
            **run,
        )
        server = subprocess.Popen(
            [
                programs / "postgres",
                "-D",
                folder / "data",
                "-k",
                name,
                "-h",
                "",
                "-F",
                "-c",
                "max_connections=60",
            ],
            **run,
        )
        try:
            for _ in range(200):
                ready = subprocess.run([programs / "pg_isready", "-h", name, "-q"], check=False, **run)
                if ready.returncode == 0:
                    break
                time.sleep(0.05)
            else:
                pytest.fail("PostgreSQL did not start")
            subprocess.run(
                [
                    programs / "psql",
                    "-h",
                    name,
                    "-U",
                    "owner",
                    "-d",
                    "postgres",
                    "-q",
                    "-c",
                    "CREATE ROLE app LOGIN NOSUPERUSER",
                    "-c",
                    "CREATE ROLE maker LOGIN NOSUPERUSER CREATEDB",
                ],
                check=True,
                **run,
            )
            subprocess.run([programs / "createdb", "-h", name, "-U", "maker", "ribwright"], check=True, **run)
            prepare_database(f"postgresql://maker@/ribwright?host={name}", login="app")
            yield name
        finally:
            server.terminate()
            server.wait()


@pytest.fixture(params=["folder", pytest.param("postgres", marks=pytest.mark.postgres)])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> str | Path:
    """Where a project may be made. In PostgreSQL by a login that owns nothing."""
    if request.param == "folder":
        return tmp_path / "dunlin"
    return f"postgresql://app@/ribwright?host={request.getfixturevalue('cluster')}"


@pytest.fixture
def project(place: str | Path) -> Iterator[Project]:
    """A new project. Whatever a test did with it, its record must agree with itself afterwards."""
    with create_project(place, name="Dunlin", actor=BUILDER, request_id="made") as made:
        yield made
        assert check(made).problems == ()


@pytest.fixture
def folder_project(tmp_path: Path) -> Iterator[Project]:
    """A project in a folder; the test may break it."""
    with create_project(tmp_path / "dunlin", name="Dunlin", actor=BUILDER, request_id="made") as made:
        yield made


@pytest.fixture
def seam(project: Project) -> str:
    """One operation on one part of the left aileron."""
    return make_seam(project)


def make_seam(project: Project) -> str:
    set_object(project, actor=BUILDER, request_id="o1", noun="aircraft", ref="DN", data={})
    set_object(
        project,
        actor=BUILDER,
        request_id="o2",
        noun="part",
        ref="DN-2101",
        parent="DN",
        data={"thickness": ".020"},
    )
    set_object(
        project,
        actor=BUILDER,
        request_id="o3",
        noun="operation",
        ref="DN-2101/seam",
        parent="DN-2101",
        data={"rivet": "AN426AD3"},
        made_from=["DN-2101"],
    )
    return "DN-2101/seam"


@pytest.fixture
def enter(project: Project) -> Callable[..., int]:
    """Make an entry as the builder; gives its number."""
    count = iter(range(10_000))

    def enter(
        kind: str, about: str = "", *, actor: Actor = BUILDER, corrects: int | None = None, **body: object
    ) -> int:
        return add_entry(
            project,
            actor=actor,
            request_id=f"e{next(count)}",
            kind=kind,
            about=about,
            body=body,
            corrects=corrects,
        ).seq

    return enter
