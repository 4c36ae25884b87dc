"""Full-size output: length error on the page, time of a template set, scaling, nesting.

    python benchmarks/fullsize_output.py            everything but the Dunlin and the general CAD library
    python benchmarks/fullsize_output.py --dunlin   only the Dunlin's own parts and operations, and ten of it
    python benchmarks/fullsize_output.py --nest     only the nest, three instances
    python benchmarks/fullsize_output.py --cad PY   also time PY (a python with build123d) on the same outline

Prints the floor first (an empty file of the same kind), then each figure with its ratio to an alternative.
"""

from __future__ import annotations

import argparse
import functools
import io
import json
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import numpy as np
from ending import takes_all_with_it
from figures import figure

from ribwright.core.geometry import filleted, naca_section, outline, with_arcs
from ribwright.core.scene import Line, Polyline, Scene, TitleBlock, full_size
from ribwright.core.templates.nested import Blank, Sheet
from ribwright.core.templates.nesting import nest
from ribwright.core.templates.profile import Label, profile_template
from ribwright.core.templates.shape import as_item
from ribwright.core.templates.skin import NoseStation, SkinHole, nose_at, skin_flat
from ribwright.core.writers import dxf_of, pdf_of_pages
from ribwright.services.calculations import run_calculation


def best(run: Callable[[], object], times: int = 5) -> float:
    """Shortest of a few runs in milliseconds of processor time, which a busy machine does not stretch."""
    found = []
    for _ in range(times):
        start = time.process_time()
        run()
        found.append((time.process_time() - start) * 1000)
    return min(found)


def aileron_templates(count: int = 12) -> list[Scene]:
    """The aileron's nose templates, alternately over and inside the nose."""
    made = []
    for station in np.linspace(2, 56, count):
        share = station / 58
        nose = NoseStation(float(station), 1.12 - 0.34 * share, 9.0 - 2.2 * share, 9.0 - 2.2 * share, 5.5)
        for kind, touches in (("female", "outside"),) if len(made) % 2 == 0 else (("male", "inside"),):
            made.append(
                profile_template(
                    nose_at(nose, 0.0), Label("nose skin", round(float(station), 2), "left"), given="inside",
                    touches=touches, thickness_in=0.02, kind=kind,
                ).scene
            )  # fmt: skip
    return made


def print_set(scenes: list[Scene]) -> bytes:
    pages = [
        p
        for s in scenes
        for p in full_size(s, "letter", title_block=TitleBlock(s.title, "TPL-1", "DN-2100", "B"))
    ]
    return pdf_of_pages(pages)


def by_reportlab_ms(scenes: list[Scene], pages: int) -> float:
    """The same points as lines on as many pages by reportlab alone: no tiling, no hatching, no check figure."""
    from reportlab.pdfgen.canvas import Canvas

    lines = [
        np.asarray(item.points if isinstance(item, Polyline) else (item.a, item.b)).tolist()
        for scene in scenes
        for item in scene.items
        if isinstance(item, Polyline | Line)
    ]

    def draw() -> None:
        canvas = Canvas(io.BytesIO(), pageCompression=1)
        for number in range(pages):
            for points in lines[number::pages]:
                path = canvas.beginPath()
                path.moveTo(*points[0])
                for point in points[1:]:
                    path.lineTo(*point)
                canvas.drawPath(path)
            canvas.showPage()
        canvas.save()

    return best(draw)


@functools.cache
def row_strip(length: float) -> Scene:
    """The drill strip of a row on a part of this length, worked out once."""
    raw = tomllib.loads(
        (Path(__file__).parents[1] / "docs" / "examples" / "seam.toml").read_text(encoding="utf-8")
    )
    del raw["exceptions"]
    raw |= {"first": "1/2 in", "last": f"{length - 0.5} in", "part_length": f"{length} in"}
    return run_calculation("seam", raw).outcome.templates[0]


def whole_aeroplane(scale: int = 1) -> tuple[int, int]:
    """Output of the size of a whole aeroplane: templates, strips, skins and blanks of 14 assemblies, each unlike the next."""
    pages = files = 0
    for assembly in range(14 * scale):
        scenes = aileron_templates(12)
        for row in range(12):
            length = 30.0 + row + assembly % 7
            scenes.append(row_strip(length))
        tip = NoseStation(58, 0.78, 4.5, 4.5, 5.5)
        marks = [SkinHole(float(z), 3.0, "upper", 0.098) for z in np.arange(1, 57, 1.5)]
        scenes.append(
            skin_flat(
                NoseStation(0, 1.0 + 0.01 * (assembly % 14), 6, 6, 5.5), tip, thickness_in=0.02, holes=marks
            ).scene
        )
        for rib in range(17):
            section = naca_section(f"230{10 + rib % 6}") * (30 + rib)
            fit = with_arcs(section[(section[:, 0] > 0.0) & (section[:, 0] < 22)])
            made = outline(fit.points_in, fit.bulges)
            scenes.append(Scene((as_item(made),), f"rib {rib}"))
        for scene in scenes:
            sheets = full_size(scene, "tabloid", title_block=TitleBlock(scene.title, "TPL-1"))
            pages += len(sheets)
            pdf_of_pages(sheets)
        for scene in scenes[-18:]:
            dxf_of(scene)
            files += 1
    return pages, files


def the_dunlin(scale: int) -> tuple[float, float, int, int, int]:
    """Everything at full size of a real project: seconds on the clock and of processor, drawings, sheets, files."""
    from ribwright.services.dunlin import load_dunlin
    from ribwright.services.fullsize import whole_output
    from ribwright.services.project import Actor, create_project

    with tempfile.TemporaryDirectory() as folder:
        ann = Actor("Ann Bell")
        with create_project(Path(folder) / "p", name="Dunlin", actor=ann, request_id="begin") as project:
            load_dunlin(project, actor=ann, request_id="load", scale=scale)
            out = Path(folder) / "out"
            out.mkdir()
            start, used = time.perf_counter(), time.process_time()
            made = whole_output(
                project, lambda name, content: (out / name.replace("/", "-")).write_bytes(content)
            )
            took = time.perf_counter() - start, time.process_time() - used
        return *took, made.drawings, made.sheets, made.files


def plainer_blanks(seed: int) -> list[Blank]:
    """Fifty blanks that leave less beside them in their boxes: about half of a sheet is used by boxes in columns."""
    rng = np.random.default_rng(seed)
    made = []
    for n in range(50):
        kind = n % 5
        if kind == 0:
            shape = outline(
                naca_section(f"230{12 + n % 4}", closed=True, count=31)[1:-1] * rng.uniform(9, 16)
            )
        elif kind == 1:
            a, b, c = rng.uniform(3, 8), rng.uniform(2, 5), rng.uniform(0.3, 0.6)
            shape = filleted([[0, 0], [a, 0], [a, b * (1 - c)], [a * (1 - c), b], [0, b]], 0.15)
        elif kind == 2:
            a, b, t = rng.uniform(4, 8), rng.uniform(3, 6), rng.uniform(1.5, 2.5)
            shape = filleted([[0, 0], [a, 0], [a, t], [t, t], [t, b], [0, b]], 0.2)
        elif kind == 3:
            a, w, f = rng.uniform(8, 14), rng.uniform(2.5, 4), rng.uniform(1, 2.2)
            shape = filleted([[0, 0], [a, (w - f) / 2], [a, (w + f) / 2], [0, w]], 0.15)
        else:
            shape = filleted(
                np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * [rng.uniform(3, 7), rng.uniform(1, 3)], 0.1
            )
        made.append(Blank(f"blank {n + 1}", shape, 1, "any" if kind else "along"))
    return made


def nests() -> None:
    """Boxes in columns as the floor, then the packer, each checked again with shapely."""
    sheets = [Sheet("sheet", 144, 48)]
    for name, blanks in (
        ("as an aeroplane has them", fifty_blanks()),
        *((f"plainer, seed {k}", plainer_blanks(k)) for k in (31, 32, 33)),
    ):
        boxes = nest(blanks, sheets, gap_in=0.1, margin_in=0.0, seconds=0)
        start = time.perf_counter()
        made = nest(blanks, sheets, gap_in=0.1, margin_in=0.0, seconds=8)
        took = time.perf_counter() - start
        print(
            f"50 blanks, {name}: boxes in columns {boxes.use:.1%}, packer {made.use:.1%} of the used length in {took:.1f} s; "
            f"check: {made.check or 'holds'} (asked 75 % where boxes give 55 %, 10 s)"
        )


def fifty_blanks() -> list[Blank]:
    """Ribs, gussets, brackets and stiffeners as an aeroplane of this kind has them."""
    rng = np.random.default_rng(7)
    made = []
    for n in range(50):
        kind = n % 5
        if kind == 0:
            shape = outline(
                naca_section(f"23{10 + n % 6:03d}"[:5], closed=True, count=31)[1:-1] * rng.uniform(9, 16)
            )
        elif kind == 1:
            a, b = rng.uniform(4, 9, 2)
            shape = filleted([[0, 0], [a, 0], [0, b]], 0.2)
        elif kind == 2:
            a, b, t = rng.uniform(5, 9), rng.uniform(4, 8), rng.uniform(1.2, 2)
            shape = filleted([[0, 0], [a, 0], [a, t], [t, t], [t, b], [0, b]], 0.2)
        elif kind == 3:
            a, w, f = rng.uniform(8, 14), rng.uniform(2.5, 4), rng.uniform(1, 2)
            shape = filleted([[0, 0], [a, (w - f) / 2], [a, (w + f) / 2], [0, w]], 0.15)
        else:
            a, b = rng.uniform(3, 6), rng.uniform(1, 2.5)
            shape = filleted([[0, 0], [a, 0], [a, b], [0, b]], 0.1)
        made.append(Blank(f"blank {n + 1}", shape, 1, "any" if kind else "along"))
    return made


def measured_length_error() -> float:
    """Largest error of lengths from 10 to 395 mm on the page, read back, in mm."""
    import pdfplumber

    worst = 0.0
    for mm in (10, 100, 250, 395):
        data = pdf_of_pages(
            full_size(Scene((Line((0, 0), (mm / 25.4, 0)),)), "tabloid", orientation="landscape")
        )
        with pdfplumber.open(io.BytesIO(data)) as pdf:
            lengths = [(line["x1"] - line["x0"]) / 72 * 25.4 for line in pdf.pages[0].lines]
        worst = max(worst, min(abs(v - mm) for v in lengths))
    return worst


CAD = """
import json, sys, time
import build123d as b
points = json.load(sys.stdin)
best = 1e9
for _ in range(3):
    t = time.process_time()
    wire = b.Polyline(*[tuple(p) for p in points], close=True)
    out = b.ExportDXF(unit=b.Unit.IN)
    out.add_shape(wire)
    out.write(sys.argv[1])
    best = min(best, time.process_time() - t)
print(best * 1000)
"""

CAD_ARCS = """
import json, sys, time
import build123d as b
rows = json.load(sys.stdin)
best = 1e9
for _ in range(3):
    t = time.process_time()
    edges = []
    for a, m, e in rows:
        edges.append(b.ThreePointArc(tuple(a), tuple(m), tuple(e)) if m else b.Line(tuple(a), tuple(e)))
    out = b.ExportDXF(unit=b.Unit.IN)
    for edge in edges:
        out.add_shape(edge)
    out.write(sys.argv[1])
    best = min(best, time.process_time() - t)
print(best * 1000)
"""


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--cad", help="python with build123d")
    ask.add_argument("--scale", type=int, default=10)
    ask.add_argument("--dunlin", action="store_true", help="only the whole output of the Dunlin")
    ask.add_argument("--nest", action="store_true", help="only the nest")
    chosen = ask.parse_args()
    if chosen.nest:
        nests()
        return
    if chosen.dunlin:
        first = 0.0
        blank_ms = best(lambda: pdf_of_pages(full_size(Scene((Line((0, 0), (1, 0)),)))))
        for scale in (1, chosen.scale):
            clock, used, drawings, sheets, files = the_dunlin(scale)
            first = first or used
            print(
                f"{scale} Dunlin: {drawings} drawings on {sheets} sheets, {files} files in {clock:.1f} s, {used:.1f} s of processor"
                f" (asked 20 s for one); {used / first / scale:.2f} of linear"
            )
            figure(
                f"all of {scale} Dunlin at full size", used, "s of a core", floor=("as many empty sheets", sheets * blank_ms / 1000),
                against=("one Dunlin so many times", first * scale),
            )  # fmt: skip
        return
    blank = Scene((Line((0, 0), (1, 0)),))
    print(f"length on the page, largest error 10 to 395 mm: {measured_length_error():.6f} mm (asked .02)")
    floor = best(lambda: pdf_of_pages(full_size(blank)))
    print(f"floor: PDF of one page with one line {floor:.2f} ms; DXF {best(lambda: dxf_of(blank)):.2f} ms")
    scenes = aileron_templates()
    pages = sum(len(full_size(s, "letter")) for s in scenes)
    drawn = best(aileron_templates)
    printed = best(lambda: print_set(scenes))
    print(
        f"12 aileron templates, {pages} letter pages: drawn {drawn:.1f} ms, printed {printed:.1f} ms (asked 500 together)"
    )
    figure(
        "12 aileron templates drawn and printed", drawn + printed, "ms of a core", floor=("as many empty pages", floor * pages),
        against=("reportlab alone, the same lines on plain pages", by_reportlab_ms(scenes, pages)),
    )  # fmt: skip
    start, used = time.perf_counter(), time.process_time()
    count = whole_aeroplane()
    once, used_once = time.perf_counter() - start, time.process_time() - used
    print(
        f"whole aeroplane: {count[0]} pages, {count[1]} DXF in {once:.1f} s, {used_once:.1f} s of processor (asked 20)"
    )
    if chosen.scale > 1:
        start, used = time.perf_counter(), time.process_time()
        whole_aeroplane(chosen.scale)
        more, used_more = time.perf_counter() - start, time.process_time() - used
        print(
            f"times {chosen.scale}: {more:.1f} s, {used_more:.1f} s of processor, "
            f"{used_more / used_once / chosen.scale:.2f} of linear by processor time"
        )
    nests()
    section = naca_section("23012") * 40
    fit = with_arcs(section)
    chords = best(lambda: dxf_of(Scene((Polyline(tuple(map(tuple, section.tolist())), True, layer="cut"),))))
    ours_arcs = best(lambda: dxf_of(Scene((as_item(outline(fit.points_in, fit.bulges)),))))
    whole = best(lambda: dxf_of(Scene((as_item(outline(*_fitted(section))),))))
    print(
        f"one section of {len(section)} points: DXF as chords {chords:.2f} ms, as {len(fit.points_in)} true arcs {ours_arcs:.2f} ms, "
        f"arcs fitted, checked and written {whole:.2f} ms"
    )
    if chosen.cad:
        for name, script, data, ours in (
            ("as chords", CAD, section.tolist(), chords),
            ("as the same arcs", CAD_ARCS, _three_points(fit.points_in, fit.bulges), ours_arcs),
        ):
            done = subprocess.run(
                [chosen.cad, "-c", script, "section_of_cad.dxf"], input=json.dumps(data), capture_output=True, text=True,
                check=True,
            )  # fmt: skip
            theirs = float(done.stdout.split()[-1])
            print(
                f"build123d, same outline {name}: {theirs:.1f} ms; ours {ours:.2f} ms; ratio {theirs / ours:.0f}"
            )


def _fitted(section: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    fit = with_arcs(section)
    return fit.points_in, fit.bulges


def _three_points(points: np.ndarray, bulges: np.ndarray) -> list[object]:
    rows: list[object] = []
    for a, b, bulge in zip(points, np.roll(points, -1, axis=0), bulges, strict=True):
        chord = b - a
        middle = (a + b) / 2 - np.array([-chord[1], chord[0]]) * bulge / 2
        rows.append([a.tolist(), middle.tolist() if abs(bulge) > 1e-9 else None, b.tolist()])
    return rows


if __name__ == "__main__":
    takes_all_with_it()
    sys.exit(main())
