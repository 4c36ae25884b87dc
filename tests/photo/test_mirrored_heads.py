"""Formed heads drawn by a renderer that nothing was fitted to: rims of five heads a row, in soft light."""

import cv2
import numpy as np
import pytest

from photo.render_mirrored import another_phone, paint_mirrored, room, section
from ribwright.core.metrology.formed_rims import formed_rims, ray_places
from ribwright.core.metrology.profile_rows import linear_light

SHANK, AWAY, PER_MM, HALF_MM = 3.2, 180.0, 16.0, 5.5


def _heads(rng, count=5):
    usual = rng.uniform(1.4, 1.6)
    return [
        {
            "d_max": (mean := SHANK * (usual if k else 1.15)) * 1.01,
            "d_min": mean * 0.99,
            "turn": rng.uniform(0, 3),
            "tall": 0.5 * SHANK,
            "lean": np.zeros(2),
        }
        for k in range(count)
    ]


def _picture(seed, made, head, at):
    """A head ``at`` a place beside the camera's axis, straight from above, as another phone's photo; grey."""
    rng = np.random.default_rng(seed)
    size = round(2 * HALF_MM * PER_MM)
    side = ((np.arange(2 * size) + 0.5) / (2 * PER_MM) - HALF_MM).astype(np.float32)
    px, py = np.meshgrid(side, side)
    linear = np.full((2 * size, 2 * size, 3), made.sheet, np.float32)
    grain = cv2.GaussianBlur(rng.normal(0, 1, px.shape).astype(np.float32), (0, 0), sigmaX=9, sigmaY=0.8)
    linear *= (1 + 0.05 * grain / grain.std())[..., None]
    slope = [np.full_like(px, (at[i]) / AWAY) + (px, py)[i] / np.float32(AWAY) for i in (0, 1)]
    paint_mirrored(rng, linear, px, py, *slope, np.ones_like(px), head, made)
    picture = another_phone(rng, cv2.resize(linear, (size, size), interpolation=cv2.INTER_AREA), blur_px=1.2)
    return cv2.LUT(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), linear_light())


def test_rims_of_another_renderer():
    seed = 3
    rng = np.random.default_rng(seed)
    made = room(rng, sheet=0.45, soft=True)
    heads = _heads(rng)
    places = np.array([[14.0 * (k - 2), 8.0] for k in range(len(heads))])
    pictures = [_picture(seed, made, head, at) for head, at in zip(heads, places, strict=True)]
    plane = 0.35 * 0.5 * SHANK  # above the sheet
    ends, radius = ray_places(SHANK)

    def light_at(centres):
        out = []
        for centre, at, picture in zip(centres, places, pictures, strict=True):
            on_plane = centre + ends[:, None, :] * radius[None, :, None]
            on_sheet = on_plane * AWAY / (AWAY - plane) - at  # along the sight lines down to the sheet
            uv = ((on_sheet + HALF_MM) * PER_MM - 0.5).astype(np.float32)
            out.append(
                cv2.remap(picture, uv[..., 0], uv[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
            )
        return np.stack(out)  # fmt: skip

    centres, rims = formed_rims(
        light_at,
        places + rng.uniform(-0.25, 0.25, places.shape),
        shank_mm=SHANK,
        head_height_mm=0.5 * SHANK,
        station_mm=np.array([0.0, 0.0, plane - AWAY]),
    )
    found = np.array([(r.d_max_mm + r.d_min_mm) / 2 for r in rims])
    true = np.array([(h["d_max"] + h["d_min"]) / 2 for h in heads])
    assert np.abs(found - true).max() <= 0.25
    assert found[0] < 0.9 * found[1:].min()  # the one driven too little is told from the rest
    assert np.hypot(*(centres - places).T).max() <= 0.25


def test_a_barrel_is_widest_where_its_size_is_stated():
    made = room(np.random.default_rng(0), sheet=0.5, soft=False)
    u = np.linspace(0, 1, 401)
    r = section(made, u)
    assert abs(u[r.argmax()] - made.widest) < 0.01
    assert r.max() == pytest.approx(1.0, abs=0.02)
    assert r[-1] == pytest.approx(made.top - made.shoulder / 2, abs=0.01)
