"""A project with one seam, its app, and a client in this process."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from filled import ANN, filled
from ribwright.services.project import Project
from ribwright.web.app import create_app


@pytest.fixture
def project(tmp_path: Path) -> Iterator[Project]:
    with filled(tmp_path / "p") as made:
        yield made


@pytest.fixture
def client(project: Project) -> Iterator[TestClient]:
    reports: list[str] = []
    app = create_app(project, actor=ANN, report=reports.append)
    with TestClient(
        app, base_url="http://127.0.0.1:8370", follow_redirects=False, raise_server_exceptions=False
    ) as made:
        yield made
    assert not reports, reports[0]
