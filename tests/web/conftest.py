"""A project with one seam, its app, and a client in this process."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from filled import ANN, filled
from ribwright.services.network import Served
from ribwright.services.project import Project
from ribwright.web.app import create_app

SECURE = Served(("192.168.1.20",), ("garage.local",), 8370, 8371, b"the authority's certificate", "AA:BB")
OPEN = Served(("192.168.1.20",), ("garage.local",), 8370)


@pytest.fixture
def project(tmp_path: Path) -> Iterator[Project]:
    with filled(tmp_path / "p") as made:
        yield made


@pytest.fixture
def client(project: Project) -> Iterator[TestClient]:
    reports: list[str] = []
    app = create_app(project, actor=ANN, report=reports.append, served=SECURE)
    with TestClient(
        app,
        base_url="http://127.0.0.1:8370",
        client=("127.0.0.1", 50000),
        follow_redirects=False,
        raise_server_exceptions=False,
    ) as made:
        yield made
    assert not reports, reports[0]
