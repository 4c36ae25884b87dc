"""At the bench by command line: clock, row tally, turn of the lever, and who may come in; twins of the pages."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from filled import filled
from ribwright.cli.app import main
from ribwright.errors import ConflictError, FormatError, MissingError, RibwrightError, UnknownNameError
from seams import REF

Run = Callable[..., Any]


@pytest.fixture
def run(tmp_path: Path) -> Run:
    filled(tmp_path / "p").close()

    def command(*words: str) -> Any:
        done = CliRunner().invoke(main, [*words, "--project", str(tmp_path / "p"), "--json"])
        if done.exception is not None:
            raise done.exception
        return json.loads(done.output)

    return command


def test_clock_tally_and_turn(run: Run) -> None:
    started = run("bench", "clock", "start", REF, "drill", "--by", "Ann Bell")["clocks"]
    assert [(c["person"], c["stage"], c["ended"]) for c in started] == [("Ann Bell", "drill", "")]
    with pytest.raises(ConflictError):
        run("bench", "clock", "start", REF, "rivet", "--by", "Ann Bell")
    with pytest.raises(MissingError, match="Stop it first"):
        run("bench", "clock", "confirm", REF, "drill", "--by", "Ann Bell", "--hours", "1")
    assert run("bench", "clock", "stop", REF, "drill", "--by", "Ann Bell")["clocks"][0]["ended"]
    assert run("bench", "clock", "show")["clocks"][0]["hours"]
    confirm = ("bench", "clock", "confirm", REF, "drill", "--by", "Ann Bell", "--hours", "90 min")
    assert run(*confirm)["clocks"] == []
    row = run("bench", "tally", REF, "1-3=good", "4=a bit more")
    assert row["marks"] == {"1": "good", "2": "good", "3": "good", "4": "a bit more"}
    assert run("bench", "tally", REF)["marks"] == row["marks"]
    for words, error in (("x=good", FormatError), ("3=fine", UnknownNameError), ("3", FormatError)):
        with pytest.raises(error):
            run("bench", "tally", REF, words)
    run("bench", "turn", REF, "rivet", "143.2", "--back", "135")
    with pytest.raises(RibwrightError):
        run("bench", "turn", REF, "rivet", "nan")
    shown = run("operation", "show", REF)
    assert {s["name"]: s["hours"] for s in shown["stages"]}["drill"] == "1.5"
    turned = [r["value"] for r in shown["readings"] if r["instrument"] == "phone on the lever"]
    assert turned == ["143.2", "8.2"]
    assert run("record", "check")["ok"] is True


def test_phones_listed_invited_and_shut_out(run: Run, tmp_path: Path) -> None:
    from ribwright.services.devices import redeem
    from ribwright.services.project import open_project

    assert run("phone", "list") == []
    made = run("phone", "invite", "Tom", "--as", "helper", "--url", "https://192.168.1.20:8371/")
    assert made["link"] == f"https://192.168.1.20:8371/enter?code={made['code']}"
    assert run("phone", "list") == [], "an invitation lets nobody in by itself"
    with open_project(tmp_path / "p") as project:
        redeem(project, code=made["code"], name="garage", kind="tls", source="192.168.1.9")
    (one,) = run("phone", "list")
    assert (one["name"], one["person"], one["role"], one["revoked_at"]) == ("garage", "Tom", "helper", "")
    assert "token" not in json.dumps(one)
    assert run("phone", "shut-out", one["id"])["revoked_at"]
    assert run("phone", "list")[0]["revoked_at"]
    with pytest.raises(ConflictError):
        run("phone", "shut-out", one["id"])
    with pytest.raises(UnknownNameError):
        run("phone", "shut-out", "nobody")
