"""The tests' own photo of a drill shank on paper beside the strip, with a known diameter."""

from __future__ import annotations

import cv2
import numpy as np

from photo.render_camera import HEIGHT, WIDTH, background, expose, light, make_camera, sheet_texture
from photo.render_profile import _fine
from ribwright.core.metrology.gauge_sheet import rivet_strip_layout


def render_shank(seed: int, *, size_mm: float = 6.35, print_scale: float = 1.0, tilt_deg: float = 4.0):
    """Picture (h, w, 3) uint8, layout, typed input without the size: a bright cylinder on white paper."""
    rng = np.random.default_rng(50_000 + seed)
    layout = rivet_strip_layout()
    w, h = np.array(layout["size"]) * print_scale
    camera = make_camera(rng, look_at=np.array([w / 2, h / 2 + 8]), distance=190.0, tilt_deg=tilt_deg)
    angle, r, below = rng.uniform(-0.25, 0.25), size_mm / 2, 0.13
    middle = np.array([w / 2 + rng.uniform(-8, 8), h + 14 + rng.uniform(-2, 2)])
    along, across = np.array([np.cos(angle), np.sin(angle)]), np.array([-np.sin(angle), np.cos(angle)])
    uu, vv = np.meshgrid(np.arange(0, WIDTH + 8, 8.0), np.arange(0, HEIGHT + 8, 8.0))
    lean = camera.rays(uu, vv)
    lean = lean[..., :2] / lean[..., 2:]

    def at(z):
        return [_fine(camera.C[i] + lean[..., i] * (z - camera.C[2]), (HEIGHT, WIDTH), 8) for i in (0, 1)]

    x, y = at(0.0)
    shade = _fine(
        light(rng, *[camera.C[i] - lean[..., i] * camera.C[2] for i in (0, 1)], (w / 2, h), shadows=0),
        (HEIGHT, WIDTH),
        8,
    )
    u, v = x / print_scale, y / print_scale
    ink = cv2.remap(sheet_texture(layout, 24.0), u * 24 - 0.5, v * 24 - 0.5, cv2.INTER_LINEAR)
    strip = (u > 0) & (u < layout["size"][0]) & (v > 0) & (v < layout["size"][1])
    paper = np.full((HEIGHT, WIDTH), 0.85, np.float32)
    far = background(rng, "wood")
    off_paper = (y > h + 45) | (y < -6) | (x < -12) | (x > w + 12)
    out = np.where(strip, ink, paper)[..., None] * np.ones(3, np.float32)
    out[off_paper] = cv2.resize(far, (WIDTH, HEIGHT))[off_paper]
    # a soft shade under it, wider on one side
    gap = (x - middle[0]) * across[0] + (y - middle[1]) * across[1]
    run = (x - middle[0]) * along[0] + (y - middle[1]) * along[1]
    on = np.abs(run) < 35
    out *= np.where(on, 1 - 0.3 * np.exp(-np.maximum(np.abs(gap - 0.4) - 0.6 * r, 0) / (0.6 * r)), 1)[
        ..., None
    ].astype(np.float32)
    # the cylinder: a ray meets it where it passes the axis nearer than r
    cx, cy = at(below - r)
    slope = _fine(lean[..., 0] * across[0] + lean[..., 1] * across[1], (HEIGHT, WIDTH), 8)
    gap = ((cx - middle[0]) * across[0] + (cy - middle[1]) * across[1]) / np.sqrt(1 + slope**2)
    run = (cx - middle[0]) * along[0] + (cy - middle[1]) * along[1]
    body = (np.abs(gap) < r) & (np.abs(run) < 35)
    t = np.clip(gap / r, -1, 1)
    tone = 0.15 + 0.25 * np.sqrt(1 - t**2) + 0.5 * np.exp(-(((t - 0.2) / 0.12) ** 2))
    out = np.where(body[..., None], tone[..., None], out) * shade[..., None]
    bar = layout["bars"][0]
    typed = {
        "bars_measured": [{"name": bar["name"], "measured_mm": round(bar["nominal_mm"] * print_scale + rng.normal(0, 0.03), 2)}],
        "strip_thickness_mm": below,
        "known_thing": "shank",
    }  # fmt: skip
    return expose(rng, out.astype(np.float32), blur_px=1.1, exposure=0.7), layout, typed
