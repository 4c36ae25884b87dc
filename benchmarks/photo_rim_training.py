"""The rim's evidence learned from the project's own renders of formed heads: samples, training, the weights module.

python benchmarks/photo_rim_training.py samples DIR FIRST LAST   rows of heads seen along rays, with the true rim
python benchmarks/photo_rim_training.py train DIR OUT.py         fit the two small nets and write them as a module
python benchmarks/photo_rim_training.py tune DIR OUT.py          the same from the nets in use, rows of both kinds of light alike

The nets in use: blocks 0 to 79 trained with five heads a row, then tuned with blocks 100 to 134 (three heads a row) added.
"""

from __future__ import annotations

import itertools
import sys
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from photo import render_row  # noqa: E402
from photo.render_camera import expose, make_camera, sheet_texture  # noqa: E402
from photo.render_head import TRUE_HEIGHT, head_look, lit_look, self_radius  # noqa: E402
from photo.render_row import random_row, row_painter, window  # noqa: E402
from ribwright.core.metrology.gauge_sheet import rivet_strip_layout  # noqa: E402
from ribwright.core.metrology.rim_evidence import (  # noqa: E402
    FIRST_D,
    LOWEST,
    NEAR,
    PLACES,
    RAYS,
    SAMPLES,
    STEP_D,
    chances,
    first_windows,
    levels,
    second_windows,
    straighten,
)  # fmt: skip
from ribwright.core.metrology.rim_oval import TIGHT, WIDE, fit_ovals, oval_base, widest_circle  # noqa: E402

HEADS = 3
LIT_FROM = 100  # blocks from here on: most rows in light that belongs together


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
    r = (FIRST_D + STEP_D * np.arange(SAMPLES)) * D
    angle = np.arange(RAYS) * 2 * np.pi / RAYS
    xy = centre + np.stack([np.cos(angle), np.sin(angle)], -1)[:, None, :] * r[None, :, None]
    px = camera.pixels(np.column_stack([xy.reshape(-1, 2), np.full(RAYS * SAMPLES, z)])) - at
    px = px.reshape(RAYS, SAMPLES, 2).astype(np.float32)
    coded = picture.astype(np.float32) / 255
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return cv2.remap(linear, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


def samples(folder: Path, first: int, last: int) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    render_row.sheet_texture = lru_cache(1)(lambda *_: sheet_texture(rivet_strip_layout(), 24.0))
    layout = _Layout(rivet_strip_layout())
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
            scene = replace(random_row(seed, hard=hard, lit=lit), flush=False, count=HEADS)
            D, w, h = scene.shank_mm, *layout["size"]
            y0 = h + rng.uniform(5, 14)
            usual = rng.uniform(1.3, 1.7)
            heads = []
            for x in np.sort(rng.uniform(8, w - 8, HEADS)):
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
                    angle = np.arange(RAYS) * 2 * np.pi / RAYS
                    for _ in range(3):  # the ray from a shifted centre meets the rim at another angle
                        seen, _sect = visible_radius(looks[0], head, lean, angle, 0.13 - z)
                        place = true + seen[:, None] * np.stack([np.cos(angle), np.sin(angle)], -1) - centre
                        miss = np.arctan2(place[:, 1], place[:, 0]) - np.arange(RAYS) * 2 * np.pi / RAYS
                        angle = angle - (miss + np.pi) % (2 * np.pi) + np.pi
                    rim.append((np.hypot(*place.T) / D).astype(np.float32))
                    section.append([head["d_max"] / D, head["d_min"] / D])
                    D_of.append(D)
                    row_of.append(seed)
        np.savez(out, light=light, rim=rim, section=section, D=D_of, row=row_of)
        print(out, len(light), flush=True)


class Learner:
    """Leaky rectifier net, cross entropy over a ray's places, Adam."""

    def __init__(self, sizes: tuple[int, ...], rng: np.random.Generator) -> None:
        pairs = itertools.pairwise(sizes)
        self.values = []
        for a, b in pairs:
            self.values += [
                rng.normal(0, np.sqrt(1.6 / a), (a, b)).astype(np.float32),
                np.zeros(b, np.float32),
            ]
        self.first = [np.zeros_like(v) for v in self.values]
        self.second = [np.zeros_like(v) for v in self.values]
        self.turns = 0

    def net(self):
        return tuple(zip(self.values[::2], self.values[1::2], strict=True))

    def learn(self, windows, wanted, rate: float) -> float:
        layers, seen = self.net(), [windows.reshape(-1, windows.shape[-1])]
        for k, (w, b) in enumerate(layers):
            x = seen[-1] @ w + b
            seen.append(np.maximum(x, 0.1 * x) if k < len(layers) - 1 else x)
        score = seen[-1].reshape(windows.shape[:2])
        score = score - score.max(axis=1, keepdims=True)
        log_chance = score - np.log(np.exp(score).sum(axis=1, keepdims=True))
        back = ((np.exp(log_chance) - wanted) / len(windows)).reshape(-1, 1).astype(np.float32)
        slopes = []
        for k in range(len(layers) - 1, -1, -1):
            slopes[:0] = [seen[k].T @ back, back.sum(axis=0)]
            if k:
                back = back @ layers[k][0].T
                back = np.where(seen[k] > 0, back, 0.1 * back)
        self.turns += 1
        for v, g, m, s in zip(self.values, slopes, self.first, self.second, strict=True):
            m += 0.1 * (g - m)
            s += 0.001 * (g * g - s)
            v -= rate * (m / (1 - 0.9**self.turns)) / (np.sqrt(s / (1 - 0.999**self.turns)) + 1e-8)
        return float(-(wanted * log_chance).sum(axis=1).mean())


def moved(level, rim, shift):
    """Rays and rim (all in shank diameters) of one head as seen from an origin ``shift`` away."""
    angle = np.arange(RAYS) * 2 * np.pi / RAYS
    ends = np.stack([np.cos(angle), np.sin(angle)], -1)
    place = shift + ends[:, None, :] * (FIRST_D + STEP_D * np.arange(SAMPLES))[None, :, None]
    ray = (np.arctan2(place[..., 1], place[..., 0]) / (2 * np.pi) * RAYS) % RAYS + 1
    along = (np.hypot(place[..., 0], place[..., 1]) - FIRST_D) / STEP_D
    ring = np.concatenate([level[-1:], level, level[:2]])
    out = cv2.remap(
        ring,
        along.astype(np.float32),
        ray.astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    at = rim[:, None] * ends - shift
    return out, np.interp(
        angle, np.arctan2(at[:, 1], at[:, 0]) % (2 * np.pi), np.hypot(*at.T), period=2 * np.pi
    )


def fit_net(
    batch_of, heads, places: int, sizes: tuple[int, ...], turns: int, *, net=None, together=6, rays=RAYS
):
    rng = np.random.default_rng(0)
    learner, mean = Learner(sizes, rng), None
    if net is not None:
        learner.values = [value.copy() for layer in net for value in layer]
    for turn in range(turns):
        windows, true = batch_of(rng.choice(heads, together, replace=False), rng)
        if rays < RAYS:
            some = np.argsort(rng.random(true.shape), axis=1)[:, :rays]
            true = np.take_along_axis(true, some, 1)
            windows = np.take_along_axis(windows, some[:, :, None, None], 1)
        ok = (true > 0.5) & (true < places - 1.5)
        wanted = np.exp(-0.5 * ((np.arange(places) - true[ok][:, None]) / 0.8) ** 2)
        wanted /= wanted.sum(axis=1, keepdims=True)
        rate = (1e-3 if net is None else 5e-4) * (1 + np.cos(np.pi * turn / turns)) + 1e-5
        loss = learner.learn(windows[ok], wanted, rate)
        mean = loss if mean is None else mean + 0.005 * (loss - mean)
        if turn % 500 == 0:
            print(turn, round(mean, 3), flush=True)
    return learner.net()


def train(folder: Path, out: Path) -> None:
    files = [np.load(f) for f in sorted(folder.glob("*.npz"))]
    light, rim, row = (np.concatenate([f[k] for f in files]) for k in ("light", "rim", "row"))
    D = np.concatenate([f["D"] for f in files])
    level = levels(light.astype(np.float32))
    target = (rim - FIRST_D) / STEP_D - LOWEST
    heads = np.flatnonzero(row < np.quantile(row, 0.9))
    kept_out = np.flatnonzero(row >= np.quantile(row, 0.9))

    def first_batch(some, rng):
        lights, rims = level[some].copy(), rim[some].copy()
        for k in range(len(some)):
            if k % 2:  # half of them from farther off: the first guess of a centre may be
                lights[k], rims[k] = moved(lights[k], rims[k], rng.normal(0, 0.2, 2))
        return first_windows(lights), (rims - FIRST_D) / STEP_D - LOWEST

    first = fit_net(first_batch, heads, PLACES, (63, 32, 16, 1), 5000)
    fit = np.empty((len(level), 5))
    for part in np.array_split(np.arange(len(level)), 200):
        chance = chances(first, first_windows(level[part]))
        fit[part] = fit_ovals(chance, widest_circle(chance), WIDE)[0]
    base = oval_base(RAYS)
    straight = straighten(level, fit @ base.T + LOWEST)
    key = 2 * row + np.arange(len(row)) % 2
    of_row = np.empty_like(straight)
    for k in np.unique(key):
        of_row[key == k] = straight[key == k].mean(axis=0)
    near = target - fit @ base.T + NEAR

    def second_batch(some, _):
        return second_windows(straight[some], of_row[some]), near[some]

    second = fit_net(second_batch, heads, 2 * NEAR + 1, (105, 32, 16, 1), 5000)
    true = np.linalg.lstsq(base, target.T, rcond=None)[0].T
    chance = chances(second, second_windows(straight[kept_out], of_row[kept_out]))
    start = np.zeros((len(kept_out), 5))
    start[:, 0] = NEAR
    last = fit[kept_out] + fit_ovals(chance, start, TIGHT)[0] - start
    inside = (target[kept_out].min(axis=1) > 1) & (target[kept_out].max(axis=1) < PLACES - 2)
    for name, found in (("first", fit[kept_out]), ("second", last)):
        miss = (2 * STEP_D * D[kept_out] * (found[:, 0] - true[kept_out, 0]))[inside]
        print(
            f"{name}: rows kept out, {len(miss)} heads: diameter median {np.median(np.abs(miss)):.3f}, 95 % {np.quantile(np.abs(miss), 0.95):.3f} mm"
        )
    out.write_text(module_text({"FIRST": first, "SECOND": second}))


def tune(folder: Path, out: Path) -> None:
    """Go on from the nets in use with what ``folder`` holds; the last tenth of the first blocks and 60 lit rows are kept out."""
    from ribwright.core.metrology.rim_weights import nets

    files = [np.load(f) for f in sorted(folder.glob("*.npz"))]
    light, rim, row, D = (np.concatenate([f[k] for f in files]) for k in ("light", "rim", "row", "D"))
    parts = np.array_split(np.arange(len(light)), 60)
    level = np.concatenate([levels(light[part].astype(np.float32)).astype(np.float16) for part in parts])
    lit = row >= 1_000_000 + 10 * LIT_FROM
    wide, shone = np.unique(row[~lit]), np.unique(row[lit])
    kept_out = np.isin(
        row,
        np.r_[wide[wide >= np.quantile(row[~lit], 0.9)], np.random.default_rng(5).permutation(shone)[:60]],
    )
    kept = np.flatnonzero(~kept_out)
    chance_of = np.where(lit[kept], 1.2 / max(lit[kept].sum(), 1), 1 / (~lit[kept]).sum())
    heads = np.random.default_rng(1).choice(kept, 80_000, p=chance_of / chance_of.sum())
    first, second = nets()

    def first_batch(some, rng):
        lights, rims = level[some].astype(np.float32), rim[some].copy()
        for k in range(0, len(some), 2):
            lights[k], rims[k] = moved(lights[k], rims[k], rng.normal(0, 0.16, 2))
        return first_windows(lights), (rims - FIRST_D) / STEP_D - LOWEST

    first = fit_net(first_batch, heads, PLACES, (63, 32, 16, 1), 2200, net=first, together=14, rays=26)
    base, everyone = oval_base(RAYS), np.arange(len(level))
    fit = np.empty((len(level), 5))
    for part in np.array_split(everyone, 200):
        chance = chances(first, first_windows(level[part].astype(np.float32)))
        fit[part] = fit_ovals(chance, widest_circle(chance), WIDE)[0]
    straight = np.concatenate(
        [
            straighten(level[p].astype(np.float32), fit[p] @ base.T + LOWEST)
            for p in np.array_split(everyone, 40)
        ]
    )
    key, of_row = 2 * row + everyone % 2, np.empty_like(straight)
    for k in np.unique(key):
        of_row[key == k] = straight[key == k].mean(axis=0)
    near = (rim - FIRST_D) / STEP_D - LOWEST - fit @ base.T + NEAR

    def second_batch(some, _):
        return second_windows(straight[some], of_row[some]), near[some]

    second = fit_net(
        second_batch, heads, 2 * NEAR + 1, (105, 32, 16, 1), 2500, net=second, together=20, rays=30
    )
    true = np.linalg.lstsq(base, ((rim - FIRST_D) / STEP_D - LOWEST).T, rcond=None)[0].T
    start = np.zeros((1, 5))
    start[:, 0] = NEAR
    for name, of in (("wide", kept_out & ~lit), ("lit", kept_out & lit)):
        some = np.flatnonzero(of)
        chance = chances(second, second_windows(straight[some], of_row[some]))
        last = fit[some] + fit_ovals(chance, np.repeat(start, len(some), 0), TIGHT)[0] - start
        miss = 2 * STEP_D * D[some] * (last[:, 0] - true[some, 0])
        print(
            f"{name}, kept out, {len(miss)} heads: bias {np.median(miss):+.3f}, median {np.median(np.abs(miss)):.3f}, "
            f"95 % {np.quantile(np.abs(miss), 0.95):.3f} mm"
        )
    out.write_text(module_text({"FIRST": first, "SECOND": second}))


def module_text(nets) -> str:
    """The weights as a module: half precision, in hex."""
    lines = ['"""Weights of the rim\'s two nets, made by ``benchmarks/photo_rim_training.py``: half precision, in hex."""', "",
             "from __future__ import annotations", "", "from functools import cache", "from itertools import pairwise", "",
             "import numpy as np", "", "from ribwright.core.metrology.rim_evidence import Net", "", "",
             "@cache", "def nets() -> tuple[Net, Net]:", '    """First and second net: (weights, offsets) a layer."""',
             "    return _unpacked(FIRST_SIZES, FIRST), _unpacked(SECOND_SIZES, SECOND)", "", "",
             "def _unpacked(sizes: tuple[int, ...], text: str) -> Net:",
             '    flat = np.frombuffer(bytes.fromhex(text), dtype="<f2").astype(np.float32)',
             "    layers, at = [], 0", "    for a, b in pairwise(sizes):",
             "        weight, at = flat[at : at + a * b].reshape(a, b), at + a * b",
             "        layers.append((weight, flat[at : at + b]))", "        at += b", "    return tuple(layers)", "", ""]  # fmt: skip
    for name, net in nets.items():
        sizes = (len(net[0][0]), *(len(b) for _, b in net))
        flat = np.concatenate([v.ravel() for layer in net for v in layer]).astype("<f2")
        text = flat.tobytes().hex()
        lines += [f"{name}_SIZES = {sizes}", f"{name} = ("]
        lines += [f"    {text[k : k + 96]!r}" for k in range(0, len(text), 96)]
        lines += [")"]
    return "\n".join(lines) + "\n"


class _Layout(dict):
    __hash__ = object.__hash__


def _kept(make, looks):
    return lambda *a, **k: looks.append(make(*a, **k)) or looks[-1]


if __name__ == "__main__":
    cv2.setNumThreads(1)
    if sys.argv[1:2] == ["samples"] and len(sys.argv) == 5:
        samples(Path(sys.argv[2]), int(sys.argv[3]), int(sys.argv[4]))
    elif sys.argv[1:2] == ["train"] and len(sys.argv) == 4:
        train(Path(sys.argv[2]), Path(sys.argv[3]))
    elif sys.argv[1:2] == ["tune"] and len(sys.argv) == 4:
        tune(Path(sys.argv[2]), Path(sys.argv[3]))
    else:
        sys.exit(__doc__)
