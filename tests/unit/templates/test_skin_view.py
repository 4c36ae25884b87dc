"""A skin as triangles: on its surface, with its arc length, and a deviation only where it was read."""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest

from ribwright.core.audit import read
from ribwright.core.audit.index import load
from ribwright.core.geometry import length_in
from ribwright.core.templates.profile_set import between
from ribwright.core.templates.skin import nose_at
from ribwright.core.templates.skin_view import ALONG, FOREMOST, SCALE, NoseView, laid_over, skin_of, view_data
from ribwright.errors import OutsideTableError

EXAMPLES = Path(__file__).parents[3] / "docs" / "examples"


def example(name="skin-view", **change):
    made = load(name)
    return read(made.spec, tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8")) | change)


def test_arc_lengths_are_those_of_the_section_and_the_bend_is_round():
    spec = example()
    assert isinstance(spec, NoseView)
    made = skin_of(spec)
    grid = made.vertices_in.reshape(ALONG, -1, 3)
    arcs = made.arc_in.reshape(ALONG, -1)
    for row in (0, 12, ALONG - 1):
        station = float(made.station_in.reshape(ALONG, -1)[row, 0])
        section = nose_at(between(spec.ends, station), spec.thickness.value)
        # Chords between 16 points on half the bend are short of the arc by less than a thousandth of an inch.
        assert np.ptp(arcs[row]) == pytest.approx(length_in(section), abs=0.004)
        assert arcs[row, FOREMOST] == 0.0
        assert grid[row, FOREMOST, 0] == pytest.approx(grid[row, :, 0].min(), abs=1e-9)
    first = grid[0, FOREMOST - 16 : FOREMOST + 17, :2]
    radius = np.hypot(*(first - np.array([1.12, 0.0])).T)
    assert radius == pytest.approx(1.14, abs=1e-4)


def test_triangles_cover_the_skin_once():
    made = skin_of(example())
    a, b, c = (made.vertices_in[made.triangles[:, k]] for k in range(3))
    areas = np.linalg.norm(np.cross(b - a, c - a), axis=1) / 2
    assert areas.min() > 1e-6
    arcs = made.arc_in.reshape(ALONG, -1)
    rough = 58 * (np.ptp(arcs[0]) + np.ptp(arcs[-1])) / 2
    assert areas.sum() == pytest.approx(rough, rel=0.01)
    edges = np.sort(
        np.concatenate([made.triangles[:, [0, 1]], made.triangles[:, [1, 2]], made.triangles[:, [0, 2]]]),
        axis=1,
    )
    assert np.unique(edges, axis=0, return_counts=True)[1].max() == 2


@pytest.mark.parametrize("name", ["flat-skin", "profile-templates", "nose-cradle", "section-templates"])
def test_every_calculation_with_drawn_sections_has_its_skin(name):
    data = view_data(example(name))
    assert len(data["vertices"]) == len(data["station"]) == len(data["arc"]) == len(data["off"])
    assert min(data["arc"]) < 0 < max(data["arc"])
    assert all(v is None for v in data["off"])


def test_what_has_no_sections_has_no_skin():
    assert view_data(example("sight-line")) is None


def test_deviation_is_straight_between_readings_and_unknown_beyond_them():
    at = np.array([0.0, 5.0, 10.0, 5.0, 5.0, 12.0])
    arc = np.array([0.0, 0.5, 1.0, 1.5, -0.1, 0.5])
    off = laid_over(at, arc, [(0.0, 0.0, 0.01), (0.0, 1.0, 0.03), (10.0, 0.0, 0.05), (10.0, 1.0, 0.07)])
    assert off[:3] == pytest.approx([0.01, 0.04, 0.07])
    assert np.isnan(off[3:]).all()
    assert np.isnan(laid_over(at, arc, [])).all()


def test_readings_off_the_skin_are_named():
    row = {"station": "70", "side": "upper", "along": "1", "off": ".01"}
    made = load("skin-view")
    for change in ({}, {"station": "10", "along": "9"}):
        with pytest.raises(OutsideTableError, match="Read at 1"):
            made.outcome(example(readings=[row | change]))


def _lightness(rgb):
    """CIE L* of linear sRGB."""
    y = float(np.array([0.2126, 0.7152, 0.0722]) @ rgb)
    return 116 * y ** (1 / 3) - 16 if y > 0.008856 else 903.3 * y


# Full dichromacy in linear sRGB: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, IEEE TVCG 15 (2009), severity 1; from memory.
SIGHTS = {
    "all cones": np.eye(3),
    "no red cones": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no green cones": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no blue cones": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
    "grey": np.tile([0.2126, 0.7152, 0.0722], (3, 1)),
}


@pytest.mark.parametrize("sight", sorted(SIGHTS))
def test_scale_keeps_its_order_for_every_eye(sight):
    rgb = np.array([[int(c[k : k + 2], 16) / 255 for k in (1, 3, 5)] for c in SCALE])
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(linear @ SIGHTS[sight].T, 0, 1)
    steps = np.diff([_lightness(one) for one in seen])
    assert steps.min() > 6, steps
