"""The rim's evidence learned from the project's own renders of formed heads: samples, training, the weights file.

python benchmarks/photo_rim_training.py samples DIR FIRST LAST             blocks of ten rows seen along rays, with the true rim
python benchmarks/photo_rim_training.py train DIR OUT.json TURNS [START]     fit the net and write it as the program reads it, from chance
                                                                           or from a net written before
python benchmarks/photo_rim_training.py disguised DIR OUT.json TURNS [START] the same with heads in altered light, metal, lens and phone
python benchmarks/photo_rim_training.py mean OUT.json NET NET ...           the mean of nets of which one went on from the other

Fitting needs jax, which nothing else here does: install it for this alone. A block takes 8 s of CPU, a turn .15 s (disguised .2).
The net in use: blocks 0 to 79 (wide light, five heads a row), 100 to 136 and 200 to 395 (three heads a row, from 200 on
40 % lit, 35 % soft, 25 % wide); ``train`` 3,000 turns from chance and 2,750 from what came of them (A); ``disguised`` 500, 250,
1,000 and 4,000 turns on from A (B; the first two were cut off from longer runs); ``mean`` of A and B.
"""

from __future__ import annotations

import json
import sys
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src"), str(ROOT / "benchmarks")]

from photo_rim_disguise import disguised  # noqa: E402

from photo import render_row  # noqa: E402
from photo.render_camera import expose, make_camera, sheet_texture  # noqa: E402
from photo.render_head import TRUE_HEIGHT, head_look, lit_look, self_radius  # noqa: E402
from photo.render_row import random_row, row_painter, window  # noqa: E402
from ribwright.core.metrology.gauge_sheet import rivet_strip_layout  # noqa: E402
from ribwright.core.metrology.rim_evidence import (  # noqa: E402
    FAR,
    FIRST_D,
    MIDDLE_D,
    PLACE_D,
    PLACES,
    RAYS,
    SAMPLES,
    STEP_D,
)
from ribwright.core.metrology.rim_weights import net_of  # noqa: E402

DRAWN_RAYS, DRAWN_SAMPLES = 64, 113  # twice as many rays as are judged, so that turning a head is finer
RADIUS = FIRST_D + STEP_D * np.arange(DRAWN_SAMPLES)
LIT_FROM, SOFT_FROM = (
    100,
    200,
)  # blocks from here on: most rows in light that belongs together; a third in soft light


def visible_radius(look, head, lean, angle, plane):
    """Rim as the camera sees it, in the plane of the largest section: the hull of all sections, each shifted."""
    u = np.linspace(0, 1, 81)
    r = np.array([self_radius(look, v) for v in u])
    toward = lean[0] * np.cos(angle) + lean[1] * np.sin(angle)
    grow = (u[:, None] * head["tall"] - plane) * toward[None, :]
    a, b = head["d_max"] / 2, head["d_min"] / 2
    turned = angle - head["turn"]
    section = a * b / np.hypot(b * np.cos(turned), a * np.sin(turned))
    return (r[:, None] * section[None, :] + grow).max(axis=0), section


def rays_of(picture, at, camera, centre, z, D):
    """Linear light along rays on the plane z, with the picture's first pixel ``at``."""
    r = RADIUS * D
    angle = np.arange(DRAWN_RAYS) * 2 * np.pi / DRAWN_RAYS
    xy = centre + np.stack([np.cos(angle), np.sin(angle)], -1)[:, None, :] * r[None, :, None]
    px = camera.pixels(np.column_stack([xy.reshape(-1, 2), np.full(DRAWN_RAYS * DRAWN_SAMPLES, z)])) - at
    px = px.reshape(DRAWN_RAYS, DRAWN_SAMPLES, 2).astype(np.float32)
    coded = picture.astype(np.float32) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return cv2.remap(linear, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def samples(folder: Path, first: int, last: int) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    layout = rivet_strip_layout()
    strip = sheet_texture(layout, 24.0)
    render_row.sheet_texture = lambda *_: strip
    for block in range(first, last):
        out = folder / f"{block:04d}.npz"
        if out.exists():
            continue
        light, rim, section, D_of, row_of = [], [], [], [], []
        for n in range(10):
            seed = 1_000_000 + block * 10 + n
            rng = np.random.default_rng(seed)
            hard = bool(rng.random() < 0.25)
            lit = block >= LIT_FROM and bool(rng.random() < 0.8)
            kind = rng.random() if block >= SOFT_FROM else 1.0
            lit, soft = (kind < 0.4, 0.4 <= kind < 0.75) if block >= SOFT_FROM else (lit, False)
            many = 5 if block < LIT_FROM else 3
            scene = replace(random_row(seed, hard=hard, lit=lit, soft=soft), flush=False, count=many)
            D, w, h = scene.shank_mm, *layout["size"]
            y0 = h + rng.uniform(5, 14)
            usual = rng.uniform(1.3, 1.7)
            heads = []
            for x in np.sort(rng.uniform(8, w - 8, many)):
                ratio = usual * (1 + rng.normal(0, 0.03)) if rng.random() < 0.6 else rng.uniform(1.08, 1.98)
                mean, oval = (
                    ratio * D,
                    abs(rng.normal(0, 0.02)) if rng.random() < 0.7 else rng.uniform(0, 0.25),
                )
                heads.append({
                    "cx": x, "cy": y0 + rng.normal(0, 0.4), "d_max": mean * (1 + oval / 2), "d_min": mean * (1 - oval / 2),
                    "turn": rng.uniform(0, np.pi), "tall": 0.5 * D * rng.uniform(0.75, 1.25) * (usual / ratio) ** 1.0,
                    "lean": rng.normal(0, 0.05, 2) * mean * (rng.random() < 0.4),
                })  # fmt: skip
            camera = make_camera(
                rng, look_at=np.array([w / 2, h / 2 + 6]), distance=scene.distance, tilt_deg=scene.tilt_deg
            )
            looks = []
            render_row.head_look = _kept(head_look, looks)
            render_row.lit_look = _kept(lit_look, looks)
            edge0 = y0 + rng.uniform(1.6, 3.5) * D
            look = row_painter(rng, scene, layout, heads, edge0, np.tan(rng.normal(0, 0.015)), camera, 0.13)
            state = int(rng.integers(0, 2**31))
            for head in heads:
                # each in a picture of its own: heads may lie closer here than rivets do
                u0, v0, u1, v1 = window(camera, head, 1.55 * D + 0.6)
                if min(u1 - u0, v1 - v0) < 60:
                    continue
                fine = look(u0, v0, ((v1 - v0) * 2, (u1 - u0) * 2), 2, [head])
                linear = cv2.resize(fine, (u1 - u0, v1 - v0), interpolation=cv2.INTER_AREA)
                linear = linear[: (v1 - v0) // 2 * 2, : (u1 - u0) // 2 * 2]
                picture = expose(
                    np.random.default_rng(state),
                    linear,
                    blur_px=scene.blur_px,
                    motion_px=scene.motion_px,
                    exposure=scene.exposure,
                )
                _ok, coded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, scene.quality])
                grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
                z = 0.13 - TRUE_HEIGHT * 0.5 * D
                true = np.array([head["cx"], head["cy"]])
                lean = (true - camera.C[:2]) / (z - camera.C[2])
                for off in (0.03, 0.12):
                    centre = true + rng.normal(0, off * D / np.sqrt(2), 2)
                    light.append(rays_of(grey, (u0, v0), camera, centre, z, D).astype(np.float16))
                    angle = np.arange(DRAWN_RAYS) * 2 * np.pi / DRAWN_RAYS
                    for _ in range(3):  # the ray from a shifted centre meets the rim at another angle
                        seen, _sect = visible_radius(looks[0], head, lean, angle, 0.13 - z)
                        place = true + seen[:, None] * np.stack([np.cos(angle), np.sin(angle)], -1) - centre
                        miss = (
                            np.arctan2(place[:, 1], place[:, 0])
                            - np.arange(DRAWN_RAYS) * 2 * np.pi / DRAWN_RAYS
                        )
                        angle = angle - (miss + np.pi) % (2 * np.pi) + np.pi
                    rim.append((np.hypot(*place.T) / D).astype(np.float32))
                    section.append([head["d_max"] / D, head["d_min"] / D])
                    D_of.append(D)
                    row_of.append(seed)
        np.savez(out, light=light, rim=rim, section=section, D=D_of, row=row_of)
        print(out, len(light), flush=True)


TOGETHER, ROWS = 3, 8  # heads of a row, rows a step
SHAPES = {
    "a": (5, 5, 2, 24), "d": (3, 3, 24, 24), "e": (3, 3, 24, 32), "f": (3, 3, 32, 32), "r": (1, 1, 32, 32), "g": (3, 3, 32, 32),
    "h": (3, 3, 32, 32), "u": (1, 1, 32, 24), "i": (3, 3, 24, 24), "q": (1, 1, 24, 24), "j": (3, 3, 24, 24), "k": (3, 3, 24, 4),
}  # fmt: skip


def scores(net, level):
    """As ``rim_evidence.chances``, before the exponential, for rows of ``TOGETHER`` heads, with gradients."""
    import jax
    import jax.numpy as jnp

    def layer(name, x, every=1, bend=True):
        weight, offset = net[name]
        reach = weight.shape[0] // 2
        if reach:
            x = jnp.concatenate([x[:, -reach:], x, x[:, :reach]], 1)
            x = jnp.pad(x, ((0, 0), (0, 0), (reach, reach), (0, 0)), mode="edge")
        x = jax.lax.conv_general_dilated(
            x, weight, (every, every), "VALID", dimension_numbers=("NHWC", "HWIO", "NHWC")
        )
        x = x + offset
        return jnp.where(x > 0, x, 0.1 * x) if bend else x

    def of_row(x):
        rows = x.reshape(-1, TOGETHER, *x.shape[1:])
        return jnp.broadcast_to(rows.mean(1, keepdims=True), rows.shape).reshape(x.shape)

    radius = jnp.broadcast_to(jnp.linspace(-1, 1, PLACES), level.shape)
    half = layer("d", layer("a", jnp.stack([level, radius], -1), 2))
    quarter = layer("f", layer("e", half, 2))
    quarter = layer("h", layer("g", quarter + layer("r", of_row(quarter), bend=False)))
    half = layer("i", half + jnp.repeat(jnp.repeat(layer("u", quarter, bend=False), 2, 1), 2, 2))
    half = layer("j", half + layer("q", of_row(half), bend=False))
    score = layer("k", half, bend=False).reshape(len(level), RAYS // 2, PLACES // 2, 2, 2)
    return score.transpose(0, 1, 3, 2, 4).reshape(level.shape)


def steps_of(light):
    """Levels along the finer rays as drawn, against the sheet's."""
    level = np.log(np.maximum(light, 0).astype(np.float32) + np.float32(0.01))
    return np.clip(level - np.median(level[:, :, FAR:], axis=(1, 2))[:, None, None], -2.5, 2.5)


def moved(level, rim, shift, size):
    """Rays and rim (all in shank diameters) of one head ``size`` times as large, from an origin ``shift`` away."""
    angle = np.arange(DRAWN_RAYS) * 2 * np.pi / DRAWN_RAYS
    ends = np.stack([np.cos(angle), np.sin(angle)], -1)
    place = shift + ends[:, None, :] * (RADIUS / size)[None, :, None]
    ray = (np.arctan2(place[..., 1], place[..., 0]) / (2 * np.pi) * DRAWN_RAYS) % DRAWN_RAYS + 1
    along = (np.hypot(place[..., 0], place[..., 1]) - FIRST_D) / STEP_D
    ring = np.concatenate([level[-1:], level, level[:2]])
    out = cv2.remap(
        ring,
        along.astype(np.float32),
        ray.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    at = (rim[:, None] * ends - shift) * size
    return out, np.interp(
        angle, np.arctan2(at[:, 1], at[:, 0]) % (2 * np.pi), np.hypot(*at.T), period=2 * np.pi
    )


def shown(level, rim, row, rng, disguise):
    """Some heads of a row, all shifted, turned, mirrored and scaled as one is: levels and rims in places."""
    far, gain = rng.choice([0.015, 0.05, 0.13, 0.2]), np.exp(rng.normal(0, 0.15))
    turn, mirror, lift = rng.integers(DRAWN_RAYS), rng.random() < 0.5, rng.normal(0, 0.03)
    size = np.exp(rng.normal(0, 0.06))
    seen, true = [], []
    for head in rng.choice(len(row), TOGETHER, replace=len(row) < TOGETHER):
        which = row[head, int(far >= 0.1 and rng.random() < 0.5)]
        one, at = moved(level[which].astype(np.float32), rim[which], rng.normal(0, far / np.sqrt(2), 2), size)
        if mirror:
            one, at = one[::-1], at[::-1]
        seen.append(np.roll(one, turn, 0))
        true.append(np.roll(at, turn))
    seen, true = np.stack(seen), np.stack(true)
    if disguise:
        seen = disguised(seen, true, RADIUS, rng)
    elif rng.random() < 1 / 3:
        seen = seen + rng.normal(0, 0.02, seen.shape)
    true = true[:, ::2]
    seen = seen[:, ::2, :SAMPLES].reshape(TOGETHER, RAYS, PLACES, 2).mean(-1) * gain + lift
    return seen, (true - MIDDLE_D) / PLACE_D


def train(folder: Path, out: Path, turns: int, start: Path | None = None, *, disguise: bool = False) -> None:
    """Fit the net in so many turns, from chance or from the net ``start``; prints how it does on 150 rows kept out."""
    import jax
    import jax.numpy as jnp

    files = [np.load(f) for f in sorted(folder.glob("*.npz"))]
    level = np.concatenate([steps_of(f["light"]).astype(np.float16) for f in files])
    rim, number = (np.concatenate([f[k] for f in files]) for k in ("rim", "row"))
    rows = [np.flatnonzero(number == k) for k in np.unique(number)]
    rows = [k[: len(k) // 2 * 2].reshape(-1, 2) for k in rows if len(k) >= 2]  # two views of each head
    order = np.random.default_rng(1).permutation(len(rows))
    few = min(150, len(rows) // 5)
    kept_out, used, rng = order[:few], order[few:], np.random.default_rng(5)
    print(f"{len(rows)} rows, {len(level)} views of heads", flush=True)

    def batch(which, rng):
        pairs = [shown(level, rim, rows[k], rng, disguise) for k in which]
        seen = np.array([x for some, _ in pairs for x in some], np.float32)
        place = np.array([x for _, some in pairs for x in some], np.float32)
        return seen, place, ((place > 0.5) & (place < PLACES - 1.5)).astype(np.float32)

    def loss(net, seen, place, ok):
        wanted = jnp.exp(-0.5 * ((jnp.arange(PLACES) - place[..., None]) / 0.6) ** 2)
        wanted /= wanted.sum(-1, keepdims=True) + 1e-9
        miss = -(wanted * jax.nn.log_softmax(scores(net, seen), -1)).sum(-1)
        return (miss * ok).sum() / (ok.sum() + 1e-6)

    if start is None:
        keys = jax.random.split(jax.random.PRNGKey(0), len(SHAPES))
        net = {
            name: (jax.random.normal(key, shape) * np.sqrt(1.8 / np.prod(shape[:-1])), jnp.zeros(shape[-1]))
            for (name, shape), key in zip(SHAPES.items(), keys, strict=True)
        }
    else:
        net = {name: (jnp.array(w), jnp.array(b)) for name, (w, b) in net_of(start.read_text()).items()}
    first = second = jax.tree.map(jnp.zeros_like, net)
    fastest = 3e-3 if start is None else 1e-3

    @jax.jit
    def learn(net, first, second, some, rate, turn):
        value, slope = jax.value_and_grad(loss)(net, *some)
        first = jax.tree.map(lambda m, g: 0.9 * m + 0.1 * g, first, slope)
        second = jax.tree.map(lambda v, g: 0.999 * v + 0.001 * g * g, second, slope)
        net = jax.tree.map(
            lambda p, m, v: p - rate * (m / (1 - 0.9**turn) / (jnp.sqrt(v / (1 - 0.999**turn)) + 1e-8) + 2e-4 * p),
            net, first, second,
        )  # fmt: skip
        return net, first, second, value

    tests = [batch(kept_out, np.random.default_rng(9 + k)) for k in range(2)]
    kept = jax.jit(loss)
    usual = 0.0
    for turn in range(1, turns + 1):
        rate = fastest * min(1, turn / 200) * 0.5 * (1 + np.cos(np.pi * turn / turns)) + 1e-5
        some = batch(rng.choice(used, min(ROWS, len(used)), replace=False), rng)
        net, first, second, value = learn(net, first, second, some, rate, float(turn))
        usual += (float(value) - usual) * max(0.01, 1 / turn)
        if turn % 250 == 0 or turn == turns:
            held = np.mean([float(kept(net, *some)) for some in tests])
            print(f"{turn}: {usual:.3f}, kept out {held:.3f}, {time.process_time():.0f} s of CPU", flush=True)
            out.write_text(net_json({k: (np.array(w), np.array(b)) for k, (w, b) in net.items()}))


def mean(out: Path, nets: list[Path]) -> None:
    """Write the mean of the weights of nets of which one went on from the other."""
    layers = [net_of(one.read_text()) for one in nets]
    both = {k: tuple(sum(one[k][i] for one in layers) / len(layers) for i in (0, 1)) for k in layers[0]}
    out.write_text(net_json(both))


def net_json(net) -> str:
    """The weights as the program reads them: a byte each, scaled by the channel they go to."""
    held = b""
    for weight, offset in net.values():
        scale = np.maximum(np.abs(weight).reshape(-1, weight.shape[-1]).max(axis=0), 1e-9) / 127
        held += scale.astype("<f4").tobytes() + offset.astype("<f4").tobytes()
        held += np.round(weight / scale).astype(np.int8).tobytes()
    text = held.hex()
    made = {
        "made_by": "benchmarks/photo_rim_training.py",
        "shapes": {name: list(weight.shape) for name, (weight, _) in net.items()},
        "weights": [text[k : k + 120] for k in range(0, len(text), 120)],
    }
    return json.dumps(made, indent=1) + "\n"


def _kept(make, looks):
    return lambda *a, **k: looks.append(make(*a, **k)) or looks[-1]


if __name__ == "__main__":
    cv2.setNumThreads(1)
    if sys.argv[1:2] == ["samples"] and len(sys.argv) == 5:
        samples(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
    elif sys.argv[1:2] in (["train"], ["disguised"]) and len(sys.argv) in (5, 6):
        train(
            Path(sys.argv[2]),
            Path(sys.argv[3]),
            int(sys.argv[4]),
            Path(sys.argv[5]) if len(sys.argv) > 5 else None,
            disguise=sys.argv[1] == "disguised",
        )
    elif sys.argv[1:2] == ["mean"] and len(sys.argv) > 4:
        mean(Path(sys.argv[2]), [Path(one) for one in sys.argv[3:]])
    else:
        sys.exit(__doc__)
