"""House rules that run over every registered formula, table, requirement and calculation."""

from __future__ import annotations

import ast
import inspect
import re
from pathlib import Path

import numpy as np
import pytest

from ribwright.core.audit import FORMULAS, index
from ribwright.core.audit.formula import Formula
from ribwright.core.tables import RUNGS, source, table, table_names
from ribwright.core.units import UNITS

ENTRIES = index.found()
NAMES = sorted(FORMULAS)
ENDINGS = (
    "in", "ft", "mm", "m", "nm", "psi", "ksi", "msi", "pa", "hpa", "mpa", "lbf", "n", "lb", "kg", "oz", "rad", "deg", "h", "s",
    "kt", "mph", "fpm", "lbf_in", "lb_in", "lbf_per_in", "lb_in_per_in", "in2", "in3", "ft2", "gal", "gph", "f", "c", "k", "hp", "a",
    "v", "ohm", "per_in", "ratio", "factor", "count", "spaces", "fraction", "exponent", "share", "z", "inhg", "inh2o", "lb_per_in3",
    "lb_per_gal", "percent", "kelvin", "tenths", "number", "per_mm", "n_per_mm", "n_mm", "in4", "lb_in2", "days", "weeks", "money",
    "x", "weight", "ft_per_lb", "ohm_per_ft", "circular_mil", "kts", "r", "psf", "slug_per_ft3", "kg_per_m3", "per_money", "hours",
    "lbf_in_per_in", "n_mm_per_mm", "mach",
)  # fmt: skip


@pytest.fixture(params=NAMES)
def made(request: pytest.FixtureRequest) -> Formula:
    return FORMULAS[request.param]


def inside(formula: Formula, rng: np.random.Generator, count: int = 200) -> dict[str, np.ndarray]:
    """Random inputs inside the formula's limits; open sides are taken near 1."""
    drawn = {}
    for name in formula.inputs:
        low, high = formula.limits.get(name, (None, None))
        lo = (0.1 if high is None or high > 0.1 else high - 1.0) if low is None else low
        hi = (lo + 10.0 * max(1.0, abs(lo))) if high is None else high
        drawn[name] = rng.uniform(lo, hi, count)
    return drawn


def test_every_input_ends_in_its_unit(made: Formula) -> None:
    for name in made.inputs:
        assert name.endswith(tuple("_" + e for e in ENDINGS)) or name in ENDINGS, (
            f"{made.name}: {name} does not say its unit"
        )


def test_every_input_is_keyword_only(made: Formula) -> None:
    kinds = {p.kind for p in inspect.signature(made.kernel).parameters.values()}
    assert kinds == {inspect.Parameter.KEYWORD_ONLY}, made.name


def test_printed_text_equals_kernel(made: Formula) -> None:
    drawn = inside(made, np.random.default_rng(7))
    kernel = np.asarray(made.kernel(**drawn), float)
    printed = np.broadcast_to(np.asarray(made.evaluate(**drawn), float), kernel.shape)
    np.testing.assert_allclose(printed, kernel, rtol=1e-9, atol=1e-12, err_msg=made.name)


def test_inside_its_limits_it_is_finite(made: Formula) -> None:
    assert np.isfinite(np.asarray(made.kernel(**inside(made, np.random.default_rng(8))), float)).all(), (
        made.name
    )


def test_every_input_matters_somewhere(made: Formula) -> None:
    rng = np.random.default_rng(9)
    drawn, other = inside(made, rng), inside(made, rng)
    base = np.asarray(made.kernel(**drawn), float)
    for name in made.inputs:
        changed = np.asarray(made.kernel(**(drawn | {name: other[name]})), float)
        assert (np.abs(changed - base) > 1e-12 * (1 + np.abs(base))).any(), f"{made.name}: {name} is ignored"


def test_source_unit_and_rung_are_known(made: Formula) -> None:
    assert made.rung in RUNGS
    assert made.rung != "compared", "only a person who held it against the document may say so"
    assert source(made.source).title
    assert made.unit in UNITS, f"{made.name}: unit {made.unit!r}"
    assert made.locator


def covers() -> dict[str, list[str]]:
    """Formula names covered by the reference tests, read from their source without running them."""
    found: dict[str, list[str]] = {}
    for path in sorted((Path(__file__).parents[1] / "reference").glob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            targets = (
                node.targets
                if isinstance(node, ast.Assign)
                else [node.target]
                if isinstance(node, ast.AnnAssign)
                else []
            )
            if any(isinstance(t, ast.Name) and t.id == "COVERS" for t in targets) and node.value is not None:  # type: ignore[union-attr]
                for name in ast.literal_eval(node.value):  # type: ignore[union-attr]
                    found.setdefault(name, []).append(path.name)
    return found


def test_every_formula_is_checked_or_excused(made: Formula) -> None:
    assert made.excuse or made.name in covers(), (
        f"{made.name}: no reference test covers it and no reason is given"
    )


def test_covers_names_only_what_exists() -> None:
    assert set(covers()) <= set(FORMULAS), set(covers()) - set(FORMULAS)


@pytest.mark.parametrize("name", table_names())
def test_table_is_whole(name: str) -> None:
    made = table(name)
    assert made.title
    assert made.rows
    assert made.rung != "compared"
    assert "compared" not in made.row_rungs.values()
    for key in made.row_keys():
        for column in made.rows[key]:
            cell = made.cell(key, column)
            assert cell.text.strip() == cell.text


def test_index_is_what_the_code_says() -> None:
    assert index.text_of(ENTRIES) == index.text_of(index.entries()), "run scripts/generate.py"


def test_no_published_number_stands_in_the_core() -> None:
    """Strengths are cells of tables, not literals: a five- or six-digit psi or a ksi beside a material name is suspect."""
    core = Path(index.__file__).parents[1]
    pattern = re.compile(r"(2024|6061|7075|5052|2117)\S*['\"]?\s*[:=]\s*\(?\s*\d{2,3}(\.\d+)?\s*[,)}]")
    suspects = [
        f"{p.name}:{n}"
        for p in core.rglob("*.py")
        for n, line in enumerate(p.read_text(encoding="utf-8").splitlines(), 1)
        if pattern.search(line)
    ]
    assert not suspects, suspects
