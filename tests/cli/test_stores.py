"""Stores and major portion from the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from filled import filled
from ribwright.cli.app import main
from seams import REF


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("stores") / "p"
    filled(made).close()
    return made


def run(folder: Path, *words: str) -> dict[str, object]:
    done = CliRunner().invoke(main, [*words, "--project", str(folder), "--json"], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    made: dict[str, object] = json.loads(done.stdout)
    return made


def test_a_crate_is_received_counted_taken_and_traced(folder: Path, tmp_path: Path) -> None:
    crate = tmp_path / "crate.csv"
    crate.write_text(
        "item,listed,got,lot,place,title\nMS20426AD3-3.5,1000,950,B12,bin 4,rivets\nAN3-4A,10,10,,bin 5,=bolts\n",
        encoding="utf-8",
    )
    made = run(
        folder,
        "stores",
        "receive",
        str(crate),
        "--crate",
        "C1",
        "--claim-by",
        "2099-01-01",
        "--supplier",
        "the works",
        "--request",
        "c1",
    )
    assert made["short"] == [{"item": "MS20426AD3-3.5", "short": "50", "claim_by": "2099-01-01"}]
    again = run(
        folder,
        "stores",
        "receive",
        str(crate),
        "--crate",
        "C1",
        "--claim-by",
        "2099-01-01",
        "--supplier",
        "the works",
        "--request",
        "c1",
    )
    assert again["short"] == made["short"], "sent twice counts once"
    run(folder, "stores", "take", "MS20426AD3-3.5", "40", "--for", REF)
    (row,) = run(folder, "stores", "list", "--place", "bin 4")["items"]  # type: ignore[misc]
    assert (row["on_hand"], row["place"], row["lots"]) == ("910", "bin 4", ["B12"])
    (traced,) = run(folder, "stores", "lot", "B12")["lots"]  # type: ignore[misc]
    assert [(use["operation"], use["known"]) for use in traced["uses"]] == [
        (REF, "the only lot in the store")
    ]
    assert run(folder, "stores", "in", REF)["lots"][0]["lot"] == "B12"  # type: ignore[index]
    counted = run(folder, "stores", "count", "MS20426AD3-3.5", "--gross", "2.6 oz", "--scale", "0.1 oz")
    assert counted["low"] < counted["quantity"] < counted["high"]  # type: ignore[operator]
    assert run(folder, "stores", "month")["days"] == 30
    assert run(folder, "stores", "tonight")["set_ups"]
    out = tmp_path / "out.csv"
    run(folder, "stores", "export", str(out))
    assert ",'=bolts," in out.read_text(encoding="utf-8-sig")
    lines = len(run(folder, "stores", "list")["items"])  # type: ignore[arg-type]
    assert run(folder, "stores", "import", str(out))["lines"] == lines
    owed = run(folder, "stores", "short")["short"]
    assert owed[0]["days_left"] > 0  # type: ignore[index]


def test_what_can_not_be_is_refused_with_its_reason(folder: Path, tmp_path: Path) -> None:
    crate = tmp_path / "crate.csv"
    crate.write_text("item,listed,got\nX,10,\n", encoding="utf-8")
    for words in (
        ("stores", "receive", str(crate), "--crate", "C2"), ("stores", "count", "NOTHING", "--quantity", "5"), ("stores", "lot", "none"),
        ("stores", "add", REF, "--title", "x"), ("stores", "add", "Y", "--kind", "magic"), ("portion", "claim", "W01", "A=.5"), ("portion", "mark", "1", "Ann"),
    ):  # fmt: skip
        done = CliRunner().invoke(main, [*words, "--project", str(folder)])
        assert hasattr(done.exception, "sentence"), words


def test_tenths_are_claimed_and_added(folder: Path) -> None:
    run(folder, "portion", "claim", "W01", "A=.5", "B=.3", "D=.2", "--evidence", REF)
    run(folder, "portion", "claim", "W02", "--not-applicable", "--words", "none on it")
    made = run(folder, "portion", "total")
    assert made["columns"] == {"A": "0.5", "B": "0.3", "C": "0.0", "D": "0.2"}
    assert (made["claimed"], made["left_out"], made["share_percent"]) == (1, 1, pytest.approx(20.0))
    claim = made["claims"][0]  # type: ignore[index]
    assert any("marked" in one for one in claim["weak"])
    text = CliRunner().invoke(main, ["portion", "list", "--project", str(folder)]).output
    assert "[[task]]" in text
