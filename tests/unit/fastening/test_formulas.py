"""Every formula of fastening: printed text equals kernel, every input matters, checked or excused."""

from __future__ import annotations

import ast
import importlib
import pkgutil
from pathlib import Path

import numpy as np
import pytest

import ribwright.core.fastening as fastening
from ribwright.core.audit import FORMULAS

for _module in pkgutil.iter_modules(fastening.__path__, "ribwright.core.fastening."):
    importlib.import_module(_module.name)

MADE = sorted(
    name for name, f in FORMULAS.items() if f.kernel.__module__.startswith("ribwright.core.fastening.")
)


def _covered() -> set[str]:
    found: set[str] = set()
    for path in sorted((Path(__file__).parents[2] / "reference").glob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            target = (
                node.target
                if isinstance(node, ast.AnnAssign)
                else node.targets[0]
                if isinstance(node, ast.Assign)
                else None
            )
            if isinstance(target, ast.Name) and target.id == "COVERS" and node.value is not None:  # type: ignore[union-attr]
                found |= set(ast.literal_eval(node.value))  # type: ignore[union-attr]
    return found


def _draws(name: str, count: int = 400) -> dict[str, np.ndarray]:
    made = FORMULAS[name]
    rng = np.random.default_rng(7)
    draws = {}
    for key in made.inputs:
        low, high = made.limits.get(key, (0.1, 2.0))
        assert low is not None, f"{name}: {key} is open below"
        assert high is not None, f"{name}: {key} is open above"
        draws[key] = rng.uniform(low, high, count)
    return draws


@pytest.mark.parametrize("name", MADE)
def test_printed_text_is_the_kernel_and_finite_inside_its_limits(name: str) -> None:
    draws = _draws(name)
    by_kernel = np.asarray(FORMULAS[name].kernel(**draws), float)
    assert np.isfinite(by_kernel).all()
    np.testing.assert_allclose(by_kernel, FORMULAS[name].evaluate(**draws), rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("name", MADE)
def test_every_input_has_limits_and_matters_somewhere(name: str) -> None:
    made = FORMULAS[name]
    assert set(made.limits) == set(made.inputs)
    draws = _draws(name)
    base = np.asarray(made.kernel(**draws), float)
    for key in made.inputs:
        other = {**draws, key: draws[key][::-1].copy()}
        assert np.any(np.abs(np.asarray(made.kernel(**other), float) - base) > 1e-9), f"{key} never matters"


@pytest.mark.parametrize("name", MADE)
def test_checked_against_a_printed_number_or_excused(name: str) -> None:
    covered = name in _covered()
    assert covered != bool(FORMULAS[name].excuse), (
        f"{name}: {'both checked and excused' if covered else 'neither'}"
    )
