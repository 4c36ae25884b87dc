"""PDF pages opened again and measured: by pdfplumber in points, and by pypdfium2 in pixels at 600 dpi."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest

from ribwright.core.scene import (
    Arc,
    Bullets,
    Caution,
    Circle,
    Document,
    Fields,
    FillIn,
    Hatch,
    Heading,
    Line,
    Marker,
    PageBreak,
    Paragraph,
    Picture,
    Polyline,
    Scene,
    Table,
    Text,
    TitleBlock,
    full_size,
)
from ribwright.core.writers import pdf_of_document, pdf_of_packet, pdf_of_pages
from ribwright.core.writers.pdf_strokes import settable
from ribwright.errors import DoesNotFitError, MissingError, UnknownNameError

pdfplumber = pytest.importorskip("pdfplumber")
pdfium = pytest.importorskip("pypdfium2")
MM_PER_PT = 25.4 / 72


def _pages(data):
    with pdfplumber.open(io.BytesIO(data)) as pdf:
        return [
            (page.lines, page.curves, page.rects, page.extract_text(), page.width, page.height)
            for page in pdf.pages
        ]


def _text(data):
    """All text as a PDF reader copies it (pdfplumber does not know the Symbol face's own code)."""
    document = pdfium.PdfDocument(data)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document).replace("\r\n", "\n")
    finally:
        document.close()


def _longest(lines):
    return max(math.dist((line["x0"], line["y0"]), (line["x1"], line["y1"])) for line in lines)


@pytest.mark.parametrize("mm", [25.4, 100.0, 250.0, 400.0])
def test_length_on_the_page_within_two_hundredths_of_a_millimetre(mm):
    data = pdf_of_pages(full_size(Scene((Line((0, 0), (mm / 25.4, 0)),)), "tabloid", orientation="landscape"))
    (page,) = _pages(data)
    if mm > 110:
        assert abs(_longest(page[0]) * MM_PER_PT - mm) < 0.001
    else:
        assert any(abs((line["x1"] - line["x0"]) * MM_PER_PT - mm) < 0.001 for line in page[0])


def test_positions_of_holes_on_the_page():
    places = [(0.5 + 1.25 * n, 1.0 + 0.7 * (n % 3)) for n in range(5)]
    scene = Scene(tuple(Circle(p, 0.0635) for p in places))
    (page,) = _pages(pdf_of_pages(full_size(scene)))
    centers = sorted(((c["x0"] + c["x1"]) / 2, (c["y0"] + c["y1"]) / 2) for c in page[1])
    assert len(centers) == 5
    base, first = np.array(centers[0]), np.array(places[0])
    for got, place in zip(centers, places, strict=True):
        off = (np.array(got) - base) * MM_PER_PT - (np.array(place) - first) * 25.4
        assert np.abs(off).max() < 0.001
    assert all(abs((c["x1"] - c["x0"]) - 0.127 * 72) < 1e-3 for c in page[1])


def test_true_arcs_leave_their_circle_by_less_than_a_micrometre():
    """The cubic curves of a 10 in arc, evaluated and held against the circle."""
    data = pdf_of_pages(full_size(Scene((Arc((0, 0), 10.0, 50, 130),)), "a3"))
    (page,) = _pages(data)
    curve = next(c for c in page[1] if len(c["path"]) > 2)
    start = curve["path"][0][1]
    points = []
    for _, a, b, end in curve["path"][1:]:
        t = np.linspace(0, 1, 20)[:, None]
        s, a, b, e = (np.array(v, float) for v in (start, a, b, end))
        points.append((1 - t) ** 3 * s + 3 * (1 - t) ** 2 * t * a + 3 * (1 - t) * t**2 * b + t**3 * e)
        start = end
    p = np.concatenate(points) * MM_PER_PT
    # circle through the dense points by least squares
    m = np.column_stack([p, np.ones(len(p))])
    x, y, c = np.linalg.lstsq(m, np.sum(p**2, axis=1), rcond=None)[0]
    radius = math.sqrt(c + x * x / 4 + y * y / 4)
    assert abs(radius - 254.0) < 1e-3
    assert np.abs(np.hypot(p[:, 0] - x / 2, p[:, 1] - y / 2) - radius).max() < 1e-3


def _pixels(data, number=0, dpi=600):
    document = pdfium.PdfDocument(data)
    try:
        shown = document[number].render(scale=dpi / 72, grayscale=True).to_numpy()
        return 255 - np.asarray(shown, dtype=float).reshape(*shown.shape[:2], -1)[..., 0]
    finally:
        document.close()


def _centroid(ink, axis):
    run = ink.sum(axis=axis)
    return float((run * np.arange(len(run))).sum() / run.sum())


def _tick_distance(ink, upright):
    """Distance in pixels between two thin strokes that stand alone in their halves."""
    half = ink.shape[1 - upright] // 2
    a, b = (ink[:, :half], ink[:, half:]) if not upright else (ink[:half], ink[half:])
    return half + _centroid(b, 1 if upright else 0) - _centroid(a, 1 if upright else 0)


def test_rasterised_at_600_dpi_the_length_is_true_to_a_fifth_of_a_pixel():
    scene = Scene((Line((0, 0), (0, 1), "thin"), Line((395 / 25.4, 0), (395 / 25.4, 1), "thin")))
    (page,) = full_size(scene, "tabloid", orientation="landscape")
    ink = _pixels(pdf_of_pages([page]))
    w = page.window
    top, bottom = ((page.height - w.top) * 600, (page.height - w.bottom) * 600)
    middle = int((top + bottom) / 2)
    # a band that crosses the two strokes and nothing else
    band = ink[middle - 100 : middle + 100, int(w.left * 600) + 5 : int(w.right * 600) - 5]
    measured = _tick_distance(band, False) * 25.4 / 600
    assert abs(measured - 395.0) < 0.02


def test_check_figures_measured_in_pixels():
    (page,) = full_size(Scene((Circle((0, 0), 0.2),)))
    ink = _pixels(pdf_of_pages([page]))
    left, foot = page.window.left - 0.55, page.window.bottom - 1.2
    # end ticks of the 4.000 in bar reach .1 in below it, the others half as far: take the outer half
    y = int((page.height - (foot + 0.3 + 0.36 - 0.08)) * 600)
    x0 = int((left + 0.06 - 0.03) * 600)
    across = _tick_distance(ink[y - 6 : y + 6, x0 : x0 + int(4.06 * 600)], False)
    assert across / 600 * 25.4 == pytest.approx(101.6, abs=0.02)
    # the upright bar's lettering stands beside it: look at its two ends only
    x = int((left + 0.1 - 0.08) * 600)
    low, high = (int((page.height - (page.window.bottom + 0.1 + reach)) * 600) for reach in (0.0, 4.0))
    ends = [row - 40 + _centroid(ink[row - 40 : row + 40, x - 6 : x + 6], 1) for row in (high, low)]
    assert (ends[1] - ends[0]) / 600 * 25.4 == pytest.approx(101.6, abs=0.02)


@pytest.mark.parametrize("correction", [(1.0, 1.0), (1.012, 0.991)])
def test_corrected_pages_are_scaled_by_the_printer_factors_and_by_nothing_else(correction):
    scene = Scene((Line((0, 0), (6, 0)), Line((0, 0), (0, 7))))
    (page,) = _pages(pdf_of_pages(full_size(scene, correction=correction)))
    across = max(line["x1"] - line["x0"] for line in page[0]) / 72
    along = max(line["y1"] - line["y0"] for line in page[0]) / 72
    assert across == pytest.approx(6 * correction[0], abs=1e-5)
    assert along == pytest.approx(7 * correction[1], abs=1e-5)


def test_across_a_tile_joint_within_five_hundredths_of_a_millimetre():
    """Sheets are laid with their crosses together, as a builder does; marks on different sheets are measured."""
    marks = [(0.5 + n, 0.5 + (n * 7) % 17) for n in range(26)]
    scene = Scene((*(Circle(p, 0.031) for p in marks), Line((0, 0), (26.5, 0)), Line((0, 0), (0, 18))))
    pages = full_size(scene, "letter")
    assert len(pages) > 4
    data = pdf_of_pages(pages)
    read = _pages(data)
    rows, columns = max(p.row for p in pages) + 1, max(p.column for p in pages) + 1
    origin = {(0, 0): np.zeros(2)}
    for row in range(rows):
        for column in range(columns):
            here = read[row * columns + column]
            if column:
                origin[row, column] = origin[row, column - 1] + _shift(
                    read[row * columns + column - 1], here, pages[0], True
                )
            elif row:
                origin[row, column] = origin[row - 1, column] + _shift(
                    read[(row - 1) * columns], here, pages[0], False
                )
    found = {}
    for page, content in zip(pages, read, strict=True):
        w = page.window
        for c in content[1]:
            x, y = (c["x0"] + c["x1"]) / 2, (c["y0"] + c["y1"]) / 2
            if w.left * 72 < x < w.right * 72 and w.bottom * 72 < y < w.top * 72:
                place = np.array([x, y]) + origin[page.row, page.column]
                found.setdefault((page.row, page.column), []).append(place)
    everything = [p for places in found.values() for p in places]
    assert len(found) > 3
    a, b = np.array(everything), np.array(marks)
    a = (a - a[a[:, 0].argmin()]) / 72 + b[0]
    # every mark is found, and every one found lies within .05 mm of where it belongs
    distance = np.hypot(a[:, None, 0] - b[None, :, 0], a[:, None, 1] - b[None, :, 1]) * 25.4
    assert distance.min(axis=0).max() < 0.05
    assert distance.min(axis=1).max() < 0.05


def _crosses(content):
    arms = [
        line
        for line in content[0]
        if abs(math.dist((line["x0"], line["y0"]), (line["x1"], line["y1"])) - 0.24 * 72) < 1e-3
    ]
    return [
        ((line["x0"] + line["x1"]) / 2, (line["y0"] + line["y1"]) / 2)
        for line in arms
        if abs(line["y0"] - line["y1"]) < 1e-6
    ]


def _shift(before, after, page, sideways):
    """Where the later sheet's origin comes to lie on the earlier one when three crosses are put together."""
    w = page.window
    if sideways:
        a = sorted((p for p in _crosses(before) if abs(p[0] - (w.right - 0.25) * 72) < 1), key=lambda p: p[1])
        b = sorted((p for p in _crosses(after) if abs(p[0] - (w.left + 0.25) * 72) < 1), key=lambda p: p[1])
    else:
        a = sorted(p for p in _crosses(before) if abs(p[1] - (w.bottom + 0.25) * 72) < 1)
        b = sorted(p for p in _crosses(after) if abs(p[1] - (w.top - 0.25) * 72) < 1)
    assert len(a) == len(b) == 3
    return np.mean(np.array(a) - np.array(b), axis=0)


def test_readers_are_asked_not_to_scale():
    data = pdf_of_pages(full_size(Scene((Circle((0, 0), 1),))))
    assert b"/PrintScaling /None" in data


def test_same_values_same_bytes():
    scene = Scene((Hatch(((0, 0), (3, 0), (3, 3)), 45), Marker((1, 1), "countersink", "A")))
    assert pdf_of_pages(full_size(scene)) == pdf_of_pages(full_size(scene))
    assert pdf_of_document(SHEET) == pdf_of_document(SHEET)


SHEET = Document(
    "Stage sheet: dimple the skin",
    "SH-0007-A-12ab",
    "A",
    "ab12 cd34",
    (
        Heading("Tray"),
        Bullets(("#40 drill", "dimple dies"), tick=True),
        Bullets(("first", "second"), ordered=True),
        Heading("Limits", 2),
        Table(
            ("hole", "low", "high", "because"),
            tuple((f"{n}", ".045", ".051", "≤ 3/32 · 98° ½ <b> & 'x'") for n in range(90)),
            (1, 1, 1, 3),
            (1, 2),
        ),
        Caution("Never dimple twice."),
        Fields((("rivet", "MS20426AD3-4"), ("drill", "#40"))),
        FillIn("head height", "in"),
        Picture(Scene((Circle((0, 0), 5), Text((0, 0), "BIG", 1.0, "middle")), "the set-up"), "The set-up"),
        Paragraph("Close to the end. " * 30),
        PageBreak(),
        Heading("Full size"),
        Picture(Scene((Line((0, 0), (6, 0)), Line((6, 0), (6, 2)))), "true", full_size=True),
    ),
)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_sheet_reads_back_in_order_with_its_foot(paper):
    data = pdf_of_document(SHEET, paper)
    pages = _pages(data)
    text = _text(data)
    for part in (
        "Tray",
        "dimple dies",
        "2. second",
        "≤ 3/32 · 98° ½ <b> & 'x'",
        "Never dimple twice.",
        "MS20426AD3-4",
        "BIG",
    ):
        assert part in text
    assert text.index("Tray") < text.index("Limits") < text.index("Never") < text.index("Full size")
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page[3]
        assert "SH-0007-A-12ab · revision A · seal ab12 cd34" in page[3]
        assert "Not approved data" in page[3]
    # the head of a long table stands on each of its pages
    assert sum(p[3].count("because") for p in pages) >= 3


def test_full_size_picture_in_a_sheet_is_full_size():
    last = _pages(pdf_of_document(SHEET))[-1]
    assert any(abs((line["x1"] - line["x0"]) - 6 * 72) < 1e-3 for line in last[0])


def test_full_size_picture_too_large_is_refused():
    with pytest.raises(DoesNotFitError, match="full-size template"):
        pdf_of_document(Document("t", blocks=(Picture(Scene((Line((0, 0), (9, 0)),)), full_size=True),)))


def test_nothing_runs_off_the_paper():
    """Everything that pdfplumber sees lies inside the margins."""
    with pdfplumber.open(io.BytesIO(pdf_of_document(SHEET))) as pdf:
        for page in pdf.pages:
            for char in page.chars:
                assert 40 < char["x0"] <= char["x1"] < page.width - 40
                assert 30 < char["bottom"] < page.height - 30


def test_packet_joins_sheets_and_templates():
    pages = full_size(Scene((Line((0, 0), (20, 0)),)), title_block=TitleBlock("Strip"))
    data = pdf_of_packet((SHEET, pages, SHEET))
    one = len(_pages(pdf_of_document(SHEET)))
    read = _pages(data)
    assert len(read) == 2 * one + len(pages)
    assert "Sheet 1 of" in read[one][3]
    assert f"page 1 of {one}" in read[one + len(pages)][3]


def test_polyline_with_bulges_follows_its_arcs():
    slot = Polyline(((0, 0), (3, 0), (3, 1), (0, 1)), True, bulges=(0, 1.0, 0, 1.0))
    (page,) = _pages(pdf_of_pages(full_size(Scene((slot,)))))
    curve = max(page[1], key=lambda c: c["x1"] - c["x0"])
    assert (curve["x1"] - curve["x0"]) / 72 == pytest.approx(4.0, abs=1e-4)
    assert (curve["y1"] - curve["y0"]) / 72 == pytest.approx(1.0, abs=1e-4)


def test_letters_that_the_face_lacks_get_a_plain_form():
    assert settable("Łódź 中 ☐ ⅜ ñ ≤ −") == "Lódz ? ❏ 3/8 ñ ≤ −"
    assert settable("plain") == "plain"


def test_empty_and_unknown_are_refused():
    with pytest.raises(MissingError):
        pdf_of_pages(())
    with pytest.raises(UnknownNameError):
        pdf_of_document(SHEET, "roll-24in")
    with pytest.raises(UnknownNameError):
        pdf_of_document(SHEET, "foolscap")
    assert _pages(pdf_of_document(Document("Empty")))[0][3].startswith("Empty")


def test_no_heading_ends_a_page():
    """Whatever stands before it, a heading takes the first line of what follows along."""
    for lines in range(36, 60):
        blocks = (
            *(Paragraph(f"line {n}") for n in range(lines)),
            Heading("Look out for", 2),
            Bullets(("first", "second")),
        )
        for page in _pages(pdf_of_document(Document("t", blocks=blocks))):
            said = page[3].splitlines()
            if "Look out for" in said:
                assert "first" in said[said.index("Look out for") + 1]


def test_a_heading_stays_with_its_picture_which_is_drawn_smaller_before_it_takes_a_new_page():
    picture = Scene((Circle((0, 0), 1),))
    for lines in range(8, 30, 2):
        blocks = (
            *(Paragraph(f"line {n}") for n in range(lines)),
            Heading("LEFT HAND", 2),
            Picture(picture, "the round"),
        )
        pages = [page[3].splitlines() for page in _pages(pdf_of_document(Document("t", blocks=blocks)))]
        where = [n for n, said in enumerate(pages) if "LEFT HAND" in said]
        assert where == [n for n, said in enumerate(pages) if "the round" in said], lines
        if lines <= 16:
            assert len(pages) == 1, lines


def test_a_long_title_takes_two_lines_of_the_title_block():
    title = "DN-2101 nose skin, left aileron, female template, station 14.5 in"
    text = _text(pdf_of_pages(full_size(Scene((Circle((0, 0), 1),)), title_block=TitleBlock(title))))
    assert title in text.replace("\n", " ")
