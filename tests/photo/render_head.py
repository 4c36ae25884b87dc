"""A formed head in the tests' own photos: a barrel on a sheet, its light, its shade and what confuses the eye.

All heads of a row share one look (shape, light, metal), each with a little of its own. The largest section is
the truth; what the camera sees of it follows from casting rays at the barrel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

TRUE_HEIGHT = 0.35  # of a head's height: the plane on which its centre is stated


@dataclass(frozen=True)
class HeadLook:
    """What the heads of one row share; lengths in mm, angles in radians, heights as shares of the head's."""

    widest: float
    top: float
    top_power: float
    foot: float
    lobes: tuple
    sky: float
    ground: float
    diffuse: float
    tone: tuple
    contact: tuple  # kind, deep, wide, uneven, towards
    casts: tuple  # each: towards, length over height, deep, soft
    glow: tuple  # towards, deep, where, wide
    speckle: float
    grain: float
    dish: float
    turned: tuple  # depth and period of rings turned into the flat top
    scraped: tuple  # radius over the head's, width, tone, from, to
    sheet: float


def head_look(rng, *, sheet: float = 0.5) -> HeadLook:
    """A look drawn wide: clear barrels and nearly straight sides, soft and hard light, bare and primed."""
    lobes = []
    for _ in range(int(rng.integers(1, 6))):
        a, up = rng.uniform(0, 2 * np.pi), rng.uniform(0.0, 0.97)
        to = (np.cos(a) * np.sqrt(1 - up**2), np.sin(a) * np.sqrt(1 - up**2), up)
        lobes.append((to, rng.uniform(0.4, 0.97), 10 ** rng.uniform(-1.9, -0.6), rng.uniform(0.05, 1.1)))
    kind = int(rng.integers(0, 3))
    deep = rng.uniform(0.0, 0.12) if rng.random() < 0.2 else rng.uniform(0.1, 0.7)
    casts = tuple(
        (
            rng.uniform(0, 2 * np.pi),
            rng.uniform(0.1, 1.2),
            rng.uniform(0.05, 0.65),
            10 ** rng.uniform(-1.5, -0.4),
        )
        for _ in range(int(rng.integers(0, 4)))
    )
    primed = rng.random() < 0.2
    tone = rng.uniform(0.5, 1.05) * (np.array([0.4, 0.75, 0.55]) if primed else np.ones(3))
    start = rng.uniform(0, 2 * np.pi)
    return HeadLook(
        widest=rng.uniform(0.22, 0.5),
        top=rng.uniform(0.58, 0.93),
        top_power=rng.uniform(1.6, 4.0),
        foot=rng.uniform(0.72, 0.99),
        lobes=tuple(lobes),
        sky=rng.uniform(0.1, 0.75),
        ground=rng.uniform(0.02, 0.35),
        diffuse=rng.uniform(0.75, 1.0) if primed else rng.uniform(0.1, 1.0),
        tone=tuple(tone),
        contact=(
            kind,
            deep,
            rng.uniform(0.06, 0.5),
            rng.uniform(0, 0.6) * (rng.random() < 0.6),
            rng.uniform(0, 6.28),
        ),
        casts=casts,
        glow=(
            rng.uniform(0, 6.28),
            rng.uniform(0.05, 0.5) * (rng.random() < 0.4),
            rng.uniform(0.05, 0.8),
            rng.uniform(0.08, 0.4),
        ),
        speckle=0.02 if primed else rng.uniform(0.02, 0.25),
        grain=rng.uniform(0.02, 0.08) if rng.random() < 0.7 else rng.uniform(0.08, 0.25),
        dish=rng.uniform(-0.25, 0.25) * (rng.random() < 0.4),
        turned=(rng.uniform(0.02, 0.15) * (rng.random() < 0.3), rng.uniform(0.12, 0.4)),
        scraped=(
            rng.uniform(1.08, 1.6),
            rng.uniform(0.05, 0.35),
            rng.uniform(0.6, 1.5),
            start,
            start + rng.uniform(0.5, 6.28),
        )
        if rng.random() < 0.3
        else (),
        sheet=sheet,
    )


def lit_look(rng, *, sheet: float = 0.5) -> HeadLook:
    """A look whose parts belong together: lamps and windows, the shade each throws, head and sheet of one metal.

    Narrower than ``head_look`` where physics says so (shade falls away from the lamp and is darkest at the foot,
    a squeezed head bulges below its middle), as wide in what nobody knows: number, place, size and strength of
    the lights, finish, how much of the shade is open sky's.
    """
    lobes, casts = [], []
    for _ in range(int(rng.integers(1, 4))):
        a, elevation = rng.uniform(0, 2 * np.pi), np.radians(rng.uniform(15, 85))
        to = (np.cos(a) * np.cos(elevation), np.sin(a) * np.cos(elevation), np.sin(elevation))
        size = rng.uniform(0, 1)  # from a bulb to a window near by
        lobes.append(
            (to, 0.98 - 0.4 * size, 0.02 + 0.25 * size * rng.uniform(0.3, 1), 10 ** rng.uniform(-1.2, 0.2))
        )
        if rng.random() < 0.75:
            length = min(1 / np.tan(elevation), 1.6)
            casts.append(
                (a + np.pi, length, rng.uniform(0.05, 0.5), 0.05 + rng.uniform(0.1, 0.6) * (0.2 + size))
            )
    bare = rng.random() < 0.85
    tone = np.full(
        3, np.clip(sheet * rng.uniform(0.7, 1.5), 0.15, 1.1) if rng.random() < 0.7 else rng.uniform(0.3, 1.1)
    )
    if not bare:
        tone = tone * np.array([0.6, 1.0, 0.75])
    return HeadLook(
        widest=rng.uniform(0.28, 0.42),
        top=rng.uniform(0.6, 0.9),
        top_power=rng.uniform(1.7, 3.2),
        foot=rng.uniform(0.78, 0.97),
        lobes=tuple(lobes),
        sky=rng.uniform(0.25, 0.95),
        ground=rng.uniform(0.03, 0.45),
        diffuse=rng.uniform(0.1, 0.9) if bare else rng.uniform(0.75, 1.0),
        tone=tuple(tone),
        contact=(
            int(rng.integers(0, 3)),
            rng.uniform(0.15, 0.75),
            rng.uniform(0.1, 0.6),
            rng.uniform(0, 0.5) * (rng.random() < 0.5),
            casts[0][0] if casts else 0.0,
        ),
        casts=tuple(casts),
        glow=(rng.uniform(0, 6.28), rng.uniform(0.05, 0.3) * (rng.random() < 0.2), rng.uniform(0.05, 0.8), rng.uniform(0.1, 0.4)),
        speckle=rng.uniform(0.03, 0.3) if bare else 0.03,
        grain=10 ** rng.uniform(-1.7, -0.7),
        dish=rng.uniform(-0.2, 0.2) * (rng.random() < 0.4),
        turned=(rng.uniform(0.02, 0.1) * (rng.random() < 0.15), rng.uniform(0.12, 0.4)),
        scraped=(),
        sheet=sheet,
    )  # fmt: skip


def in_soft_light(look: HeadLook) -> HeadLook:
    """The same heads under white paper or an overcast sky: broad lights, no cast shadow with an edge to it."""
    lobes = tuple((to, cut, max(soft, 0.2), gain * 0.7) for to, cut, soft, gain in look.lobes)
    casts = tuple((to, length, 0.25 * deep, max(soft, 0.35)) for to, length, deep, soft in look.casts)
    return replace(look, lobes=lobes, casts=casts)


def _light(look: HeadLook, nx, ny, nz):
    out = look.ground + (look.sky - look.ground) * np.clip(nz, 0, 1) ** np.float32(1.5)
    for to, cut, soft, gain in look.lobes:
        dot = nx * np.float32(to[0]) + ny * np.float32(to[1]) + nz * np.float32(to[2])
        out += np.float32(gain) / (1 + np.exp(-np.clip((dot - np.float32(cut)) / np.float32(soft), -30, 30)))
    return out


def _angle_gap(angle, towards):
    return np.cos(angle - np.float32(towards))


def paint_head(rng, part, px, py, sx, sy, lit, head, look: HeadLook) -> None:
    """Paint one head and its shade into ``part`` (h, w, 3), linear light, in place.

    ``px``, ``py`` are places on the sheet from the head's centre (mm), ``sx``, ``sy`` the rays' slopes (mm a mm
    of height), ``lit`` the light that falls there.
    """
    c, s = np.float32(np.cos(head["turn"])), np.float32(np.sin(head["turn"]))
    a, b, tall = head["d_max"] / 2, head["d_min"] / 2, head["tall"]
    mean = np.float32((a + b) / 2)

    def radius(qx, qy):
        return np.hypot((qx * c + qy * s) / np.float32(a), (-qx * s + qy * c) / np.float32(b))

    # the picture's plane is the sheet; the largest section's centre is stated in its own plane
    rim = radius(px, py)
    angle = np.arctan2(py, px)
    out = np.maximum((rim - np.float32(look.foot)) * mean, 0)
    kind, deep, wide, uneven, towards = look.contact
    near = (
        np.exp(-out / wide)
        if kind == 0
        else np.exp(-0.5 * (out / wide) ** 2)
        if kind == 1
        else 1 / (1 + (out / wide) ** 2)
    )
    light = 1 - np.clip(deep * (1 + uneven * _angle_gap(angle, towards)), 0, 0.9) * near
    for towards, length, deep, soft in look.casts:
        dark = np.zeros_like(px)
        for u in (0.35, 0.6, 0.8, 1.0):
            far = u * tall * length
            shadow = (
                radius(px - np.float32(far * np.cos(towards)), py - np.float32(far * np.sin(towards)))
                - self_radius(look, u)
            ) * mean
            dark = np.maximum(
                dark, 1 / (1 + np.exp(np.clip(shadow / np.float32(soft * max(u, 0.3)), -30, 30)))
            )
        light = light * (1 - deep * dark)
    towards, deep, where, wide = look.glow
    if deep:
        facing = np.clip(_angle_gap(angle, towards), 0, 1) ** 3
        light = light + deep * facing * np.exp(-0.5 * ((out - where) / wide) ** 2)
    if look.scraped:
        at, wide, tone, first, last = look.scraped
        ring = np.abs(rim - at) * mean < wide / 2
        light = np.where(ring & ((angle - first) % 6.2832 < last - first), light * tone, light)
    part *= light.astype(np.float32)[..., None]
    i, j = np.nonzero(rim < 1.6)
    if not len(i):
        return
    box = (slice(i.min(), i.max() + 1), slice(j.min(), j.max() + 1))
    _barrel(
        rng, part[box], px[box], py[box], sx[box], sy[box], lit[box], (a, b, c, s, tall, head["lean"]), look
    )


def self_radius(look: HeadLook, u: float) -> float:
    """Section at height ``u`` over the largest one."""
    if u > look.widest:
        return 1 - (1 - look.top) * ((u - look.widest) / (1 - look.widest)) ** look.top_power
    return 1 - (1 - look.foot) * ((look.widest - u) / look.widest) ** 2


def _barrel(rng, part, px, py, sx, sy, lit, shape, look: HeadLook) -> None:
    a, b, c, s, tall, lean = shape
    mean = (a + b) / 2
    todo = np.ones(px.shape, bool)
    level = np.full(px.shape, -1, np.float32)
    before, last_u = None, 1.0
    for u in np.r_[1.0, np.linspace(0.985, 0.0, 26)]:
        qx, qy = _at_height(px, py, sx, sy, u, tall, lean)
        gap = np.hypot((qx * c + qy * s) / np.float32(a), (-qx * s + qy * c) / np.float32(b)) - np.float32(
            self_radius(look, u)
        )
        hit = todo & (gap <= 0)
        if before is None:
            level[hit] = 1.0
        else:
            share = before[hit] / np.maximum(before[hit] - gap[hit], 1e-6)
            level[hit] = last_u + share * np.float32(u - last_u)
        todo &= ~hit
        before, last_u = gap, u
    head = level >= 0
    if not head.any():
        return
    u = level[head]
    qx, qy = _at_height(px[head], py[head], sx[head], sy[head], u, tall, lean)
    ex, ey = (qx * c + qy * s) / np.float32(a**2), (-qx * s + qy * c) / np.float32(b**2)
    gx, gy = ex * c - ey * s, ex * s + ey * c
    g = np.maximum(np.hypot(gx, gy), 1e-6)
    flat = u >= 0.999
    t = np.clip((u - look.widest) / (1 - look.widest), 0, 1)
    w = np.clip((look.widest - u) / look.widest, 0, 1)
    fall = (1 - look.top) * look.top_power * t ** np.float32(look.top_power - 1) / (1 - look.widest)
    fall = fall - (1 - look.foot) * 2 * w / look.widest
    nz = np.float32(mean / tall) * fall
    noise = rng.normal(0, look.grain, (2, u.size)).astype(np.float32)
    nx, ny = gx / g + noise[0], gy / g + noise[1]
    rough = rng.normal(0, look.speckle, (2, int(flat.sum()))).astype(np.float32)
    depth, period = look.turned
    out = np.hypot(qx, qy)[flat]
    wave = np.float32(depth) * np.sin(out * np.float32(6.2832 / period)) + np.float32(
        look.dish
    ) * out / np.float32(mean)
    nx[flat], ny[flat], nz[flat] = (
        gx[flat] / g[flat] * wave + rough[0],
        gy[flat] / g[flat] * wave + rough[1],
        1.0,
    )
    n = np.sqrt(nx**2 + ny**2 + nz**2)
    nx, ny, nz = nx / n, ny / n, nz / n
    # what a matt side sees: all round; below the horizon the sheet, dark near the foot
    _, deep, wide, _, _ = look.contact
    shade = np.float32(1) - np.float32(deep) * np.exp(-np.maximum(u, 0) * np.float32(tall / wide))
    below = np.float32(look.sheet) * shade
    up = np.clip(0.5 + 0.5 * nz / 0.15, 0, 1)
    matt = up * _light(look, nx, ny, nz) + (1 - up) * below
    rx, ry, rz = 2 * nz * nx, 2 * nz * ny, 2 * nz * nz - 1  # seen from straight above
    up = np.clip(0.5 + 0.5 * rz / 0.1, 0, 1)
    shiny = up * _light(look, rx, ry, rz) + (1 - up) * below
    value = (look.diffuse * matt + (1 - look.diffuse) * shiny) * lit[head]
    part[head] = value[:, None] * np.asarray(look.tone, np.float32)


def _at_height(px, py, sx, sy, u, tall, lean):
    up = np.float32(tall) * (u - np.float32(0.0))
    more = np.maximum(u - np.float32(TRUE_HEIGHT), 0)
    return px - sx * up - np.float32(lean[0]) * more, py - sy * up - np.float32(lean[1]) * more
