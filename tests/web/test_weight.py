"""The page Weight and its command twins: the parts list summed up, parts weighed, changes tried, weighings signed."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from filled import ANN
from ribwright import __version__
from ribwright.cli.app import main
from ribwright.errors import ConflictError, MissingError, OutOfRangeError, UnknownNameError
from ribwright.services.amending import sign
from ribwright.services.operations import enter_operation, enter_work
from ribwright.services.project import Project
from ribwright.services.record import add_entries, check, new_object
from ribwright.services.weighings import change_before, compared, weighings
from ribwright.services.weight import set_range, weigh_part, weight_view

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def example(name: str) -> dict[str, Any]:
    return tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))


@pytest.fixture
def listed(project: Project) -> Project:
    """An aeroplane of three parts with weights, on top of the shared one; an older aeroplane lies beside it."""
    add_entries(
        project, actor=ANN, request_id="listed",
        items=[
            new_object("aircraft", "OLD", {}, title="Old one"),
            new_object("assembly", "OLD-1", {}, parent="OLD"),
            new_object("part", "OLD-11", {"weight_lb": "500", "arm_in": "10"}, parent="OLD-1"),
            new_object("aircraft", "NEW", {"empty_weight_lb": "100", "mac_in": "40", "mac_leading_edge_in": "60"}, title="New one"),
            new_object("assembly", "NEW-1", {}, parent="NEW", title="front"),
            new_object("part", "ENGINE", {"weight_lb": "60", "arm_in": "40"}, parent="NEW-1", title="engine"),
            new_object("part", "WING", {"weight_lb": "40", "arm_in": "90"}, parent="NEW-1", title="wing"),
            new_object("part", "SEAT", {"weight_lb": "10"}, parent="NEW-1", title="seat"),
            new_object(
                "operation", "HANG", {"parts": ["ENGINE"], "stages": [{"name": "fit"}, {"name": "install"}]}, parent="NEW-1", title="hang the engine",
            ),
        ],
    )  # fmt: skip
    return project


def test_the_newest_aeroplane_is_summed_up_and_what_has_no_arm_is_named(listed: Project) -> None:
    view = weight_view(listed)
    assert view.made is not None
    assert view.aircraft == "New one"
    assert (view.made.forecast.weight_lb, view.made.forecast.cg_in) == pytest.approx((100, 60))
    assert view.made.running is None
    assert view.usual == pytest.approx((103, 108))
    assert view.forecast_mac == pytest.approx(0)
    assert {ref for ref, _, _ in view.unknown} == {"SEAT", "DN-2101"}
    assert view.picture is not None
    assert "100" in view.picture.described
    assert view.findings == ()  # nothing of the designer's to judge by


def test_a_part_is_in_place_once_it_is_installed_and_weighed_once_it_was_on_a_scale(listed: Project) -> None:
    enter_work(listed, actor=ANN, request_id="w1", ref="HANG", stage="fit", hours="1", done=True)
    assert weight_view(listed).in_place == 0
    enter_work(listed, actor=ANN, request_id="w2", ref="HANG", stage="install", hours="1", done=True)
    weigh_part(listed, actor=ANN, request_id="w3", ref="ENGINE", weight="62.5 lb", u="0.2", arm="41")
    weigh_part(listed, actor=ANN, request_id="w4", ref="SEAT", arm="80 in", arm_u="2")
    view = weight_view(listed)
    assert view.made is not None
    assert view.made.running is not None
    running = view.made.running
    assert (running.weight_lb, running.cg_in, running.u_weight_lb) == pytest.approx((62.5, 41, 0.2))
    assert running.u_cg_in == pytest.approx(1.0)
    assert view.made.forecast.weight_lb == pytest.approx(112.5)
    assert [p.ref for p in view.weigh_next] == ["WING", "SEAT"]
    set_range(listed, actor=ANN, request_id="w5", raw={"most": "100 lb", "forward_limit": "50", "aft_limit": "75"})  # fmt: skip
    view = weight_view(listed)
    assert {f.requirement: f.verdict.value for f in view.findings} == {"empty weight": "rework", "empty CG": "within limits"}  # fmt: skip
    assert view.usual == pytest.approx((103, 108)), "the aeroplane's own figure stays"
    assert check(listed).ok


def test_what_cannot_be_a_weight_is_refused_and_nothing_entered(listed: Project) -> None:
    before = weight_view(listed)
    for error, more in (
        (OutOfRangeError, {"weight": "-3"}), (OutOfRangeError, {"weight": "0"}), (MissingError, {}), (OutOfRangeError, {"weight": "3", "u": "-1"}),
        (OutOfRangeError, {"arm": "9000 in"}),
    ):  # fmt: skip
        with pytest.raises(error):
            weigh_part(listed, actor=ANN, request_id="x1", ref="ENGINE", **more)
    with pytest.raises(UnknownNameError):
        weigh_part(listed, actor=ANN, request_id="x2", ref="NONE", weight="3")
    with pytest.raises(ConflictError):
        weigh_part(listed, actor=ANN, request_id="x3", ref="NEW-1", weight="3")
    assert weight_view(listed) == before


def test_a_weighing_is_entered_as_an_operation_signed_and_held_against_the_next(listed: Project) -> None:
    first = example("weighing")
    enter_operation(listed, actor=ANN, request_id="o1", ref="NEW-W1", calculation="weighing", raw=first, parent="NEW")  # fmt: skip
    sign(listed, actor=ANN, request_id="o2", about="NEW-W1")
    assert compared(listed) is None
    heavier = json.loads(json.dumps(first))
    heavier["points"][0]["reading"] = "360 lb"
    enter_operation(listed, actor=ANN, request_id="o3", ref="NEW-W2", calculation="weighing", raw=heavier, parent="NEW")  # fmt: skip
    one, two = weighings(listed)
    assert (one.signed, two.signed) == (ANN.name, "")
    with pytest.raises(ConflictError, match="signed"):
        enter_operation(listed, actor=ANN, request_id="o4", ref="NEW-W1", calculation="weighing", raw=heavier, parent="NEW")  # fmt: skip
    made = compared(listed)
    assert made is not None
    assert made.answer["results"]["growth"]["value"] == pytest.approx(two.number("empty_weight")[0] - one.number("empty_weight")[0], abs=1e-3)  # fmt: skip
    assert made.outcome.findings[0].verdict.value == "rework"
    done, base = change_before(listed, [{"item": "radio", "what": "put in", "weight": "5", "arm": "50"}])
    assert base == "weighing NEW-W2"
    assert done.answer["results"]["weight"]["value"] == pytest.approx(
        two.number("empty_weight")[0] + 5, abs=1e-3
    )


def test_the_page_enters_and_tries(client: TestClient, listed: Project) -> None:
    page = client.get("/weight").text
    assert "Forecast, empty" in page
    assert "100.0 lb" in page
    assert "103 lb to 108 lb" in page
    sent = client.post("/weight", data={"request": "p1", "what": "part", "ref": "WING", "weight": "44", "back": "weigh"})  # fmt: skip
    assert (sent.status_code, sent.headers["location"]) == (303, "/weight#weigh")
    refused = client.post("/weight", data={"request": "p2", "what": "part", "ref": "WING", "weight": "heavy"})
    assert refused.status_code == 422
    assert "heavy" in refused.text
    ranged = {"request": "p3", "what": "range", "designer": "100 lb", "forward_limit": "80", "aft_limit": "70"}  # fmt: skip
    assert client.post("/weight", data=ranged).status_code == 422
    assert client.post("/weight", data=ranged | {"request": "p4", "aft_limit": "95"}).status_code == 303
    tried = client.get("/weight", params={"item": "battery", "what": "move", "weight": "10", "arm": "40", "to_arm": "110"})  # fmt: skip
    assert "From the forecast of the parts list" in tried.text
    assert "Empty CG" in tried.text or "empty CG afterwards" in tried.text
    assert client.get("/weight", params={"item": "battery", "weight": "-10", "arm": "40"}).status_code == 422
    assert weight_view(listed).made.forecast.weight_lb == pytest.approx(104)  # type: ignore[union-attr]


def test_the_command_says_what_the_page_says(listed: Project, tmp_path: Path) -> None:
    def run(*arguments: str) -> Any:
        result = CliRunner().invoke(main, ["weight", *arguments, "--project", str(tmp_path / "p"), "--json"])
        assert result.exit_code == 0, result.output
        return json.loads(result.output)

    run("weigh", "WING", "44 lb", "--good-to", "0.1", "--arm", "88")
    run("range", "--most", "110", "--estimate-good-to", "5 %")
    said = run("show")
    assert said["forecast"]["weight_lb"] == pytest.approx(104)
    assert (said["weighed"], said["findings"][0]["requirement"]) == (1, "empty weight")
    changed = run("change", "--item", "radio", "--weight", "2", "--arm", "50")
    assert changed["results"]["weight_change"]["value"] == pytest.approx(2)
    assert changed["from"] == "the forecast of the parts list"
    assert run("weighings") == {"weighings": [], "compared": None, "made_by": f"ribwright {__version__}"}
    enter_operation(listed, actor=ANN, request_id="l1", ref="NEW-L1", calculation="loading", raw=example("loading"))  # fmt: skip
    run("card", "NEW-L1", str(tmp_path / "card.pdf"))
    content = (tmp_path / "card.pdf").read_bytes()
    assert content.startswith(b"%PDF")
    assert content.count(b"/Type /Page\n") + content.count(b"/Type /Page ") == 1
