"""ASTM D1785: outside diameters of plastic pipe, and that the demonstration's round tools are such pipes.

The values below were typed from a second place (a general CAD part library's pipe table) than the table's own.
"""

from __future__ import annotations

import pytest

from reference.printed import assert_printed
from ribwright.core.tables import table
from ribwright.dunlin.inputs import TOOLS

SECOND_PLACE = {"1/2": "0.84", "3/4": "1.05", "1": "1.315", "1 1/4": "1.66", "1 1/2": "1.9", "2": "2.375"}


@pytest.mark.parametrize("size", SECOND_PLACE)
def test_outside_diameters(size: str) -> None:
    assert_printed(table("forming/pipe").cell(size, "outside").canonical, SECOND_PLACE[size])


def test_the_demonstration_rolls_on_such_pipes() -> None:
    pipes = table("forming/pipe")
    found = 0
    for name, outside, inside, _ in TOOLS:
        if name.endswith("in pipe"):
            size = name.removesuffix(" in pipe").replace("-", " ")
            assert float(outside) == pipes.cell(size, "outside").canonical, name
            assert (
                float(inside)
                <= float(outside) - 2 * pipes.cell(size, "least wall, schedule 40").canonical + 1e-9
            ), name
            found += 1
    assert found >= 3
