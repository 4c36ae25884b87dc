"""Rigging drawings show the way that was measured: which end is nearer, which side is up."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from ribwright.core.scene import Line, Scene
from ribwright.services.calculations import run_calculation

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"
TWIST = {
    "title": "left aileron", "way": "level on the end ribs", "first": "0.1 deg", "second": "0.5 deg", "drawing": "DN-2100", "revision": "B",
}  # fmt: skip


def picture(name: str, raw: dict[str, Any] | None = None) -> Scene:
    given = raw or tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    made = run_calculation(name, given).outcome.picture
    assert made is not None
    return made


def heavy(scene: Scene) -> list[Line]:
    return [one for one in scene.items if isinstance(one, Line) and one.style == "heavy"]


@pytest.mark.parametrize("name", ["control-travels", "rig-angles", "symmetry", "wheel-alignment"])
def test_each_is_told_in_words_too(name: str) -> None:
    assert len(picture(name).described) > 80


def test_toe_in_brings_the_front_ends_nearer() -> None:
    edges = heavy(picture("wheel-alignment"))
    assert len(edges) == 2
    for edge in edges:
        assert edge.a[1] > edge.b[1]
        assert abs(edge.a[0]) < abs(edge.b[0])


def test_up_is_drawn_up_and_down_down() -> None:
    raw = {"travels": [{"surface": "elevator", "way": way, "instrument": "digital level", "neutral": "0 deg", "deflected": "20 deg"} for way in ("up", "down")]}  # fmt: skip
    up, down = heavy(picture("control-travels", raw))
    assert up.b[1] > up.a[1]
    assert down.b[1] < down.a[1]


def test_the_centreline_lies_on_the_measured_side() -> None:
    raw = {
        "pairs": [{"name": n, "left_aft": a, "right_aft": a, "left_out": o, "right_out": str(float(o) + 2)} for n, a, o in (("tip", "100", "160"), ("tail", "220", "48"))]
    }  # fmt: skip
    (line,) = (
        one for one in picture("symmetry", raw).items if isinstance(one, Line) and one.style == "centre"
    )
    assert line.a[0] > 0
    assert line.a[0] == pytest.approx(line.b[0])


def test_the_outer_end_is_turned_the_way_it_reads() -> None:
    said = picture("twist-before-closing", TWIST).described
    assert "0.40 degrees" in said
