"""Rigging: the level's own error cancels, a phone is good to a degree, one bad corner is named; refusals."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ribwright.errors import GeometryError, MissingError
from ribwright.services.calculations import run_calculation


def test_the_levels_own_error_cancels_and_is_shown() -> None:
    for own in (0.0, 0.7, -2.3):
        places = [
            {"name": "wing", "what": what, "side": "left", "reading": angle + own, "turned": -angle + own}
            for what, angle in (("incidence at the root", 1.5), ("incidence at the tip", -0.5))
        ]
        raw = {"reference": 0.2 + own, "reference_turned": -0.2 + own, "places": places}
        made = run_calculation("rig-angles", raw).answer["results"]
        assert made["angles"]["value"] == pytest.approx([1.3, -0.7])
        assert made["level_errors"]["value"] == pytest.approx([own] * 3)
        assert made["washout_left"]["value"] == pytest.approx(2.0)


def test_a_level_that_was_knocked_between_places_is_said() -> None:
    places = [{"name": n, "what": "other", "reading": 1 + e, "turned": -1 + e} for n, e in (("a", 0.0), ("b", 0.6))]  # fmt: skip
    made = run_calculation("rig-angles", {"places": places}).answer
    assert made["findings"][-1]["requirement"] == "one level, one error"
    assert made["findings"][-1]["verdict"] == "rework"


@pytest.mark.parametrize(
    ("instrument", "at", "verdict"),
    [
        ("phone", 25.0, "within limits"),
        ("phone", 26.5, "undecided"),
        ("phone", 28.6, "rework"),
        ("digital level", 26.5, "within limits"),
    ],
)
def test_a_phone_is_good_to_a_degree(instrument: str, at: float, verdict: str) -> None:
    row = {
        "surface": "aileron", "way": "up", "instrument": instrument, "neutral": 1.0, "deflected": at + 1.0, "least": 23, "most": 27,
    }  # fmt: skip
    assert run_calculation("control-travels", {"travels": [row]}).answer["status"] == verdict


def test_travel_by_the_trailing_edge_and_past_half_a_turn() -> None:
    edge = {
        "surface": "rudder",
        "way": "left",
        "instrument": "trailing edge",
        "edge": 14,
        "radius": 14,
    }
    assert run_calculation("control-travels", {"travels": [edge]}).answer["results"]["travels"][
        "value"
    ] == pytest.approx([60.0])
    over = {"surface": "flap", "way": "down", "instrument": "phone", "neutral": 170, "deflected": -170}
    assert run_calculation("control-travels", {"travels": [over]}).answer["results"]["travels"][
        "value"
    ] == pytest.approx([20.0])


def floor(rng: np.random.Generator, u: float, moved: float = 0.0) -> dict[str, Any]:
    """A straight aeroplane on a crooked chalk line; the first pair's right point moved aft."""
    turn, off = rng.normal(0, 0.01), rng.normal(0, 1)

    def seen(aft: float, right: float) -> tuple[float, float]:
        return (
            aft * np.cos(turn) - right * np.sin(turn) + rng.normal(0, u / 2),
            off + aft * np.sin(turn) + right * np.cos(turn) + rng.normal(0, u / 2),
        )

    pairs = []
    for k, (aft, out) in enumerate(((110, 164), (80, 60), (226, 48), (215, 20))):
        left, right = seen(aft, -out), seen(aft + (moved if k == 0 else 0), out)
        pairs.append({"name": f"pair {k}", "left_aft": float(left[0]), "left_out": float(-left[1]), "right_aft": float(right[0]), "right_out": float(right[1])})  # fmt: skip
    centres = [{"name": n, "aft": float(seen(a, 0)[0]), "right": float(seen(a, 0)[1])} for n, a in (("spinner", 2), ("tail post", 231))]  # fmt: skip
    return {"pairs": pairs, "centres": centres, "point_u": u, "aside": 0.6, "skew": 0.9}


def test_symmetry_does_not_hang_on_the_chalk_line_and_names_the_bad_corner() -> None:
    rng = np.random.default_rng(8)
    straight = sum(
        run_calculation("symmetry", floor(rng, 0.1)).answer["status"] == "within limits" for _ in range(40)
    )
    assert straight >= 38
    found = 0
    for _ in range(40):
        made = run_calculation("symmetry", floor(rng, 0.1, moved=1.5)).answer
        found += made["status"] == "rework" and made["results"]["worst_pair"]["value"] == "pair 0"
    assert found >= 38


def test_toe_in_and_out() -> None:
    wheels = [
        {"side": "left", "front": 38, "rear": 38.2},
        {"side": "right", "front": 38, "rear": 37.9},
    ]
    made = run_calculation(
        "wheel-alignment", {"length": 48, "wheels": wheels, "toe_least": 0, "toe_most": 1}
    ).answer
    assert [f["verdict"] for f in made["findings"]] == ["within limits", "rework"]
    assert made["results"]["toe_left"]["value"] > 0 > made["results"]["toe_right"]["value"]


PAIR = {"name": "tip", "left_aft": 1, "left_out": 10, "right_aft": 1, "right_out": 10}


@pytest.mark.parametrize(
    ("name", "raw", "error", "says"),
    [
        ("control-travels", {"travels": [{"surface": "a", "way": "up", "instrument": "phone", "neutral": 1}]}, MissingError, "both readings"),
        ("control-travels", {"travels": [{"surface": "a", "way": "up", "instrument": "trailing edge", "edge": 3}]}, MissingError, "radius"),
        ("control-travels", {"travels": [{"surface": "a", "way": "up", "instrument": "trailing edge", "edge": 30, "radius": 10}]}, GeometryError, "twice the radius"),
        ("control-travels", {"travels": [{"surface": "a", "way": "up", "instrument": "phone", "neutral": 1, "deflected": 2, "least": 9, "most": 4}]}, GeometryError, "above the least"),
        ("rig-angles", {"places": [{"name": "w", "what": "dihedral", "reading": 1}] * 2}, GeometryError, "twice"),
        ("symmetry", {"pairs": [PAIR]}, GeometryError, "two pairs"),
        ("symmetry", {"pairs": [{**PAIR, "left_out": 0, "right_out": 0}] * 2}, GeometryError, "chalk line"),
        ("symmetry", {"pairs": [PAIR], "centres": [{"name": n, "aft": 5, "right": 0} for n in "ab"]}, GeometryError, "undetermined"),
        ("wheel-alignment", {"length": 48, "wheels": [{"side": "left", "front": 38, "rear": 38}] * 2}, GeometryError, "one side twice"),
        ("wheel-alignment", {"length": 48, "wheels": [{"side": "left", "front": 3, "rear": 38}]}, GeometryError, "same distance"),
    ],
)  # fmt: skip
def test_bad_input_is_named(name: str, raw: dict[str, Any], error: type[Exception], says: str) -> None:
    with pytest.raises(error, match=says):
        run_calculation(name, raw)


def test_results_without_a_published_number_say_so_on_their_worksheet() -> None:
    root = Path(__file__).parents[3] / "docs" / "examples"
    for name in ("tank-sealant", "control-travels", "rig-angles", "wheel-alignment", "equipment-list", "symmetry"):  # fmt: skip
        raw = tomllib.loads((root / f"{name}.toml").read_text(encoding="utf-8"))
        assert "No published worked example was found" in run_calculation(name, raw).text().replace(
            "\n", " "
        ).replace("  ", " "), name
