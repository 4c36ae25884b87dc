"""Accuracy of photo metrology on photos with known truth: the project's own renders, or a folder.

python benchmarks/photo_accuracy.py own DIR [COUNT]     render COUNT profiles and rows into DIR (resumable), measure
python benchmarks/photo_accuracy.py soft DIR [COUNT]    COUNT formed rows in the soft light the instructions ask for
python benchmarks/photo_accuracy.py lit DIR [COUNT]     COUNT formed rows whose lamps and shades belong together
python benchmarks/photo_accuracy.py mirrored DIR [COUNT]  COUNT formed rows of the second renderer, to which nothing is fitted: half in soft
                                                       light, a third tilted, blurred and from 140 to 255 mm
python benchmarks/photo_accuracy.py flush|holes|dimples DIR [COUNT]  COUNT rows of these in soft light
python benchmarks/photo_accuracy.py hopeless DIR        hopeless rows in several lights, flush and formed rows over backgrounds not used elsewhere
python benchmarks/photo_accuracy.py profiles DIR        NAME.jpg + .card.json + .input.json + .truth.json
python benchmarks/photo_accuracy.py rows DIR            NAME.jpg + .strip.json + .input.json + .truth.json
"""

from __future__ import annotations

import json
import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "src")]

from ribwright.services.photo_measure import measure_profile_photo, measure_row_photo, read_json  # noqa: E402


def _truth(path: Path) -> dict:
    found = json.loads(path.read_text())
    return found["truth"] if isinstance(found.get("truth"), dict) else found


def profiles(folder: Path) -> None:
    rms, worst, cover, seen, u95, decided, wrong, retakes = [], [], [], [], [], [], [], []
    for truth in sorted(folder.glob("*.truth.json")):
        base = truth.name.removesuffix(".truth.json")
        if not (folder / f"{base}.card.json").exists():
            continue
        answer = measure_profile_photo(
            folder / f"{base}.jpg",
            layout=read_json(folder / f"{base}.card.json", "layout"),
            typed=read_json(folder / f"{base}.input.json", "input"),
        )
        if answer["status"] != "measured":
            retakes.append((base, answer["reason"][:60]))
            continue
        true = np.array(_truth(truth)["deviation_bestfit_mm"])
        found = np.array([np.nan if d is None else d for d in answer["deviation_bestfit_mm"]])
        u = np.array([np.nan if d is None else d for d in answer["u95_mm"]])
        ok = np.isfinite(found)
        miss, top = (found - true)[ok], float(np.abs(true).max())
        rms.append(float(np.sqrt((miss**2).mean())))
        worst.append(abs(answer["max_abs_bestfit_mm"] - top))
        cover.extend(np.abs(miss) <= u[ok])
        seen.append(float(ok.mean()))
        u95.append(float(np.median(u[ok])))
        if abs(top - 0.8) > 0.2:
            decided.append(answer["finding"] != "undecided")
        if (answer["finding"], top > 0.8) in (("rework", False), ("within limits", True)):
            wrong.append(base)
        print(f"  {base}: rms {rms[-1]:.3f} max error {worst[-1]:.3f} true max {top:.2f} {answer['finding']}")
    print(f"profiles measured {len(rms)}, retakes {len(retakes)}")
    for name, reason in retakes:
        print(f"  {name}: {reason}")
    if rms:
        print(
            f"rms <= .05: {100 * np.mean(np.array(rms) <= 0.05):.0f} %, 95 % of photos {np.quantile(rms, 0.95):.3f} mm"
        )
        print(f"error of the maximum <= .15: {100 * np.mean(np.array(worst) <= 0.15):.0f} %")
        print(f"true value inside u95: {100 * np.mean(cover):.1f} %; median u95 {np.median(u95):.3f} mm")
        print(f"seen >= 90 %: {100 * np.mean(np.array(seen) >= 0.9):.0f} % of photos")
        print(f"decided {100 * np.mean(decided):.0f} % of {len(decided)}; wrong findings: {wrong or 'none'}")


def rows(folder: Path) -> None:
    shop, flush, pitch, edge, bad, good, retakes = [], [], [], [], [], [], []
    inside, u95, worst, oval, found = [], [], [], [], []
    for truth in sorted(folder.glob("*.truth.json")):
        base = truth.name.removesuffix(".truth.json")
        if not (folder / f"{base}.strip.json").exists():
            continue
        typed = read_json(folder / f"{base}.input.json", "input")
        answer = measure_row_photo(
            folder / f"{base}.jpg", layout=read_json(folder / f"{base}.strip.json", "layout"), typed=typed
        )
        heads = _truth(truth)["heads"]
        if answer["status"] != "measured" or len(heads) != len(answer["heads"]):
            retakes.append((base, answer["reason"][:60]))
            continue
        for got, is_ in zip(answer["heads"], heads, strict=True):
            mean = (got["d_max"] + got["d_min"] - is_["d_max"] - is_["d_min"]) / 2
            surface = typed["flush"] or typed.get("what") in ("holes", "dimples")
            (flush if surface else shop).append(mean)
            if got["pitch_to_next_mm"] is not None and is_["pitch_to_next_mm"] is not None:
                pitch.append(got["pitch_to_next_mm"] - is_["pitch_to_next_mm"])
            edge.append(got["edge_distance_mm"] - is_["edge_distance_mm"])
            if not surface:
                ends = [got[k] - is_[k] for k in ("d_max", "d_min")]
                worst.append(max(ends, key=abs))
                oval.append(ends[0] - ends[1])
                inside.append(abs(worst[-1]) <= got["u95_mm"])
                u95.append(got["u95_mm"])
            (good if is_["accept"] else bad).append(got["finding"])
            if not is_["accept"]:
                found.append(
                    got["finding"] == "reject"
                    or (got["finding"] == "undecided" and _inside(is_, typed) > -0.15)
                )
    print(f"rows retaken {len(retakes)}: {retakes}")
    for name, errors in (
        ("formed d", shop),
        ("formed, worse of largest and smallest", worst),
        ("formed, largest less smallest", oval),
        ("in the surface d", flush),
        ("pitch", pitch),
        ("edge", edge),
    ):
        if errors:
            e = np.array(errors)
            print(
                f"{name}: n {len(e)} median {np.median(e):+.3f} 95 % {np.quantile(np.abs(e), 0.95):.3f} mm, "
                f"beyond .4: {100 * np.mean(np.abs(e) > 0.4):.1f} %"
            )
    if u95:
        print(f"formed: both inside u95 {100 * np.mean(inside):.0f} %; median u95 {np.median(u95):.2f} mm")
    for name, said in (("heads to reject", bad), ("good heads", good)):
        print(name, {word: said.count(word) for word in ("reject", "undecided", "nothing wrong seen")})
    if found:
        print(
            f"rejects found, an undecided one within .15 mm of its limit counted: {100 * np.mean(found):.1f} %"
        )


def _inside(head, typed) -> float:
    """How far inside its limits a head truly is (mm), the nearest of them."""
    shank, limits = typed["rivet_D_mm"], typed["limits"]
    mean = (head["d_max"] + head["d_min"]) / 2
    return min(
        head["d_min"] - limits["d_min_over_D"] * shank,
        limits["d_max_over_D"] * shank - head["d_max"],
        limits["ovality_max"] * mean - (head["d_max"] - head["d_min"]),
        head["edge_distance_mm"] - limits["edge_distance_min_over_D"] * shank,
    )


def own(folder: Path, count: int, *, light: str = "") -> None:
    from photo.render_camera import save_jpeg
    from photo.render_profile import random_scene, render
    from photo.render_row import random_row, render_row, row_in

    kinds = [("p", random_scene, render, "card"), ("r", random_row, render_row, "strip")]
    if light:
        kinds = [(light, lambda seed: row_in(light, seed), render_row, "strip")]
    for kind, scene_of, make, ending in kinds:
        sub = folder / kind
        sub.mkdir(parents=True, exist_ok=True)
        for seed in range(count):
            if (sub / f"{seed:03d}.truth.json").exists():
                continue
            scene = scene_of(seed)
            picture, layout, typed, truth = make(scene)
            truth.pop("camera", None)
            save_jpeg(picture, sub / f"{seed:03d}.jpg", quality=scene.quality)
            (sub / f"{seed:03d}.{ending}.json").write_text(json.dumps(layout))
            (sub / f"{seed:03d}.input.json").write_text(json.dumps(typed))
            (sub / f"{seed:03d}.truth.json").write_text(json.dumps(truth))
    if light:
        rows(folder / light)
        return
    profiles(folder / "p")
    rows(folder / "r")


def strange_background(rng, kind: str):
    """Backgrounds that no other benchmark and no training uses: washers strewn about, patches, a perforated board."""
    size = 2048
    out = np.full((size, size, 3), rng.uniform(0.05, 0.6, 3), np.float32)
    if kind == "patches":
        seeds = rng.integers(0, size, (300, 2))
        mask = np.full((size, size), 255, np.uint8)
        mask[seeds[:, 0], seeds[:, 1]] = 0
        _, label = cv2.distanceTransformWithLabels(mask, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
        return rng.uniform(0.03, 0.8, (301, 3)).astype(np.float32)[np.minimum(label, 300)]
    if kind == "perforated":
        for x in range(20, size, 56):
            for y in range(20, size, 56):
                cv2.circle(out, (x, y), 11, (0.02, 0.02, 0.02), -1, cv2.LINE_AA)
        return out
    for _ in range(900):
        at = tuple(int(v) for v in rng.integers(0, size, 2))
        tone, radius = float(rng.uniform(0.2, 0.9)), int(rng.integers(8, 26))
        cv2.circle(out, at, radius, (tone, tone, tone), -1, cv2.LINE_AA)
        cv2.circle(out, at, radius // 2, (0.05, 0.05, 0.05), -1, cv2.LINE_AA)
    return cv2.GaussianBlur(out, (0, 0), 1.0)


def hopeless(folder: Path) -> None:
    """Rows that must be refused, in three lights; good flush and formed rows over strange backgrounds."""
    from photo import render_row as made
    from photo.render_camera import save_jpeg

    folder.mkdir(parents=True, exist_ok=True)
    kinds = ("washers", "patches", "perforated")
    usual = made.background
    made.background = lambda rng, kind: strange_background(rng, kind) if kind in kinds else usual(rng, kind)
    rows = [
        (f"hopeless {name}", replace(scene, seed=scene.seed + 70 * k, background=kinds[k], lit=k == 1, soft=k == 2), False)
        for name, scene in made.hopeless_rows().items()
        for k in range(3)
    ]  # fmt: skip
    rows += [
        (f"{'flush' if flush else 'formed'} {seed}", replace(made.random_row(seed, soft=True), flush=flush, background=kinds[seed % 3]), True)
        for flush in (True, False)
        for seed in range(9500, 9506)
    ]  # fmt: skip
    said, flush_errors = {True: [0, 0], False: [0, 0]}, []
    for number, (name, scene, good) in enumerate(rows):
        picture, layout, typed, truth = made.render_row(scene)
        photo = folder / f"{number:02d}.jpg"
        save_jpeg(picture, photo, quality=scene.quality)
        answer = measure_row_photo(photo, layout=layout, typed=typed)
        refused = answer["status"] != "measured"
        said[good][int(refused)] += 1
        worst = ""
        if good and not refused:
            error = [
                (a["d_max"] + a["d_min"] - b["d_max"] - b["d_min"]) / 2
                for a, b in zip(answer["heads"], truth["heads"], strict=True)
            ]
            worst = f"worst {max(error, key=abs):+.3f} mm"
            flush_errors += error if scene.flush else []
        print(f"  {name}, {scene.background}: {answer['status']} {worst} {answer['reason'][:70]}", flush=True)
    print(
        f"hopeless refused {said[False][1]} of {sum(said[False])}; good refused {said[True][1]} of {sum(said[True])}"
    )
    if flush_errors:
        print(f"flush heads {len(flush_errors)}: 95 % {np.quantile(np.abs(flush_errors), 0.95):.3f} mm")


if __name__ == "__main__":
    cv2.setNumThreads(1)
    if len(sys.argv) < 3 or sys.argv[1] not in (
        "own",
        "soft",
        "lit",
        "mirrored",
        "flush",
        "holes",
        "dimples",
        "hopeless",
        "profiles",
        "rows",
    ):
        sys.exit(__doc__)
    if sys.argv[1] in ("own", "soft", "lit", "mirrored", "flush", "holes", "dimples"):
        own(
            Path(sys.argv[2]),
            int(sys.argv[3]) if len(sys.argv) > 3 else 24,
            light="" if sys.argv[1] == "own" else sys.argv[1],
        )
    else:
        {"hopeless": hopeless, "profiles": profiles, "rows": rows}[sys.argv[1]](Path(sys.argv[2]))
