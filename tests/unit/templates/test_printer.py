from __future__ import annotations

import io

import pytest

from ribwright.core.scene import Line, Scene, full_size
from ribwright.core.templates.printer import check_printer
from ribwright.errors import OutOfRangeError


def test_a_true_print_is_accepted():
    made = check_printer(measured_short_in=4.001, measured_long_in=3.999)
    assert (made.verdict, made.short_edge, made.long_edge) == ("accepted", 1.0, 1.0)


def test_a_small_print_is_corrected_each_way_by_itself():
    made = check_printer(measured_short_in=3.984, measured_long_in=4.000)
    assert made.verdict == "corrected"
    assert made.short_edge == pytest.approx(4 / 3.984)
    assert made.long_edge == 1.0


@pytest.mark.parametrize("error", [(0.996, 1.004), (1.012, 0.985), (0.9999, 1.02)])
def test_the_corrected_print_measures_true(error):
    """A printer that stretches by ``error`` is measured, corrected, printed and measured again."""
    pdfplumber = pytest.importorskip("pdfplumber")
    from ribwright.core.writers import pdf_of_pages

    found = check_printer(measured_short_in=4 * error[0], measured_long_in=4 * error[1])
    pages = full_size(
        Scene((Line((0, 0), (6, 0)), Line((0, 0), (0, 7)))), correction=(found.short_edge, found.long_edge)
    )
    with pdfplumber.open(io.BytesIO(pdf_of_pages(pages))) as pdf:
        lines = pdf.pages[0].lines
        across = max(line["x1"] - line["x0"] for line in lines) / 72 * error[0]
        along = max(line["y1"] - line["y0"] for line in lines) / 72 * error[1]
    assert across == pytest.approx(6, abs=6 * 0.0005 + 1e-4)
    assert along == pytest.approx(7, abs=7 * 0.0005 + 1e-4)


def test_a_second_correction_starts_from_the_first():
    made = check_printer(measured_short_in=4.002 * 1.001, measured_long_in=4.0, before=(1.004, 1.0))
    assert made.short_edge == pytest.approx(1.004 * 4 / (4.002 * 1.001))


@pytest.mark.parametrize(
    ("short", "said"),
    [
        (3.75, "fit to page"),
        (4.2, "actual size"),
        (100 / 25.4 * 0.96, "fit to page"),
        (0.0, "end tick to end tick"),
        (float("nan"), "end tick to end tick"),
    ],
)
def test_beyond_three_per_cent_it_names_the_usual_cause(short, said):
    with pytest.raises(OutOfRangeError, match=said) as caught:
        check_printer(measured_short_in=short, measured_long_in=4.0)
    assert "short edge" in str(caught.value)


def test_corrections_do_not_creep_beyond_three_per_cent():
    with pytest.raises(OutOfRangeError, match="Forget this printer"):
        check_printer(measured_short_in=3.95, measured_long_in=4.0, before=(1.025, 1.0))
