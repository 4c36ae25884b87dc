"""Formed heads drawn another way: rays cast at a turned barrel that mirrors a room, on a sheet that mirrors it too.

No net is fitted to these and no threshold is set on them: they stand for the world outside ``render_head``, with
which this module shares no formula. Light comes from one picture of the surroundings (windows, lamps, paper, the
dark shape of whoever holds the phone, the phone itself straight above); what the flat top and the side show, and
every shade on the sheet, follows from it by sampling directions. Metal is rough facets about the true normal, with
Fresnel's and shadowing's factors; the side also sees the sheet round its foot.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

SIZE, HALF = 121, 1.2  # the surroundings as an equal-area disc: the horizon is its unit circle
ROUGH = (0.0, 1.2, 3.0, 6.0, 11.0, 20.0)  # blur of the copies of it, cells
SKY_RAYS, SHEEN_RAYS, FACETS = 96, 28, 10


@dataclass(frozen=True)
class Room:
    """What the heads of a row share: surroundings at several roughnesses, metal and shape."""

    seen: np.ndarray  # (roughnesses, SIZE, SIZE)
    rays: np.ndarray  # directions (n, 3) from which the sheet is lit, each with ``worth``
    worth: np.ndarray
    sheen: np.ndarray  # directions that the sheet mirrors to the camera
    sheet_gloss: float
    widest: float
    foot: float
    top: float
    bulge: float  # power of the barrel's side
    shoulder: float  # height of the rounding below the flat top, share of the head's
    rough: float
    gloss: float
    tone: float
    tint: np.ndarray
    dents: tuple
    bumps: float
    sheet: float


def room(rng, *, sheet: float, soft: bool) -> Room:
    """A room drawn at random; ``soft`` as the instructions ask: paper, overcast, no lamp."""
    picture = _surroundings(rng, soft)
    lit = float(_look_up(picture[None], *_hemisphere(200).T, 0.0).mean())
    picture = np.where(_disc()[2] < 0, np.float32(lit * sheet * 0.7), picture)
    picture = (picture / max(lit, 1e-6)).astype(np.float32)
    seen = np.stack([picture if s == 0 else cv2.GaussianBlur(picture, (0, 0), s) for s in ROUGH])
    rays = _hemisphere(SKY_RAYS)
    worth = _look_up(seen, *rays.T, 1.4)
    along, across = rng.uniform(0.08, 0.4), rng.uniform(0.05, 0.2)
    turn, k = rng.uniform(0, np.pi), np.arange(SHEEN_RAYS)
    far, a = np.sqrt(-2 * np.log(1 - (k + 0.5) / SHEEN_RAYS)), k * 2.39996
    mx, my = along * far * np.cos(a), across * far * np.sin(a)
    mx, my = mx * np.cos(turn) - my * np.sin(turn), mx * np.sin(turn) + my * np.cos(turn)
    sheen = np.column_stack([2 * mx, 2 * my, 1 - mx**2 - my**2]) / (1 + mx**2 + my**2)[:, None]
    sheen = sheen[sheen[:, 2] > 0.1]
    primed = rng.random() < 0.15
    return Room(
        seen=seen,
        rays=rays,
        worth=worth / max(worth.sum(), 1e-6),
        sheen=sheen,
        sheet_gloss=rng.uniform(0.0, 0.85),
        widest=rng.uniform(0.3, 0.42),
        foot=rng.uniform(0.8, 0.96),
        top=rng.uniform(0.66, 0.9),
        bulge=rng.uniform(1.7, 3.0),
        shoulder=rng.uniform(0.01, 0.1),
        rough=float(10 ** rng.uniform(-1.5, -0.45)),
        gloss=0.05 if primed else rng.uniform(0.45, 0.97),
        tone=sheet * rng.uniform(0.8, 1.4) if rng.random() < 0.6 else rng.uniform(0.35, 0.95),
        tint=np.array([0.6, 0.95, 0.75] if primed else [0.97, 1.0, 1.0]),
        dents=tuple((rng.uniform(0, 0.7), rng.uniform(0, 6.28), rng.uniform(0.05, 0.25), rng.normal(0, 0.2)) for _ in range(int(rng.integers(0, 5)))),
        bumps=float(10 ** rng.uniform(-2.0, -0.9)),
        sheet=sheet,
    )  # fmt: skip


def _disc():
    """Directions of the disc's cells, (x, y, z): z < 0 below the horizon."""
    v, u = np.mgrid[0:SIZE, 0:SIZE].astype(np.float32) / (SIZE - 1) * 2 * HALF - HALF
    r2 = np.minimum(u**2 + v**2, 1.99)
    s = np.sqrt(2 - r2)
    return u * s, v * s, 1 - r2


def _surroundings(rng, soft):
    x, y, z = _disc()
    around = np.arctan2(y, x)
    up = np.degrees(np.arcsin(np.clip(z, -1, 1)))

    def box(azimuth, elevation, wide, tall, edge):
        da = np.degrees(np.abs((around - azimuth + np.pi) % (2 * np.pi) - np.pi)) * np.cos(
            np.radians(np.clip(up, 0, 89))
        )
        inside = np.minimum(wide - da, tall - np.abs(up - elevation))
        return 1 / (1 + np.exp(-np.clip(inside / edge, -30, 30)))  # fmt: skip

    walls, ceiling = rng.uniform(0.1, 0.6), rng.uniform(0.2, 1.0)
    out = walls + (ceiling - walls) * np.clip(z, 0, 1) ** rng.uniform(0.5, 2.0)
    for _ in range(int(rng.integers(3, 9))):  # what stands about
        out = out * (
            1
            + rng.uniform(-0.7, 0.8)
            * box(rng.uniform(0, 6.28), rng.uniform(0, 25), rng.uniform(5, 40), rng.uniform(3, 18), 2.0)
        )
    if soft:  # white paper round the row, or an overcast sky, with a gap to one side
        out = 0.25 * out + rng.uniform(0.5, 1.0)
        out = out * (
            1
            - rng.uniform(0, 0.7)
            * box(
                rng.uniform(0, 6.28),
                rng.uniform(0, 40),
                rng.uniform(15, 60),
                rng.uniform(10, 40),
                rng.uniform(3, 12),
            )
        )
        for _ in range(int(rng.integers(0, 3))):
            out = out + rng.uniform(0.3, 1.5) * box(
                rng.uniform(0, 6.28), rng.uniform(15, 75), rng.uniform(20, 45), rng.uniform(12, 30), 6.0
            )
    else:
        for _ in range(int(rng.integers(1, 4))):  # windows, tubes, lamps
            size = rng.uniform(3, 30)
            out = out + rng.uniform(1.0, 5.0) * (12 / size) ** 0.7 * box(
                rng.uniform(0, 6.28),
                rng.uniform(8, 85),
                size,
                size * rng.uniform(0.3, 1.0),
                rng.uniform(0.7, 4),
            )
    if rng.random() < 0.8:  # whoever holds the phone
        out = out * (
            1
            - rng.uniform(0.4, 0.95)
            * box(
                rng.uniform(0, 6.28),
                rng.uniform(10, 45),
                rng.uniform(15, 45),
                rng.uniform(15, 45),
                rng.uniform(2, 8),
            )
        )
    phone = np.maximum(
        np.abs(x - rng.uniform(-0.2, 0.2)) / rng.uniform(0.15, 0.3),
        np.abs(y - rng.uniform(-0.2, 0.2)) / rng.uniform(0.15, 0.4),
    )
    out = np.where((phone < 1) & (z > 0), out * rng.uniform(0.15, 0.8), out)
    return np.maximum(out, 0.01).astype(np.float32)  # fmt: skip


def _hemisphere(count):
    """Directions spread evenly for a level surface: each counts by its cosine."""
    k = np.arange(count)
    r, a = np.sqrt((k + 0.5) / count), k * 2.39996
    return np.column_stack([r * np.cos(a), r * np.sin(a), np.sqrt(1 - r**2)])


def _look_up(seen, x, y, z, blur):
    """Light from directions, at a roughness in cells."""
    s = np.float32((SIZE - 1) / 2) / np.float32(HALF) / np.sqrt(np.maximum(1 + z, 0.02))
    u, v = (x * s + (SIZE - 1) / 2).astype(np.float32), (y * s + (SIZE - 1) / 2).astype(np.float32)
    shape, wide = u.shape, 1024
    u, v = (np.resize(w.ravel(), (-(-w.size // wide), wide)) for w in (u, v))  # rows that remap can take
    level = float(np.interp(blur, ROUGH, range(len(ROUGH))))
    low = min(int(level), len(seen) - 1)
    high = min(low + 1, len(seen) - 1)
    a = cv2.remap(seen[low], u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    b = cv2.remap(seen[high], u, v, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    both = a + (b - a) * np.float32(level - low)
    return both.ravel()[: int(np.prod(shape))].reshape(shape)


def section(made: Room, u):
    """Radius over the largest at heights ``u`` (0 to 1) of a barrel with a rounded shoulder."""
    u = np.clip(np.asarray(u, np.float32), 0, 1)
    above = np.clip((u - made.widest) / (1 - made.widest), 0, 1)
    below = np.clip((made.widest - u) / made.widest, 0, 1)
    out = 1 - (1 - made.top) * above**made.bulge - (1 - made.foot) * below**2
    t = np.clip((u - 1 + made.shoulder) / made.shoulder, 0, 1)
    return out - made.shoulder * 0.5 * (1 - np.sqrt(np.maximum(1 - t**2, 0)))


class _Barrel:
    """One head: how far places lie from its axis, in units of the largest section."""

    def __init__(self, head, made):
        self.c, self.s = np.float32(np.cos(head["turn"])), np.float32(np.sin(head["turn"]))
        self.a, self.b = np.float32(head["d_max"] / 2), np.float32(head["d_min"] / 2)
        self.tall, self.lean, self.made = np.float32(head["tall"]), head["lean"], made

    def radius(self, x, y, u):
        more = np.maximum(u - np.float32(self.made.widest), 0)
        x, y = x - np.float32(self.lean[0]) * more, y - np.float32(self.lean[1]) * more
        return np.hypot((x * self.c + y * self.s) / self.a, (y * self.c - x * self.s) / self.b), x, y

    def hides(self, x, y, slope_x, slope_y):
        """Whether the way from places on the sheet up along a slope meets the head."""
        out = np.zeros(x.shape, bool)
        for u in (0.05, 0.35, 0.55, 0.78, 1.0):
            h, most = np.float32(u) * self.tall, np.float32(section(self.made, u) ** 2)
            more = max(u - self.made.widest, 0.0)
            qx = x + np.float32(slope_x * h - self.lean[0] * more)
            qy = y + np.float32(slope_y * h - self.lean[1] * more)
            along, across = (qx * self.c + qy * self.s) / self.a, (qy * self.c - qx * self.s) / self.b
            out |= along * along + across * across < most
        return out


def paint_mirrored(rng, part, px, py, sx, sy, lit, head, made: Room) -> None:
    """Paint one head and what it keeps from the sheet into ``part`` (h, w, 3), linear light, in place.

    ``px``, ``py``: places on the sheet from the head's centre, mm; ``sx``, ``sy``: the sight lines' slopes.
    """
    barrel = _Barrel(head, made)
    shade = _shade(barrel, px, py, made)
    part *= shade[..., None]
    near = np.hypot(px, py) < 0.75 * head["d_max"] + 0.6
    i, j = np.nonzero(near)
    if not len(i):
        return
    box = (slice(i.min(), i.max() + 1), slice(j.min(), j.max() + 1))
    u = _met(barrel, px[box], py[box], sx[box], sy[box])
    hit = u >= 0
    if not hit.any():
        return
    u, vx, vy = u[hit], sx[box][hit], sy[box][hit]
    h = u * barrel.tall
    x, y = px[box][hit] - vx * h, py[box][hit] - vy * h
    n = _normal(rng, barrel, x, y, u)
    value = _metal(rng, n, (-vx, -vy, np.ones_like(vx)), (x, y, h), (px, py, shade), made)
    part[box][hit] = (value * lit[box][hit] * np.float32(made.tone))[:, None] * made.tint.astype(np.float32)


def _shade(barrel, px, py, made):
    """What is left of the sheet's light near a head."""
    step = 4 if px.shape[0] > 150 else 1
    x, y = px[::step, ::step], py[::step, ::step]
    level = np.zeros(x.shape, np.float32)
    for (a, b, c), worth in zip(made.rays, made.worth, strict=True):
        level += np.float32(worth) * ~barrel.hides(x, y, np.float32(a / c), np.float32(b / c))
    if made.sheet_gloss > 0.02:
        sheen, whole = np.zeros(x.shape, np.float32), 0.0
        worth = _look_up(made.seen, *made.sheen.T, 1.5)
        own = np.float32(0.35 * made.tone)  # what the sheet mirrors of the head
        for (a, b, c), w in zip(made.sheen, worth, strict=True):
            hidden = barrel.hides(x, y, np.float32(a / c), np.float32(b / c))
            sheen += np.where(hidden, own, np.float32(w))
            whole += float(w)
        level = (1 - made.sheet_gloss) * level + made.sheet_gloss * sheen / np.float32(whole)
    level = cv2.GaussianBlur(level, (0, 0), 0.8)
    return cv2.resize(level, px.shape[::-1], interpolation=cv2.INTER_LINEAR) if step > 1 else level


def _met(barrel, px, py, sx, sy):
    """Height (share) at which the sight lines meet the head, -1 where they don't."""

    def gap(u):
        h = u * barrel.tall
        return barrel.radius(px - sx * h, py - sy * h, u)[0] - section(barrel.made, u)

    found = np.full(px.shape, -1, np.float32)
    below = np.full(px.shape, 1, np.float32)
    before = gap(np.float32(1.0))
    found[before <= 0] = 1.0
    for u in np.linspace(0.96, 0.0, 18, dtype=np.float32):
        now = gap(np.full(px.shape, u, np.float32))
        new = (found < 0) & (now <= 0)
        if new.any():
            low, high = np.full(px.shape, u, np.float32), below.copy()
            for _ in range(3):
                mid = (low + high) / 2
                inside = gap(mid) <= 0
                low, high = np.where(inside, mid, low), np.where(inside, high, mid)
            found = np.where(new, low, found)
        below = np.full(px.shape, u, np.float32)
    return found


def _normal(rng, barrel, x, y, u):
    made = barrel.made
    _, x0, y0 = barrel.radius(x, y, u)
    ex, ey = (x0 * barrel.c + y0 * barrel.s) / barrel.a**2, (y0 * barrel.c - x0 * barrel.s) / barrel.b**2
    nx, ny = ex * barrel.c - ey * barrel.s, ex * barrel.s + ey * barrel.c
    size = np.maximum(np.hypot(nx, ny), 1e-6)
    mean = (barrel.a + barrel.b) / 2
    fall = -(section(made, u + 2e-3) - section(made, u - 2e-3)) / np.float32(4e-3) * mean / barrel.tall
    nx, ny, nz = nx / size, ny / size, fall
    flat = u > 0.998
    sx = sy = np.zeros(int(flat.sum()), np.float32)
    for far, a, wide, deep in made.dents:  # the set's marks in the flat top
        dx, dy = x0[flat] - far * mean * np.cos(a), y0[flat] - far * mean * np.sin(a)
        bell = np.exp(-(dx**2 + dy**2) / (2 * (wide * mean) ** 2)) * deep / (wide * mean)
        sx, sy = sx + bell * dx, sy + bell * dy
    nx, ny, nz = (v.astype(np.float32) for v in (nx, ny, nz))
    nx[flat], ny[flat], nz[flat] = sx, sy, 1.0
    bump = rng.normal(0, made.bumps, (3, len(nx))).astype(np.float32)
    n = np.stack([nx, ny, nz]) / np.sqrt(nx**2 + ny**2 + nz**2) + bump
    return n / np.sqrt((n**2).sum(axis=0))


def _metal(rng, n, view, at, around, made):
    """Light towards the camera: rough facets that mirror room and sheet, and a matt part."""
    view = np.stack(view) / np.sqrt(sum(v**2 for v in view))
    turn = rng.uniform(0, 2 * np.pi, n.shape[1]).astype(np.float32)
    side = np.stack([-n[1], n[0], np.zeros_like(n[0])])
    side[0] += 1e-6
    side /= np.sqrt((side**2).sum(axis=0))
    other = np.cross(n.T, side.T).T
    total, weight = np.zeros(n.shape[1], np.float32), np.zeros(n.shape[1], np.float32)
    for k in range(FACETS):
        share = (k + 0.5) / FACETS
        tilt = made.rough * np.sqrt(share / (1 - share + 1e-3)) if k < FACETS - 1 else made.rough * 2.5
        a = turn + np.float32(k * 2.39996)
        m = n + np.float32(tilt) * (np.cos(a) * side + np.sin(a) * other)
        m /= np.sqrt((m**2).sum(axis=0))
        cos = (view * m).sum(axis=0)
        out = 2 * cos * m - view
        fresnel = 0.88 + 0.12 * np.clip(1 - cos, 0, 1) ** 5
        facing = np.clip((out * n).sum(axis=0), 0, 1)
        hidden = 2 * facing / (facing + np.sqrt(made.rough**2 + (1 - made.rough**2) * facing**2) + 1e-6)
        worth = np.clip(cos, 0, 1) * fresnel * hidden
        total += worth * _from(out, at, around, made, 0.6 + 6 * made.rough)
        weight += np.clip(cos, 0, 1)
    mirror = total / np.maximum(weight, 1e-6)
    matt = _from(n, at, around, made, ROUGH[-1])
    return np.maximum(made.gloss * mirror + (1 - made.gloss) * matt, 0)


def _from(to, at, around, made, blur):
    """Light that comes from a direction: the room above, the shaded sheet below the horizon."""
    sky = _look_up(made.seen, *to, blur)
    x, y, h = at
    px, py, shade = around
    down = np.minimum(to[2], -0.03)
    u = x - to[0] / down * h
    v = y - to[1] / down * h
    rows, columns = px.shape
    gx = (px[0, -1] - px[0, 0]) / (columns - 1)
    gy = (py[-1, 0] - py[0, 0]) / (rows - 1)
    i = np.clip((v - py[0, 0]) / gy, 0, rows - 1).astype(np.int64)
    j = np.clip((u - px[0, 0]) / gx, 0, columns - 1).astype(np.int64)
    sheet = shade[i, j] * np.float32(made.sheet)
    share = np.clip(0.5 + to[2] / 0.06, 0, 1)
    return share * sky + (1 - share) * sheet


def another_phone(rng, scene, *, blur_px, motion_px=0.0, exposure=0.75):
    """Linear light to an 8-bit picture by another phone: its own curve, smoothing, local contrast, halo, colour."""
    img = cv2.GaussianBlur(scene, (0, 0), blur_px * rng.uniform(0.85, 1.0))
    if motion_px > 0.5:
        size, a = int(np.ceil(motion_px)) | 1, rng.uniform(0, np.pi)
        kernel = np.zeros((size, size), np.float32)
        c = (size - 1) / 2
        for t in np.linspace(-0.5, 0.5, 60):
            kernel[round(c + t * (size - 1) * np.sin(a)), round(c + t * (size - 1) * np.cos(a))] += 1
        img = cv2.filter2D(img, -1, kernel / kernel.sum())
    img = img * np.float32(exposure * rng.uniform(0.85, 1.1)) * rng.uniform(0.94, 1.06, 3).astype(np.float32)
    img = img + rng.uniform(0, 0.015) * cv2.blur(img, (301, 301))  # flare
    noise = rng.normal(0, 1, img.shape).astype(np.float32)
    img = img + noise * np.sqrt(np.maximum(img, 0) * rng.uniform(5e-5, 4e-4) + 2e-6)
    coded = np.power(np.clip(img, 0, 4), 1 / np.float32(rng.uniform(2.0, 2.4)))
    bend = rng.uniform(0.0, 0.35)  # a film's shoulder and toe
    coded = np.where(coded < 1, coded + bend * coded * (1 - coded) * (coded - 0.45), 1.0)
    if rng.random() < 0.5:
        coded = cv2.bilateralFilter(coded.astype(np.float32), 5, rng.uniform(0.02, 0.06), 1.5)
    if rng.random() < 0.5:  # local contrast
        broad = cv2.blur(cv2.blur(coded, (61, 61)), (61, 61))
        coded = coded + rng.uniform(-0.15, 0.3) * (coded - broad)
    sigma = rng.uniform(0.9, 2.2)
    coded = coded + rng.uniform(0.0, 1.0) * (coded - cv2.GaussianBlur(coded, (0, 0), sigma))
    return (np.clip(coded, 0, 1) * 255 + 0.5).astype(np.uint8)
