"""Good profile photos spoiled in ways that no threshold was set on: which are refused, and what the rest says.

python benchmarks/photo_spoiled.py DIR [COUNT [FIRST]]   COUNT (4) profiles, seeds from FIRST (7000), are rendered into
                                                         DIR, each spoiled in every way

A way is *hopeless* (must be refused: part of the end can't be seen, or the card is not what was typed), *wrong
part* (must never be within limits) or *doubtful* (may be measured, but only rightly: the true value inside the
stated uncertainty at 95 of 100 places, no wrong finding).
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from ribwright.errors import RibwrightError  # noqa: E402
from ribwright.services.photo_measure import measure_profile_photo, profile_reading, read_json  # noqa: E402

HEIGHT, WIDTH = 3024, 4032


def ways(rng, picture, arc_px, outward_px, px_per_mm):
    """Name, kind and spoiled picture, one after the other. ``arc_px``: the end's outer edge, (n, 2)."""
    n = len(arc_px)
    start = int(rng.integers(0, n // 2))

    def blob(share, wide_mm):
        some = arc_px[start : start + int(share * n)]
        mask = np.zeros(picture.shape[:2], np.float32)
        cv2.polylines(mask, [np.round(some).astype(np.int32)], False, 1.0, int(wide_mm * px_per_mm))
        return cv2.GaussianBlur(mask, (0, 0), 3.0)[..., None]

    def mixed(mask, value):
        return (picture * (1 - mask) + np.asarray(value, np.float32) * mask).astype(np.uint8)

    skin = np.array([95, 125, 190]) * rng.uniform(0.6, 1.1)
    yield "hand over half the arc", "hopeless", mixed(blob(0.5, 14), skin)
    yield "finger over a fifth", "hopeless", mixed(blob(0.2, 16), skin)
    yield "glare over a third", "hopeless", mixed(blob(0.33, 10), (255, 255, 255))
    yield "half the arc in black shade", "hopeless", (picture * (1 - 0.985 * blob(0.5, 12))).astype(np.uint8)
    yield "out of focus by 3.5 pixels", "doubtful", cv2.GaussianBlur(picture, (0, 0), 3.5)
    yield "out of focus by 6 pixels", "hopeless", cv2.GaussianBlur(picture, (0, 0), 6)
    angle = rng.uniform(0, np.pi)
    way = np.float32([[1, 0, 9 * np.cos(angle)], [0, 1, 9 * np.sin(angle)]])
    moved = cv2.warpAffine(picture, way, (WIDTH, HEIGHT), borderMode=cv2.BORDER_REPLICATE)
    yield "double image, 9 pixels", "hopeless", cv2.addWeighted(picture, 0.5, moved, 0.5, 0)
    streak = np.zeros((15, 15), np.float32)
    for t in np.linspace(-7, 7, 60):
        streak[round(7 + t * np.sin(angle)), round(7 + t * np.cos(angle))] = 1
    yield "moved by 14 pixels", "doubtful", cv2.filter2D(picture, -1, streak / streak.sum())
    small = cv2.resize(picture, (1280, 960), interpolation=cv2.INTER_AREA)
    yield "sent small by a messenger", "hopeless", small
    veil = picture.astype(np.float32) * 0.06 + 160
    yield (
        "through a fogged lens",
        "hopeless",
        np.clip(veil + rng.normal(0, 2.0, veil.shape), 0, 255).astype(np.uint8),
    )
    y = np.arange(HEIGHT, dtype=np.float32)
    gx, gy = np.meshgrid(np.arange(WIDTH, dtype=np.float32), y)
    wobble = gx + 5 * np.sin(2 * np.pi * y / 700 + rng.uniform(0, 6))[:, None].astype(np.float32)
    yield "shaken while the rows were read", "hopeless", cv2.remap(picture, wobble, gy, cv2.INTER_LINEAR)
    fold = arc_px.mean(axis=0)
    past = np.maximum(gx - np.float32(fold[0]), 0)
    bent = gx + 0.05 * past + 4e-5 * past**2
    lifted = gy + (gy - HEIGHT / 2) * (5e-5 * past)
    yield "card folded through the middle", "hopeless", cv2.remap(picture, bent, lifted, cv2.INTER_LINEAR)
    cut = picture.copy()
    cut[:, int(fold[0]) :] = picture[:, int(fold[0])][:, None] // 3
    yield "half the arc beyond the picture", "hopeless", cut
    noisy = picture.astype(np.float32) * 0.04 + rng.normal(0, 3, picture.shape)
    yield "in the dark", "hopeless", np.clip(noisy, 0, 255).astype(np.uint8)
    line = np.round(arc_px + outward_px * 1.6 * px_per_mm).astype(np.int32)
    second = picture.copy()
    tone = float(cv2.mean(picture)[0])
    cv2.polylines(second, [line], False, (235, 235, 235), max(3, int(0.5 * px_per_mm)), cv2.LINE_AA)
    yield "a second sheet outside the first", "doubtful", cv2.GaussianBlur(second, (0, 0), 1.0)
    tape = picture.copy()
    some = line[start : start + int(0.6 * n)]
    cv2.polylines(tape, [some], False, (tone * 1.3,) * 3, max(3, int(1.2 * px_per_mm)), cv2.LINE_AA)
    yield "tape beside the end", "doubtful", cv2.GaussianBlur(tape, (0, 0), 1.0)
    yield (
        "moved by 4 pixels",
        "doubtful",
        cv2.filter2D(picture, -1, cv2.resize(streak, (5, 5)) / cv2.resize(streak, (5, 5)).sum()),
    )
    band = np.clip(
        (gx * np.cos(angle) + gy * np.sin(angle) - (fold @ [np.cos(angle), np.sin(angle)])) / 3, 0, 1
    )
    yield "hard shadow across the arc", "doubtful", (picture * (1 - 0.75 * band)[..., None]).astype(np.uint8)
    spot = np.hypot(gx - arc_px[n // 2, 0], gy - arc_px[n // 2, 1])
    yield (
        "lamp's reflex at the nose",
        "doubtful",
        np.clip(picture + (230 * np.exp(-((spot / 60) ** 2)))[..., None], 0, 255).astype(np.uint8),
    )
    yield "finger over a twentieth", "doubtful", mixed(blob(0.05, 12), skin)


def main(folder: Path, count: int, first: int) -> None:
    from photo.render_camera import save_jpeg
    from photo.render_profile import random_scene, render

    folder.mkdir(parents=True, exist_ok=True)
    tally: dict[str, list[int]] = {}
    made = []
    for seed in range(first, first + count):
        base = folder / f"{seed}"
        if not base.with_suffix(".truth.json").exists():
            scene = random_scene(seed)
            picture, layout, typed, truth = render(scene)
            truth.pop("camera")
            save_jpeg(picture, base.with_suffix(".jpg"), quality=92)
            for name, what in (("card", layout), ("input", typed), ("truth", truth)):
                base.with_suffix(f".{name}.json").write_text(json.dumps(what))
        layout, typed, truth = (
            read_json(base.with_suffix(f".{k}.json"), k) for k in ("card", "input", "truth")
        )
        made.append((layout, typed))
        answer, reading, _ = profile_reading(base.with_suffix(".jpg"), layout=layout, typed=typed)
        print(f"{seed} as it is: {said(answer, truth, typed)}", flush=True)
        if reading is None or answer["status"] != "measured":
            continue
        ends = reading.contour_mm
        arc = reading.view.pixels(np.column_stack([ends, np.full(len(ends), reading.z_mm)]))
        run = np.gradient(arc, axis=0)
        out = np.column_stack([run[:, 1], -run[:, 0]]) / np.hypot(*run.T)[:, None]
        out *= np.sign(((arc - arc.mean(axis=0)) * out).sum())
        picture = cv2.imread(str(base.with_suffix(".jpg")))
        cases = list(ways(np.random.default_rng(seed), picture, arc, out, reading.quality["px_per_mm"]))
        if len(made) > 1:
            cases.append(("another part's card typed", "wrong part", picture))
        for name, kind, spoiled in cases:
            photo = folder / "spoiled.jpg"
            save_jpeg(spoiled, photo, quality=90)
            of = made[-2][0] if kind == "wrong part" else layout
            try:
                answer = measure_profile_photo(photo, layout=of, typed=typed)
            except RibwrightError as wrong:
                answer = {"status": "retake", "reason": wrong.sentence()}
            words = said(answer, truth, typed)
            good = answer["status"] != "measured" or (kind == "doubtful" and words.endswith("right"))
            good = good or (kind == "wrong part" and answer["finding"] != "within limits")
            tally.setdefault(f"{kind}: {name}", [0, 0])
            tally[f"{kind}: {name}"][not good] += 1
            print(f"  {'' if good else '** '}{kind}, {name}: {words}", flush=True)
    for name, (right, wrong) in sorted(tally.items()):
        print(f"{right} of {right + wrong}  {name}")


def said(answer, truth, typed) -> str:
    if answer["status"] != "measured":
        return "refused. " + answer["reason"][:80]
    found = np.array(answer["deviation_bestfit_mm"], float)
    miss, u95 = found - np.array(truth["deviation_bestfit_mm"]), np.array(answer["u95_mm"], float)
    seen = np.isfinite(found)
    inside = float((np.abs(miss) <= u95)[seen].mean())
    over = truth["max_abs_bestfit_mm"] > typed["tolerance_mm"]
    wrong = (answer["finding"], over) in (("rework", False), ("within limits", True))
    rms = float(np.sqrt((miss[seen] ** 2).mean()))
    return (
        f"measured, rms {rms:.3f}, inside u95 {100 * inside:.0f} %, worst {np.abs(miss[seen]).max():.2f}, median u95 "
        f"{np.median(u95[seen]):.2f}, {answer['finding']} {'right' if inside >= 0.95 and not wrong else 'WRONG'}"
    )


if __name__ == "__main__":
    cv2.setNumThreads(1)
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    main(
        Path(sys.argv[1]),
        int(sys.argv[2]) if len(sys.argv) > 2 else 4,
        int(sys.argv[3]) if len(sys.argv) > 3 else 7000,
    )
