"""A builder's own project by one command: made, empty, the first time; left as it is ever after."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from ribwright.cli.app import main
from ribwright.services.project import open_project
from ribwright.services.record import seal


def test_own_project_is_made_once_and_never_changed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setattr("ribwright.services.photo_measure.warm", lambda: None)
    folder = tmp_path / "my-aeroplane"
    call = ["start", "--own", str(folder), "--no-serve"]
    first = CliRunner().invoke(main, call)
    assert first.exit_code == 0, first.output
    assert "Made, empty" in first.output
    with open_project(folder) as project:
        begun, name = seal(project), project.name
    assert name == "My aeroplane"
    again = CliRunner().invoke(main, call)
    assert again.exit_code == 0
    assert "Made" not in again.output
    with open_project(folder) as project:
        assert seal(project) == begun
    refused = CliRunner().invoke(main, [*call, "--fresh"])
    assert refused.exit_code == 2
    assert "does not go with --own" in refused.output
