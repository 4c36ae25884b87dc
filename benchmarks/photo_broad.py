"""A broad lot of own profile photos with known truth: all kinds of ends, sheets, light and grounds.

python benchmarks/photo_broad.py render DIR KIND FIRST COUNT   resumable; KIND is laid, held, dark or hopeless
python benchmarks/photo_broad.py measure DIR [NAME]            measures all photos of DIR; answers to DIR/NAME.json
python benchmarks/photo_broad.py compare DIR NAME NAME         two such sets of answers side by side
python benchmarks/photo_broad.py swapped DIR                   each photo with the cards of three others, numbered alike

*laid*: a strip that stands on the card, its end painted black or dark, some glossy, some with paint run over onto the
skin. *held*: a window's part, white, bare or green end. *dark*: a black end held before what is lighter. *hopeless*:
must be refused.
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

from photo import render_profile as made  # noqa: E402

USUAL = made.background
GROUNDS = ("wood", "dark cloth", "grey cloth", "concrete", "checked cloth", "grass", "print", "foil",
           "washers", "patches", "perforated", "ruled", "cutting mat", "newspaper")  # fmt: skip
LIGHT_GROUNDS = ("concrete", "foil", "white paper", "ruled", "grass", "light wood")


def ground(rng, kind: str) -> np.ndarray:
    """The renderer's own backgrounds, those of the strange rows, and a few more, (size, size, 3) linear light."""
    from photo_accuracy import strange_background

    if kind in ("washers", "patches", "perforated"):
        return strange_background(rng, kind)
    size = 2048
    out = np.ones((size, size, 3), np.float32)
    if kind == "white paper":
        return out * np.float32(rng.uniform(0.6, 0.85))
    if kind == "light wood":
        tone = (
            0.5
            + 0.1 * made.smooth_noise(rng, (size, 64), 6)[:, :1]
            + 0.03 * made.smooth_noise(rng, (size, size), 9)
        )
        return np.clip(tone[..., None] * np.array([0.6, 0.85, 1.0], np.float32), 0.05, 0.9)
    if kind == "ruled":
        out *= np.float32(0.75)
        for y in range(0, size, int(rng.integers(20, 40))):
            cv2.line(
                out, (0, y), (size, y + int(rng.integers(-4, 4))), (0.5, 0.25, 0.15), int(rng.integers(1, 4))
            )
        return out
    if kind == "cutting mat":
        out *= np.array([0.12, 0.22, 0.06], np.float32)
        for y in range(0, size, 40):
            for a, b in (((0, y), (size, y)), ((y, 0), (y, size))):
                cv2.line(out, a, b, (0.6, 0.7, 0.6), 3 if y % 200 == 0 else 1, cv2.LINE_AA)
        return out
    if kind == "newspaper":
        out *= np.float32(0.5)
        for y in range(10, size, 14):
            for x in range(0, size, 9):
                if rng.random() < 0.7:
                    cv2.rectangle(out, (x, y), (x + int(rng.integers(2, 7)), y + 7), (0.04,) * 3, -1)
        return cv2.GaussianBlur(out, (0, 0), 0.8)
    return USUAL(rng, kind)


made.background = ground


def scene_of(kind: str, seed: int) -> made.Scene:
    """One scene of a kind; every number is drawn, none of them chosen on a photo of others."""
    rng = np.random.default_rng([seed, {"laid": 1, "held": 2, "dark": 3, "hopeless": 4}[kind]])
    pick = rng.choice
    laid = kind == "laid"
    print_x = float(pick([1.0, 1.0, 0.97, 1.003, 1.02]))
    scene = made.Scene(
        seed=500_000 + seed,
        nose_mm=float(rng.uniform(6, 26)),
        half_angle_deg=float(rng.uniform(4, 20)),
        laid=laid,
        height_mm=float(rng.uniform(11, 17) if laid else pick([0, 0, rng.uniform(-1.2, 1.2)])),
        sheet_mm=float(pick([0.4, 0.4, 0.5, 0.6, 0.8])),
        treatment=str({"laid": "black", "dark": "black"}.get(kind) or pick(["white", "bare", "green"])),
        background=str(pick(LIGHT_GROUNDS if kind == "dark" else GROUNDS)),
        distance=float(rng.uniform(255, 390)),
        tilt_deg=float(rng.uniform(0, 18)),
        blur_px=float(rng.uniform(0.7, 2.6)),
        motion_px=float(pick([0, 0, 0, rng.uniform(1, 4)])),
        bow_mm=float(rng.uniform(0, 1.5)),
        print_x=print_x,
        print_y=0.998 if print_x == 1.003 else print_x,
        wave_mm=float(rng.uniform(0.02, 0.07)),
        spread_mm=float(pick([0, 0, rng.normal(0, 1.8)])),
        bump_mm=float(pick([0, rng.normal(0, 1.0), rng.normal(0, 0.5)])),
        quality=int(rng.integers(76, 95)),
        exposure=float(rng.uniform(0.5, 1.05)),
        occluders=int(rng.integers(0, 3)),
        height_error_mm=float(rng.uniform(-0.25, 0.25)),
        cast_mm=float(pick([0, rng.uniform(3, 25)])) if laid else 0.0,
        askew_deg=float(pick([0, 0, rng.uniform(0, 0.4)])),
        tone_map=float(pick([0, 0.35])),
        far_blur_px=float(pick([0, rng.uniform(1, 8)])),
        skin_tones=(float(rng.uniform(0.03, 0.9)), float(rng.uniform(0.03, 0.5))),
        overrun_mm=float(pick([0, 0, rng.uniform(0.1, 0.6)])),
        gloss=float(pick([0, 0, rng.uniform(0.05, 0.5)])),
        glint=float(pick([0, 0, rng.uniform(0.05, 0.4)])),
    )
    if kind == "hopeless":
        return _spoil(rng, scene, seed)
    return scene


def _spoil(rng, scene: made.Scene, seed: int) -> made.Scene:
    ways = (
        {
            "treatment": "black",
            "background": "dark cloth",
            "skin_tones": (0.04, 0.03),
            "gloss": 0.0,
            "glint": 0.0,
        },
        {"blur_px": float(rng.uniform(5, 9))},
        {"motion_px": float(rng.uniform(16, 30))},
        {"missing": True},
        {"missing": True, "laid": True, "height_mm": 14.0, "treatment": "black", "cast_mm": 12.0},
        {"distance": float(rng.uniform(620, 760))},
        {"tilt_deg": float(rng.uniform(38, 46))},
        {"cover_mm": float(rng.uniform(60, 90))},
        {"exposure": float(rng.uniform(3.5, 6))},
        {"exposure": float(rng.uniform(0.004, 0.01))},
        {"bow_mm": float(rng.uniform(22, 30))},
        {"laid": True, "height_mm": 14.0, "treatment": "black", "blur_px": 6.0},
    )
    return replace(scene, **ways[seed % len(ways)])


def render(folder: Path, kind: str, first: int, count: int) -> None:
    from photo.render_camera import save_jpeg

    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(first, first + count):
        base = folder / f"{kind}-{seed:04d}"
        if base.with_suffix(".truth.json").exists():
            continue
        scene = scene_of(kind, seed)
        picture, layout, typed, truth = made.render(scene)
        truth.pop("camera")
        save_jpeg(picture, base.with_suffix(".jpg"), quality=scene.quality)
        for name, what in (("card", layout), ("input", typed), ("truth", truth)):
            base.with_suffix(f".{name}.json").write_text(json.dumps(what))


def measure(folder: Path, name: str = "answers") -> None:
    from ribwright.services.photo_measure import measure_profile_photo, read_json

    found = {}
    for path in sorted(folder.glob("*.truth.json")):
        base = path.name.removesuffix(".truth.json")
        typed = read_json(folder / f"{base}.input.json", "input")
        start = time.process_time()
        answer = measure_profile_photo(
            folder / f"{base}.jpg", layout=read_json(folder / f"{base}.card.json", "layout"), typed=typed
        )
        took = time.process_time() - start
        found[base] = figures(answer, read_json(path, "truth"), typed) | {"cpu_ms": 1000 * took}
    (folder / f"{name}.json").write_text(json.dumps(found))
    report(found)


def figures(answer, truth, typed) -> dict:
    """What one answer is worth; for a refused photo what it would have been."""

    def numbers(values):
        return np.array([np.nan if v is None else v for v in values], float)

    d, u95, true = (
        numbers(answer["deviation_bestfit_mm"]),
        numbers(answer["u95_mm"]),
        np.array(truth["deviation_bestfit_mm"]),
    )
    seen = np.isfinite(d)
    top, most = float(np.abs(true).max()), answer["max_abs_bestfit_mm"]
    miss = (d - true)[seen]
    tolerance = typed["tolerance_mm"]
    return {
        "status": answer["status"],
        "reason": answer["reason"],
        "finding": answer["finding"],
        "rms": float(np.sqrt((miss**2).mean())) if seen.any() else None,
        "worst": float(np.abs(miss).max()) if seen.any() else None,
        "max_error": abs(most - top) if most is not None else None,
        "inside": float((np.abs(miss) <= u95[seen]).mean()) if seen.any() else None,
        "places": int(seen.sum()),
        "seen": float(seen.mean()),
        "u95": float(np.median(u95[seen])) if seen.any() else None,
        "true_max": top,
        "clear": abs(top - tolerance) > 0.2,
        "wrong": (answer["finding"], top > tolerance) in (("rework", False), ("within limits", True)),
        "quality": answer["quality"],
    }


def report(found: dict) -> None:
    for kind in [*sorted({b.split("-")[0] for b in found}), "all but hopeless"]:
        some = {b: f for b, f in found.items() if b.startswith(kind) or (kind[0] == "a" and b[0:2] != "ho")}
        if not some:
            continue
        for base, f in some.items() if kind[0] != "a" else ():
            words = "none" if f["rms"] is None else (
                f"rms {f['rms']:.3f} worst {f['worst']:.2f} max error {f['max_error']:.3f} inside {100 * f['inside']:.0f} % "
                f"u95 {f['u95']:.2f} true max {f['true_max']:.2f} {f['finding']}{' WRONG' if f['wrong'] else ''}"
            )  # fmt: skip
            print(f"  {base}: {f['status']} {words} {f['reason'][:60]}")
        ok = [f for f in some.values() if f["status"] == "measured"]
        print(f"{kind}: {len(some)}, refused {len(some) - len(ok)}")
        if not ok:
            continue
        rms = np.array([f["rms"] for f in ok])
        places = sum(f["places"] for f in ok)
        clear = [f["finding"] != "undecided" for f in ok if f["clear"]]
        print(
            f"   rms <= .05 {100 * np.mean(rms <= 0.05):.0f} %, median {np.median(rms):.3f}, 95 % {np.quantile(rms, 0.95):.3f}; "
            f"maximum <= .15 {100 * np.mean([f['max_error'] <= 0.15 for f in ok]):.0f} %; "
            f"inside {100 * sum(f['inside'] * f['places'] for f in ok) / places:.1f} %; u95 {np.median([f['u95'] for f in ok]):.3f}; "
            f"seen >= .9 {100 * np.mean([f['seen'] >= 0.9 for f in ok]):.0f} %; "
            f"decided {sum(clear)} of {len(clear)}; wrong {sum(f['wrong'] for f in ok)}; "
            f"CPU median {np.median([f['cpu_ms'] for f in ok]):.0f} ms"
        )  # fmt: skip


def swapped(folder: Path, others: int = 3) -> None:
    """What is said when another part's card is typed and only its window differs, not its numbers."""
    from ribwright.services.photo_measure import measure_profile_photo, read_json

    bases = sorted(
        p.name.removesuffix(".card.json") for p in folder.glob("*.card.json") if p.name[:2] != "ho"
    )
    cards = {b: json.loads((folder / f"{b}.card.json").read_text()) for b in bases}
    rng = np.random.default_rng(1)
    said = {"told as another card": 0, "refused otherwise": 0, "measured": 0}
    for base in bases:
        typed = read_json(folder / f"{base}.input.json", "input")
        for other in rng.permutation([b for b in bases if b != base])[:others]:
            card = json.loads(json.dumps(cards[other]))
            move = cards[base]["charuco"]["first_id"] - card["charuco"]["first_id"]
            card["charuco"]["first_id"] += move
            for marker in card["markers"]:
                marker["id"] += move
            answer = measure_profile_photo(folder / f"{base}.jpg", layout=card, typed=typed)
            told = "another part" in answer["reason"]
            what = "measured" if answer["status"] == "measured" else "told as another card" if told else "refused otherwise"  # fmt: skip
            said[what] += 1
            if what == "measured":
                print(f"  {base} with the card of {other}: {answer['finding']}")
    print(said)


def compare(folder: Path, before: str, after: str) -> None:
    one, two = (json.loads((folder / f"{n}.json").read_text()) for n in (before, after))
    for base in sorted(set(one) & set(two)):
        a, b = one[base], two[base]
        if (
            a["status"] != b["status"]
            or abs((a["rms"] or 0) - (b["rms"] or 0)) > 0.003
            or a["finding"] != b["finding"]
        ):
            print(
                f"  {base}: {a['status']} {a['rms']} {a['inside']} {a['finding']} -> {b['status']} {b['rms']} {b['inside']} {b['finding']}"
            )
    for found in (one, two):
        report(found)


if __name__ == "__main__":
    cv2.setNumThreads(1)
    if len(sys.argv) == 6 and sys.argv[1] == "render":
        render(Path(sys.argv[2]), sys.argv[3], int(sys.argv[4]), int(sys.argv[5]))
    elif len(sys.argv) in (3, 4) and sys.argv[1] == "measure":
        measure(Path(sys.argv[2]), *sys.argv[3:])
    elif len(sys.argv) == 3 and sys.argv[1] == "swapped":
        swapped(Path(sys.argv[2]))
    elif len(sys.argv) == 5 and sys.argv[1] == "compare":
        compare(Path(sys.argv[2]), *sys.argv[3:])
    else:
        sys.exit(__doc__)
