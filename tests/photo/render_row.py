"""The tests' own photos of rivet rows beside a strip, with a known answer."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np

from photo.render_camera import (
    HEIGHT,
    WIDTH,
    background,
    expose,
    light,
    make_camera,
    sheet_texture,
    smooth_noise,
)
from photo.render_head import head_look, in_soft_light, lit_look, paint_head
from photo.render_mirrored import another_phone, paint_mirrored, room
from photo.render_profile import _fine
from ribwright.core.metrology.gauge_sheet import rivet_strip_layout


@dataclass(frozen=True)
class RowScene:
    """One row photo to make."""

    seed: int
    shank_mm: float = 3.2
    count: int = 8
    pitch_mm: float = 15.0
    flush: bool = False
    background: str = "dark cloth"
    painted: bool = False
    distance: float = 185.0
    tilt_deg: float = 4.0
    blur_px: float = 1.3
    motion_px: float = 0.0
    print_scale: float = 1.0
    quality: int = 86
    exposure: float = 0.7
    spoiled: int = 2
    missing: int = 0
    shadows: int = 2
    edge_mm: float = 8.0
    gap_mm: float = 8.0
    rough: bool = False
    worn: bool = False
    soft: bool = False
    lit: bool = False
    mirrored: bool = False  # heads and phone of ``render_mirrored``, to which nothing was fitted
    holes: str = ""  # "holes" or "dimples" instead of heads
    twice_mm: float = 0.0  # how far apart the two drillings of a spoiled hole are


def render_row(scene: RowScene):
    """Make one photo: picture (h, w, 3) uint8, layout, typed input, truth."""
    rng = np.random.default_rng(20_000 + scene.seed)
    layout = rivet_strip_layout()
    w, h = np.array(layout["size"]) * scene.print_scale
    strip_mm = 0.13
    D = scene.shank_mm
    tall = 0.0 if scene.flush or scene.holes else 0.5 * D * rng.uniform(0.9, 1.1)
    span = (scene.count - 1) * scene.pitch_mm
    x0, y0 = w / 2 - span / 2 + rng.uniform(-4, 4), h + scene.gap_mm + rng.uniform(-1.5, 1.5)
    run = np.radians(rng.normal(0, 0.6))
    heads = []
    spoiled = set(rng.permutation(scene.count)[: scene.spoiled].tolist())
    squeezed = rng.normal(1, 0.05)  # a whole row is driven a little more or less
    for k in range(scene.count):
        nominal = (
            1.02 * D
            if scene.holes
            else 1.9 * D
            if scene.flush
            else float(np.clip(1.5 * squeezed, 1.36, 1.66)) * D
        )
        mean, oval = nominal * (1 + rng.normal(0, 0.02)), abs(rng.normal(0, 0.015))
        if scene.holes:
            mean, oval = D * rng.uniform(1.01, 1.04), 0.0
            if k in spoiled:  # drilled twice: as long as both together, as wide as one
                mean, oval = mean + scene.twice_mm / 2, scene.twice_mm / (mean + scene.twice_mm / 2)
        if k in spoiled and not scene.flush and not scene.holes:
            what = rng.integers(0, 3)
            mean = (
                D * rng.uniform(1.12, 1.26)
                if what == 0
                else D * rng.uniform(1.79, 1.9)
                if what == 1
                else mean
            )
            oval = rng.uniform(0.13, 0.22) if what == 2 else oval
        heads.append(
            {
                "cx": x0 + k * scene.pitch_mm * np.cos(run) + rng.normal(0, 0.15),
                "cy": y0 + k * scene.pitch_mm * np.sin(run) + rng.normal(0, 0.15),
                "d_max": mean * (1 + oval / 2),
                "d_min": mean * (1 - oval / 2),
                "turn": rng.uniform(0, np.pi),
                "lean": rng.normal(0, 0.07, 2) * mean if scene.rough else np.zeros(2),
                "tall": tall * rng.uniform(0.93, 1.07) * (nominal / mean if tall else 1),
            }
        )
    slope = np.tan(np.radians(rng.normal(0, 0.8)))
    edge0 = y0 + scene.edge_mm + rng.uniform(-0.4, 0.4) - slope * w / 2
    camera = make_camera(
        rng, look_at=np.array([w / 2, h / 2 + 6]), distance=scene.distance, tilt_deg=scene.tilt_deg
    )
    linear = _row_picture(rng, scene, layout, heads, edge0, slope, camera, strip_mm)
    take = another_phone if scene.mirrored else expose
    picture = take(rng, linear, blur_px=scene.blur_px, motion_px=scene.motion_px, exposure=scene.exposure)
    drawn = heads[: scene.count - scene.missing]
    bar = layout["bars"][0]
    typed = {
        "flush": scene.flush,
        "row": "below the strip",
        "rivet_D_mm": D,
        "expected_count": scene.count,
        "pitch_nominal_mm": round(scene.pitch_mm, 1),
        "bars_measured": [
            {
                "name": bar["name"],
                "nominal_mm": bar["nominal_mm"],
                "measured_mm": round(bar["nominal_mm"] * scene.print_scale + rng.normal(0, 0.04), 2),
            }
        ],
        "strip_thickness_mm": strip_mm,
        "nominal_head_height_mm": 0.0 if scene.flush else round(0.5 * D, 2),
        "limits": {
            "d_min_over_D": 1.3,
            "d_max_over_D": 2.2 if scene.flush else 1.75,
            "ovality_max": 0.1,
            "edge_distance_min_over_D": 1.8,
        },
    }
    if scene.holes:
        typed |= {
            "what": scene.holes,
            "nominal_head_height_mm": 0.0,
            "limits": {**typed["limits"], "d_min_over_D": 0.98, "d_max_over_D": 1.1, "ovality_max": 0.05},
        }
    truth = []
    for k, head in enumerate(drawn):
        away = (edge0 + slope * head["cx"] - head["cy"]) / np.hypot(1, slope)
        nxt = drawn[k + 1] if k + 1 < len(drawn) else None
        mean = (head["d_max"] + head["d_min"]) / 2
        limits = typed["limits"]
        ok = (
            head["d_min"] >= limits["d_min_over_D"] * D
            and head["d_max"] <= limits["d_max_over_D"] * D
            and (head["d_max"] - head["d_min"]) / mean <= limits["ovality_max"]
            and away >= limits["edge_distance_min_over_D"] * D
        )
        truth.append(
            {
                "cx": head["cx"],
                "cy": head["cy"],
                "d_max": head["d_max"],
                "d_min": head["d_min"],
                "edge_distance_mm": away,
                "accept": bool(ok),
                "pitch_to_next_mm": None
                if nxt is None
                else float(np.hypot(nxt["cx"] - head["cx"], nxt["cy"] - head["cy"])),
            }
        )
    return picture, layout, typed, {"heads": truth}


def row_painter(rng, scene, layout, heads, edge0, slope, camera, strip_mm):
    """A function that gives the linear light of any window of the picture."""
    per_mm = 24.0
    texture = sheet_texture(layout, per_mm)
    size = layout["size"]
    scale = scene.print_scale
    lamp = int(rng.integers(0, 2**31))
    ground = background(rng, scene.background)
    ground_z = rng.uniform(15, 60)
    tone = sheet_tone(rng) if scene.painted else np.full(3, rng.uniform(0.2, 0.8))
    brushed = cv2.GaussianBlur(
        smooth_noise(rng, (2048, 2048), 2), (0, 0), sigmaX=rng.uniform(3, 14), sigmaY=0.7
    )
    worn = scratches(rng) if scene.worn else None
    if scene.mirrored:
        heads_look = room(rng, sheet=float(tone.mean()), soft=scene.soft)
    else:
        heads_look = (lit_look if scene.lit else head_look)(rng, sheet=float(tone.mean()))
        if scene.soft:
            heads_look = in_soft_light(heads_look)
    paint = paint_mirrored if scene.mirrored else paint_head
    flush_line, flush_deep, flush_tone = (
        rng.uniform(0.05, 0.13),
        rng.uniform(0.25, 0.6),
        rng.uniform(0.85, 1.1),
    )
    centre = np.array(size) / 2

    def look(u0, v0, shape, over, near_heads):
        every = 8
        rows, cols = np.arange(0, shape[0] + every, every), np.arange(0, shape[1] + every, every)
        uu, vv = np.meshgrid((cols + 0.5) / over - 0.5 + u0, (rows + 0.5) / over - 0.5 + v0)
        rays = camera.rays(uu, vv)
        lean = rays[..., :2] / rays[..., 2:]
        C = camera.C

        def at(z):
            return [C[i] + lean[..., i] * (z - C[2]) for i in (0, 1)]

        xs, ys = at(0.0)
        u, v = _fine(xs / scale, shape, every), _fine(ys / scale, shape, every)
        on_strip = (u > 0) & (u < size[0]) & (v > 0) & (v < size[1])
        shade = _fine(light(np.random.default_rng(lamp), xs, ys, centre, shadows=scene.shadows), shape, every)
        ink = cv2.remap(texture, u * per_mm - 0.5, v * per_mm - 0.5, cv2.INTER_LINEAR) * shade
        xs, ys = at(strip_mm)
        x, y = _fine(xs, shape, every), _fine(ys, shape, every)
        metal = 1 + (0.03 if scene.painted else 0.12) * cv2.remap(
            brushed, (x * 10) % 2048, (y * 10) % 2048, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
        )
        if worn is not None:
            metal *= cv2.remap(
                worn, (x * 10) % 2048, (y * 10) % 2048, cv2.INTER_LINEAR, borderMode=cv2.BORDER_WRAP
            )
        on_sheet = y < edge0 + slope * x
        gx, gy = at(ground_z)
        far = (
            cv2.remap(
                ground,
                _fine(gx * 4 + 900, shape, every) % 2048,
                _fine(gy * 4 + 900, shape, every) % 2048,
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_WRAP,
            )
            * (0.7 * shade)[..., None]
        )
        colour = np.where(on_sheet[..., None], (metal * shade)[..., None] * tone.astype(np.float32), far)
        colour = np.where(on_strip[..., None], ink[..., None], colour).astype(np.float32)
        if not near_heads:
            return colour
        drawn = heads[: scene.count - scene.missing] if near_heads is True else near_heads
        lx, ly = _fine(lean[..., 0], shape, every), _fine(lean[..., 1], shape, every)
        for head in drawn:
            reach = head["d_max"] * 1.4 + 1.5
            if abs(x.mean() - head["cx"]) > reach + np.ptp(x[0]) / 2:
                continue
            near = (np.abs(x - head["cx"]) < reach) & (np.abs(y - head["cy"]) < reach)
            i, j = np.flatnonzero(near.any(axis=1)), np.flatnonzero(near.any(axis=0))
            if not len(i):
                continue
            box = (slice(i[0], i[-1] + 1), slice(j[0], j[-1] + 1))
            _head(colour, box, x, y, lx, ly, shade, head)
        return colour

    def _head(colour, box, x, y, lx, ly, shade, head):
        px, py, sx, sy, lit = x[box] - head["cx"], y[box] - head["cy"], lx[box], ly[box], shade[box]
        c, s = np.cos(head["turn"]), np.sin(head["turn"])
        a, b = head["d_max"] / 2, head["d_min"] / 2

        def radius(qx, qy):
            return np.hypot((qx * c + qy * s) / a, (-qx * s + qy * c) / b)

        part = colour[box]
        if scene.holes:
            _hole(part, radius, px, py, a, head["d_max"] - head["d_min"], c, s, lit)
            return
        if scene.flush:
            r = (radius(px, py) - 1) * (a + b) / 2
            part *= np.where(r < 0, np.float32(flush_tone), np.float32(1))[..., None]
            part *= (1 - flush_deep * np.exp(-0.5 * (r / (flush_line / 2)) ** 2)).astype(np.float32)[
                ..., None
            ]
            return
        paint(rng, part, px, py, sx, sy, lit, head, heads_look)

    behind, deburred, bend, lamp_at = (
        rng.uniform(0.02, 0.7, 3),
        rng.uniform(0.7, 1.5),
        1.6,
        rng.uniform(0, 6.28),
    )

    def _hole(part, radius, px, py, a, apart, c, s, lit):
        along = px * c + py * s
        across = -px * s + py * c
        r = a - apart / 2
        # two drillings a little apart: the union of two circles; else one
        gap = np.hypot(np.abs(along) - apart / 2, across) - r if apart > 0.05 else np.hypot(px, py) - a
        if scene.holes == "dimples":
            cone = (gap > 0) & (gap < bend)
            slope = 1 + 0.25 * np.cos(np.arctan2(py, px) - lamp_at) * np.clip((bend - gap) / 0.3, 0, 1)
            part *= np.where(cone, slope, 1.0).astype(np.float32)[..., None]
        part *= np.where((gap > 0) & (gap < 0.12), np.float32(deburred), np.float32(1))[..., None]
        part[gap <= 0] = (behind * np.float32(0.9)).astype(np.float32) * lit[gap <= 0][..., None]

    return look


def _row_picture(rng, scene, layout, heads, edge0, slope, camera, strip_mm):
    look = row_painter(rng, scene, layout, heads, edge0, slope, camera, strip_mm)
    out = look(0, 0, (HEIGHT, WIDTH), 1, False)
    for head in heads[: scene.count - scene.missing]:  # heads are painted three times as fine
        u0, v0, u1, v1 = window(camera, head, head["d_max"] + 1.2)
        fine = look(u0, v0, ((v1 - v0) * 3, (u1 - u0) * 3), 3, True)
        out[v0:v1, u0:u1] = cv2.resize(fine, (u1 - u0, v1 - v0), interpolation=cv2.INTER_AREA)
    return out


def window(camera, head, reach_mm):
    """Pixels (first column, first row, past the last) that show a head and what is round it."""
    ends = [[head["cx"] + i * reach_mm, head["cy"] + j * reach_mm, 0] for i in (-1, 1) for j in (-1, 1)]
    px = camera.pixels(np.array(ends))
    u0, v0 = np.maximum(np.floor(px.min(axis=0)).astype(int), 0)
    u1, v1 = np.minimum(np.ceil(px.max(axis=0)).astype(int), [WIDTH, HEIGHT])
    return u0, v0, u1, v1


def sheet_tone(rng):
    """A primed or painted sheet: green, grey, white, dark, red-brown."""
    tones = ([0.32, 0.55, 0.42], [0.4, 0.4, 0.4], [0.8, 0.82, 0.85], [0.1, 0.1, 0.1], [0.12, 0.16, 0.35])
    return np.array(tones[int(rng.integers(0, len(tones)))]) * rng.uniform(0.6, 1.1)


def scratches(rng, size=2048):
    """Scratches, smears and specks of a sheet that has been worked on, as a factor, about .1 mm a cell."""
    out = np.ones((size, size), np.float32)
    for _ in range(int(rng.integers(20, 400))):
        x, y = rng.integers(0, size, 2).tolist()
        angle, length = rng.uniform(0, np.pi), 10 ** rng.uniform(1, 2.6)
        end = (int(x + length * np.cos(angle)), int(y + length * np.sin(angle)))
        cv2.line(out, (x, y), end, float(rng.uniform(0.6, 1.6)), 1, cv2.LINE_AA)
    out = 1 + (cv2.GaussianBlur(out, (0, 0), 0.7) - 1) * np.float32(rng.uniform(0.3, 1))
    for _ in range(int(rng.integers(0, 60))):
        x, y = rng.integers(0, size, 2).tolist()
        cv2.circle(out, (x, y), int(rng.integers(1, 6)), float(rng.uniform(0.3, 1.3)), -1, cv2.LINE_AA)
    return out * (1 + np.float32(rng.uniform(0, 0.12)) * smooth_noise(rng, (size, size), 25))


def random_row(
    seed: int, *, hard: bool = False, soft: bool = False, lit: bool = False, mirrored: bool = False
) -> RowScene:
    """A row as builders photograph it.

    ``soft`` keeps the light as the instructions ask, ``hard`` goes beyond; ``lit``: lamps and shades that belong
    together, where the others draw each on its own; ``mirrored``: heads, light and phone drawn another way.
    """
    rng = np.random.default_rng(30_000 + seed)
    D = float(rng.choice([2.4, 3.2, 4.0]))
    count = int(rng.integers(5, 11))
    pitch = float(min(rng.uniform(3.2, 5.5) * D, 118 / (count - 1)))
    flush = bool(rng.random() < 0.2)
    kinds = ("wood", "dark cloth", "grey cloth", "concrete", "checked cloth", "grass", "print", "foil")
    return RowScene(
        seed=seed,
        shank_mm=D,
        count=count,
        pitch_mm=pitch,
        flush=flush,
        background=str(rng.choice(kinds)),
        painted=bool(rng.random() < 0.35),
        distance=float(rng.uniform(165, 215)),
        tilt_deg=float(rng.uniform(0, 14 if hard else 7)),
        blur_px=float(rng.uniform(1.4, 2.8) if hard else rng.uniform(0.8, 1.6)),
        motion_px=float(rng.choice([0, rng.uniform(1, 4)]) if hard else 0),
        print_scale=float(rng.choice([1.0, 1.0, 0.97])),
        quality=int(rng.integers(76, 94)),
        exposure=float(rng.uniform(0.5, 0.95)),
        spoiled=int(rng.integers(0, 4)),
        shadows=int(rng.integers(0, 3)) * (not soft),
        edge_mm=float(rng.uniform(1.7, 3.2) * D),
        gap_mm=float(rng.uniform(5, 12)),
        rough=bool(seed % 2),
        worn=bool(rng.random() < 0.6),
        soft=soft,
        lit=lit,
        mirrored=mirrored,
    )


def row_in(light: str, seed: int) -> RowScene:
    """Formed heads in soft light as the instructions ask, in light that belongs together, or mirrored; or flush heads,
    holes or dimples in soft light, some of the holes drilled twice."""
    if light in ("flush", "holes", "dimples"):
        scene = replace(random_row(4000 + seed), soft=True, shadows=0, flush=light == "flush")
        apart = float(np.random.default_rng(seed).uniform(0.3, 1.5))
        return scene if light == "flush" else replace(scene, holes=light, twice_mm=apart)
    if light != "mirrored":
        first = 2000 if light == "soft" else 7000
        scene = random_row(first + seed, soft=light == "soft", lit=light == "lit")
        return replace(scene, flush=False)
    hard = seed % 3 == 2
    scene = random_row(seed, mirrored=True, soft=seed % 2 == 0, hard=hard)
    far = float(np.random.default_rng(seed).uniform(140, 255)) if hard else scene.distance
    return replace(scene, flush=False, distance=far)


def hopeless_rows() -> dict[str, RowScene]:
    """Row photos that must not be measured as if they were good."""
    return {
        "two rivets fewer than typed": RowScene(seed=901, count=8, missing=2),
        "no rivets": RowScene(seed=902, count=7, missing=7),
        "out of focus": RowScene(seed=903, blur_px=9.0),
        "moved": RowScene(seed=904, motion_px=22.0),
        "from the side": RowScene(seed=905, tilt_deg=38.0),
        "much too bright": RowScene(seed=906, exposure=5.0),
    }
