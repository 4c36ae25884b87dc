"""Random specs thrown at every calculation: an answer or a sentence, never a traceback, never NaN."""

from __future__ import annotations

import json
import math
import time
import tomllib
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from ribwright.core.audit import Outcome, index
from ribwright.core.audit.calculation import CALCULATIONS, answer
from ribwright.core.audit.spec import Field, fields_of, read
from ribwright.core.units import parse
from ribwright.errors import RibwrightError
from ribwright.services.calculations import run_calculation

index.found()
TRIES = 60
MOST_S = 5.0
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
NASTY: tuple[Any, ...] = (
    "", " ", "nan", "inf", "-1", "0", "1e9", "1,500", "0,8", "#30", "F", "1/0", "1-1/2", "5 kg", "9999999 in", "3 apples", "\x00", "é" * 5,
    None, True, [], {}, 0, -1, 1e308, float("nan"), "' OR 1=1", "<b>", "__import__('os')",
)  # fmt: skip


def value_for(field: Field, rng: np.random.Generator, wildness: float) -> Any:
    """Mostly plausible near the example and inside the limits, now and then nonsense."""
    if rng.random() < wildness:
        return NASTY[rng.integers(len(NASTY))]
    if field.kind == "choice":
        return field.choices[rng.integers(len(field.choices))]
    if field.kind == "flag":
        return bool(rng.integers(2))
    if field.kind == "whole":
        low, high = int(field.low or 0), int(field.high or 10)
        return int(rng.integers(low, min(high, low + 12) + 1))
    if field.kind == "text":
        return field.example or "anything"
    base = parse(field.example or "1", field.unit)
    spread = float(rng.choice([0.0, 0.02, 0.5])) * rng.normal()
    return f"{float(base.number) * math.exp(spread):.6g} {base.unit.symbol}".strip()


def example_of(name: str) -> dict[str, Any] | None:
    """The committed example of a calculation, where it has one."""
    path = EXAMPLES / f"{name}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8")) if path.exists() else None


def mutated(raw: dict[str, Any], spec: type, rng: np.random.Generator, wildness: float) -> dict[str, Any]:
    """An example with some of its values drawn anew."""
    made = dict(raw)
    for field in fields_of(spec):
        if field.name not in made:
            continue
        if field.kind == "rows":
            assert field.row is not None
            made[field.name] = [mutated(row, field.row, rng, wildness) for row in made[field.name]]
        elif rng.random() < wildness:
            made[field.name] = value_for(field, rng, wildness)
    return made


def spec_for(spec: type, rng: np.random.Generator, wildness: float) -> dict[str, Any]:
    raw: dict[str, Any] = {}
    for field in fields_of(spec):
        if field.kind == "rows":
            assert field.row is not None
            count = field.least + int(rng.integers(0, 3))
            raw[field.name] = [spec_for(field.row, rng, wildness) for _ in range(count)]
        elif not ((field.optional or field.default is not None) and rng.random() < 0.4):
            raw[field.name] = value_for(field, rng, wildness)
    return raw


def finite(value: object) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, dict):
        return all(finite(v) for v in value.values())
    if isinstance(value, list | tuple):
        return all(finite(v) for v in value)
    return True


@pytest.mark.parametrize("name", sorted(CALCULATIONS))
def test_an_answer_or_a_sentence(name: str) -> None:
    made = CALCULATIONS[name]
    rng = np.random.default_rng(zlib.crc32(name.encode()))
    answered = 0
    began = time.monotonic()
    for attempt in range(TRIES):
        # a slow calculation (a packer, a search) gets fewer tries, never fewer than a dozen
        if attempt >= 12 and answered and time.monotonic() - began > MOST_S:
            break
        wildness = 0.0 if attempt % 3 else 0.1
        example = example_of(name)
        near = example is not None and attempt % 2 == 0
        raw = (
            mutated(example, made.spec, rng, wildness)
            if near and example
            else spec_for(made.spec, rng, wildness)
        )
        try:
            done = run_calculation(name, raw)
        except RibwrightError as refused:
            sentence = refused.sentence()
            assert sentence.endswith((".", "?", "!"))
            assert "Traceback" not in sentence
            continue
        answered += 1
        assert isinstance(done.outcome, Outcome)
        assert finite(done.answer), (name, raw)
        text = json.dumps(done.answer, allow_nan=False)
        assert json.loads(text)["calculation"] == name
        assert set(done.answer["results"]) <= set(made.result_keys), f"{name}: results not declared"
        assert done.answer["sources"] or done.answer["steps"]
    assert answered > 0, (
        f"{name}: no random spec near its own examples could be answered; give it an example in docs/examples"
    )


@pytest.mark.parametrize("name", sorted(CALCULATIONS))
def test_what_was_entered_comes_back_as_an_equal_spec(name: str) -> None:
    from ribwright.core.audit import raw_of

    made = CALCULATIONS[name]
    rng = np.random.default_rng(zlib.crc32(name.encode()) + 1)
    for _ in range(20):
        try:
            spec = read(made.spec, spec_for(made.spec, rng, 0.0))
        except RibwrightError:
            continue
        assert read(made.spec, raw_of(spec)) == spec


def test_the_answer_has_its_stated_shape() -> None:
    assert answer.__doc__
    from seams import SEAM

    done = run_calculation("seam", SEAM)
    assert set(done.answer) >= {"calculation", "inputs", "steps", "results", "findings", "status", "sources"}
    for result in done.answer["results"].values():
        assert set(result) == {"value", "unit", "shown", "low", "high"}


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda p: p.stem)
def test_every_example_is_answered(path: Path) -> None:
    assert path.stem in CALCULATIONS
    run_calculation(path.stem, tomllib.loads(path.read_text(encoding="utf-8")))
