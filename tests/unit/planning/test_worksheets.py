"""The plan's calculations, through the same door as the command line's."""

from __future__ import annotations

import pytest

from ribwright.core.audit import Worksheet, read
from ribwright.core.planning.worksheets import (
    ChainSpec,
    OrderSpec,
    PaceSpec,
    PilotSpec,
    critical_path,
    order_by_date,
    pace,
    pilot_dates,
)
from ribwright.errors import FormatError, MissingError, RibwrightError


def test_chain():
    rows = [
        {"name": "a", "low": "1", "likely": 2, "high": "3"},
        {"name": "b", "low": "2", "likely": "2", "high": "2", "needs": "a"},
    ]
    out = critical_path(read(ChainSpec, {"activities": rows, "deadline": "4"}), Worksheet())
    assert out.results["length"].value == 4.0
    assert out.results["critical"].value == "a b"
    assert out.results["chance"].value == 0.5
    with pytest.raises(RibwrightError):
        critical_path(read(ChainSpec, {"activities": [{"name": "a", "low": "x"}]}), Worksheet())


def test_pace():
    rows = [{"trade": "sheet", "estimate": "10 h", "actual": "15 h"}] * 12
    out = pace(read(PaceSpec, {"log": rows}), Worksheet())
    factor = out.results["factor"]
    assert 1.2 < factor.value < 1.5
    assert factor.low < factor.value < factor.high
    assert out.results["enough"].value is True


def test_order_by():
    raw = {
        "today": "2026-05-01",
        "need": "2027-05-01",
        "need_spread": "0 d",
        "lead": "100 d",
        "factor": "1.5",
    }
    out = order_by_date(read(OrderSpec, raw), Worksheet())
    # 365 days − 100 · 1.5^.8416 = 224.3 days from 1 May.
    assert out.results["order_by"].value == "2026-12-11"
    with pytest.raises(MissingError):
        order_by_date(read(OrderSpec, {**raw, "factor": "1"}), Worksheet())


def test_pilot_dates():
    raw = {"first": "2028-09-01", "last": "2028-09-30", "review": "2026-07-01", "landings": "2028-08-15"}
    out = pilot_dates(read(PilotSpec, raw), Worksheet())
    assert out.results["review"].value == "between 2026-09-01 and 2028-09-01"
    assert out.results["landings"].value == "covered"
    with pytest.raises(FormatError):
        pilot_dates(read(PilotSpec, {**raw, "first": "soon"}), Worksheet())
