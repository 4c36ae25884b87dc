"""Formed heads disguised while a net is fitted to them: other light, metal, lens and phone, the same geometry.

A net fitted to one renderer learns its tones too. Here everything but the place of the rim is altered at random:
what the flat top, the side, the shade and the sheet show, shadows across, texture, blur, the phone's tones.
Pictures are logarithms of light along rays, (heads, rays, samples), lengths in shank diameters.
"""

from __future__ import annotations

import cv2
import numpy as np

UNDISGUISED = 0.2  # share of rows shown as they were drawn
SHEET_FROM = 96  # samples: from here on a ray shows sheet


def disguised(level, rim, radius, rng):
    """Levels of the heads of one row (heads, rays, samples) in other light, rims (heads, rays) where they were."""
    if rng.random() < UNDISGUISED:
        return level
    heads, rays, _ = level.shape
    angle = (np.arange(rays) * (2 * np.pi / rays)).astype(np.float32)
    r = radius.astype(np.float32)[None, None, :]
    edge = rim.astype(np.float32)[:, :, None]
    x, y = (
        np.cos(angle)[:, None] * radius.astype(np.float32),
        np.sin(angle)[:, None] * radius.astype(np.float32),
    )
    soft = rng.uniform(0.012, 0.05)
    outside = _step((r - edge) / soft)
    out = level.astype(np.float32)
    if rng.random() < 0.35:  # the whole head darker or brighter against the sheet
        out = out + rng.normal(0, 0.4) * _uneven(angle, heads, rng) * (1 - outside)
    for _ in range(rng.choice([0, 0, 1, 2])):  # flat tops, turned rings, dishes
        at, wide = rng.uniform(0.15, 0.95), rng.uniform(0.012, 0.12)
        gap = r - edge * at * (1 + rng.normal(0, 0.02, (heads, 1, 1)))
        ring = np.exp(-0.5 * (gap / wide) ** 2) if rng.random() < 0.5 else _step(-gap / (0.5 * wide))
        out = out + rng.normal(0, 0.5) * _uneven(angle, heads, rng) * ring * (1 - outside)
    if rng.random() < 0.35:  # shade round the foot, or light thrown back
        deep = rng.uniform(0.1, 1.1) if rng.random() < 0.8 else -rng.uniform(0.05, 0.4)
        fall = np.exp(-np.maximum(r - edge, 0) / rng.uniform(0.04, 0.35))
        out = out - deep * _uneven(angle, heads, rng) * fall * outside
    if rng.random() < 0.25:  # the heads' own shadow
        to, far, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.1, 0.9), rng.uniform(0.8, 1.05)
        dark = size * edge.mean(axis=1, keepdims=True) - np.hypot(x - far * np.cos(to), y - far * np.sin(to))
        out = out - rng.uniform(0.15, 0.9) * _step(dark / rng.uniform(0.015, 0.2)) * outside
    if rng.random() < 0.2:  # something's shadow across
        to, wide = rng.uniform(0, 2 * np.pi), rng.uniform(0.2, 3.0)
        across = x * np.cos(to) + y * np.sin(to) - rng.uniform(-1.5, 1.5, (heads, 1, 1))
        dark = _step((wide / 2 - np.abs(across)) / rng.uniform(0.015, 0.3))
        out = out + rng.normal(-0.3, 0.4) * dark
    if rng.random() < 0.4:
        out = out + _texture(x, y, heads, rng) * (outside if rng.random() < 0.6 else 1)
    if rng.random() < 0.4:
        out = _blurred(out, rng.uniform(0.3, 3.5))
    if rng.random() < 0.4:
        veil = rng.uniform(0, 0.25)
        out = np.log(np.exp(out) + veil) - np.log1p(veil)
    if rng.random() < 0.5:
        knots = np.linspace(-4, 4, 9)
        rise = np.exp(rng.normal(0, 0.45, 8))
        curve = np.concatenate([[0], np.cumsum(rise)])
        curve = (curve - curve[4]) * (8 / (curve[-1] - curve[0])) ** 0.7
        out = np.interp(out, knots, curve).astype(np.float32)
    if rng.random() < 0.4:
        out = out + rng.uniform(0.1, 0.9) * (out - _blurred(out, rng.uniform(1.5, 4.0)))
    if rng.random() < 0.4:
        out = out + rng.normal(0, rng.uniform(0.01, 0.08), out.shape).astype(np.float32)
    out = out - np.median(out[:, :, SHEET_FROM:], axis=(1, 2))[:, None, None]
    return np.clip(out, -2.5, 2.5)


def _step(x):
    return 1 / (1 + np.exp(-np.clip(x, -30, 30)))


def _uneven(angle, heads, rng):
    """A smooth factor round the head, alike for all heads but a little: (heads, rays, 1)."""
    out = np.ones((heads, len(angle)))
    for lobes in (1, 2, 3):
        size = rng.normal(0, 0.5 / lobes) * (rng.random() < 0.6)
        out += size * np.cos(lobes * angle - rng.uniform(0, 2 * np.pi) + rng.normal(0, 0.2, (heads, 1)))
    return (out * (1 + rng.normal(0, 0.15, (heads, 1))))[:, :, None]


def _texture(x, y, heads, rng):
    """Brushed grain, or blots, over the picture of each head."""
    size, deep = 96, rng.uniform(0.02, 0.25)
    out = []
    for _ in range(heads):
        grain = rng.normal(0, 1, (size, size)).astype(np.float32)
        across, along = rng.uniform(0.4, 4.0), rng.uniform(0.4, 12.0)
        grain = cv2.GaussianBlur(grain, (0, 0), sigmaX=along, sigmaY=across)
        grain *= deep / max(float(grain.std()), 1e-6)
        to = rng.uniform(0, 2 * np.pi)
        u = (x * np.cos(to) + y * np.sin(to)) * 28 + size / 2
        v = (y * np.cos(to) - x * np.sin(to)) * 28 + size / 2
        out.append(
            cv2.remap(
                grain,
                u.astype(np.float32),
                v.astype(np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_WRAP,
            )
        )
    return np.stack(out)  # fmt: skip


def _blurred(level, sigma):
    """Blur along the rays, and across them as far as it is the same length in the middle of the rays."""
    across = sigma * 0.18
    ring = np.concatenate([level[:, -4:], level, level[:, :4]], axis=1).astype(np.float32)
    return np.stack(
        [cv2.GaussianBlur(one, (0, 0), sigmaX=sigma, sigmaY=max(across, 0.05))[4:-4] for one in ring]
    )
