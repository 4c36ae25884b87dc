"""A spec and its worksheet function under one public name; what comes out, as one frozen value."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from ribwright.core.audit.spec import raw_of
from ribwright.core.audit.worksheet import Step, Worksheet
from ribwright.core.bench import CAUTIONS, Finding, Requirement, StageSheet, worst
from ribwright.core.scene import Document, Scene
from ribwright.core.units import Side, bound_text, shown, with_metric

F = TypeVar("F", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Result:
    """A named answer: number with unit (or words), and its 95 % band where one is known.

    ``limit`` says that the number is a limit: ``least`` and ``most`` are shown on their safe side, and with
    ``range`` low and high are the last good values, not a band. A ``bound`` is what nothing is farther off than: rounded up,
    or said to be less than the last decimal.
    """

    label: str
    value: float | str | bool | tuple[float, ...]
    unit: str = ""
    low: float | None = None
    high: float | None = None
    places: int | None = None
    limit: Literal["", "least", "most", "range", "bound"] = ""

    @property
    def shown(self) -> str:
        """As people read it, in the trade's unit with its metric partner."""
        if isinstance(self.value, bool):
            return "yes" if self.value else "no"
        if isinstance(self.value, str):
            return self.value
        if isinstance(self.value, tuple):
            return ", ".join(shown(v, self.unit, places=self.places) for v in self.value)
        if self.limit == "bound":
            return bound_text(self.value, self.unit, places=5 if self.places is None else self.places)
        side = {"least": Side.AT_LEAST, "most": Side.AT_MOST}.get(self.limit, Side.NEAREST)
        return with_metric(self.value, self.unit, places=self.places, side=side)

    @property
    def band(self) -> str:
        """The band as people read it, or nothing."""
        if self.low is None or self.high is None:
            return ""
        sides = (Side.AT_LEAST, Side.AT_MOST) if self.limit == "range" else (Side.NEAREST, Side.NEAREST)
        low, high = (
            shown(value, self.unit, places=self.places, side=side)
            for value, side in zip((self.low, self.high), sides, strict=True)
        )
        return f"{low} to {high}"

    def as_data(self) -> dict[str, object]:
        """For JSON."""
        value = list(self.value) if isinstance(self.value, tuple) else self.value
        return {"value": value, "unit": self.unit, "shown": self.shown, "low": self.low, "high": self.high}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a calculation answers: results, worksheet, what to measure, what follows, picture, sheets, papers to send."""

    steps: tuple[Step, ...]
    results: dict[str, Result]
    requirements: tuple[Requirement, ...] = ()
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = CAUTIONS
    picture: Scene | None = None
    sheets: tuple[StageSheet, ...] = ()
    templates: tuple[Scene, ...] = ()
    documents: tuple[Document, ...] = ()

    @property
    def status(self) -> str:
        """The severest finding, or *no check* when nothing was judged."""
        verdict = worst(self.findings)
        return verdict.value if verdict else "no check"


@dataclass(frozen=True, slots=True)
class Calculation:
    """A public calculation: ``ribwright calc NAME``, a form, a page of docs, all from this."""

    name: str
    title: str
    summary: str
    spec: type
    run: Callable[[Any, Worksheet], Outcome]
    result_keys: tuple[str, ...]

    def outcome(self, spec: object) -> Outcome:
        """Run it on a spec."""
        return self.run(spec, Worksheet())


CALCULATIONS: dict[str, Calculation] = {}


def calculation(
    name: str, *, title: str, summary: str, spec: type, results: tuple[str, ...]
) -> Callable[[F], F]:
    """Register ``function(spec, worksheet) -> Outcome`` under a public name; ``results`` are its result keys."""

    def register(function: F) -> F:
        CALCULATIONS[name] = Calculation(name, title, summary, spec, function, results)
        return function

    return register


def answer(made: Calculation, spec: object, outcome: Outcome) -> dict[str, Any]:
    """The one JSON answer of a calculation, for the command line and the web alike."""
    sources = sorted(
        {step.because for step in outcome.steps if step.because and step.kind in ("formula", "table")}
    )
    return {
        "calculation": made.name,
        "inputs": raw_of(spec),
        "steps": [
            {
                "kind": step.kind, "label": step.label, "formula": step.formula, "printed": step.printed,
                "put_in": step.put_in, "value": step.value, "unit": step.unit, "shown": step.text,
                "because": step.because, "rung": step.rung, "valid": step.valid,
            }
            for step in outcome.steps
        ],
        "results": {key: result.as_data() for key, result in outcome.results.items()},
        "requirements": [requirement.as_data() for requirement in outcome.requirements],
        "findings": [finding.as_data() for finding in outcome.findings],
        "cautions": list(outcome.cautions),
        "status": outcome.status,
        "sources": sources,
    }  # fmt: skip
