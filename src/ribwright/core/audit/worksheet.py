"""The calculation as it would stand on paper: inputs as entered, formula, numbers put in, result, source."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from ribwright.core.audit.formula import Formula, formula_of
from ribwright.core.audit.lettering import lettered
from ribwright.core.audit.spec import fields_of
from ribwright.core.bench import CAUTIONS
from ribwright.core.scene import Block, Bullets, Document, Heading, Paragraph, Picture, Table
from ribwright.core.tables import RUNGS, Cell
from ribwright.core.units import Quantity, shown, with_metric
from ribwright.errors import OutOfRangeError

if TYPE_CHECKING:
    from ribwright.core.audit.calculation import Outcome


@dataclass(frozen=True, slots=True)
class Step:
    """One line of the worksheet.

    Attributes:
        kind: ``formula``, ``table``, ``called out``, ``worked out``, ``assumed`` or ``note``.
        value: in ``unit``; ``None`` for words.
        text: what stands on the paper: result with unit, or the words.
        printed, put_in: the formula and the same with numbers.
        because: source, table cell, drawing or reason.
    """

    kind: str
    label: str
    text: str
    value: float | None = None
    unit: str = ""
    formula: str = ""
    printed: str = ""
    put_in: str = ""
    because: str = ""
    rung: str = ""
    valid: str = ""
    deviation: str = ""
    depends: tuple[str, str] = ("", "")  # table or formula, and its digest or revision


@dataclass(slots=True)
class Worksheet:
    """Collects steps while a calculation runs; the calculation's :class:`Outcome` freezes them.

    The one mutable object of the core: it lives for one call and never leaves it unfrozen.
    """

    steps: list[Step] = field(default_factory=list)

    def step(self, label: str, kernel: Callable[..., Any], **inputs: float) -> float:
        """Run a registered kernel on plain floats and write the line.

        Raises:
            OutOfRangeError: an input lies outside the range in which the source holds the formula.
        """
        made = formula_of(kernel)
        for name, (low, high) in made.limits.items():
            value = inputs[name]
            if (
                not math.isfinite(value)
                or (low is not None and value < low)
                or (high is not None and value > high)
            ):
                raise OutOfRangeError(
                    f"{label} ({_spoken(name)})",
                    found=f"{value:g}",
                    allowed=_between(low, high),
                    mend=f"The source of {made.name} holds it only there.",
                )
        result = float(kernel(**inputs))
        if not math.isfinite(result):
            raise OutOfRangeError(
                label, found="no finite result", allowed="inputs inside the formula's range"
            )
        self.steps.append(
            Step(
                "formula", label, with_metric(result, made.unit, places=_places(made.unit)), result, made.unit, made.name,
                f"{made.symbol} = {made.shown}", f"{made.symbol} = {_numbers(made, inputs)}", made.cited, made.rung,
                _valid(made), made.deviation, (f"formula {made.name}", str(made.revision)),
            )
        )  # fmt: skip
        return result

    def look_up(self, label: str, cell: Cell) -> float:
        """Write a table look-up and return the value in the canonical unit."""
        value = None if cell.unit == "text" else cell.value
        said = cell.text if cell.unit == "text" else f"{cell.text} {cell.unit}".strip()
        self.steps.append(
            Step(
                "table", label, said, value, cell.unit, because=cell.cited, rung=cell.rung,
                depends=(f"table {cell.table}", cell.digest),
            )
        )  # fmt: skip
        return cell.canonical if cell.unit != "text" else 0.0

    def called_out(self, label: str, value: Quantity | str, where: str) -> None:
        """The drawing says it: it is taken as it stands."""
        number = float(value.number) if isinstance(value, Quantity) else None
        unit = value.unit.symbol if isinstance(value, Quantity) else ""
        said = value.text if isinstance(value, Quantity) else str(value)
        decimal = said.removesuffix(unit).strip().replace(".", "", 1).isdigit()
        if number is not None and not (decimal and unit and said.endswith(unit)):
            said = f"{said} ({shown(number, unit)})"  # a fraction, or a bare number: what it is taken for
        self.steps.append(Step("called out", label, said, number, unit, because=where, rung="drawing"))

    def worked_out(
        self,
        label: str,
        said: str,
        because: str,
        *,
        value: float | None = None,
        unit: str = "",
        rung: str = "derived",
    ) -> None:
        """The drawing is silent: what is proposed, with the reason."""
        self.steps.append(Step("worked out", label, said, value, unit, because=because, rung=rung))

    def assume(
        self,
        label: str,
        said: str,
        because: str,
        *,
        value: float | None = None,
        unit: str = "",
        rung: str = "practice",
    ) -> None:
        """Something taken for granted that the builder should know of."""
        self.steps.append(Step("assumed", label, said, value, unit, because=because, rung=rung))

    def note(self, said: str) -> None:
        """A remark: handbook ranges against a called-out value are notes, never findings."""
        self.steps.append(Step("note", "", said))


def _places(unit: str) -> int | None:
    return {"in": 4, "": 4}.get(unit)


def _spoken(name: str) -> str:
    return name.replace("_", " ")


def _between(low: float | None, high: float | None) -> str:
    if low is None:
        return f"{high:g} or less"
    return f"{low:g} or more" if high is None else f"{low:g} to {high:g}"


def _valid(made: Formula) -> str:
    if not made.limits:
        return "no limit stated; inputs finite"
    return (
        "; ".join(f"{_spoken(name)} {_between(*bounds)}" for name, bounds in made.limits.items())
        + ": inputs inside"
    )


def _numbers(made: Formula, inputs: dict[str, float]) -> str:
    names = sorted(inputs, key=len, reverse=True)
    pattern = re.compile(r"\b(" + "|".join(map(re.escape, names)) + r")\b")
    return pattern.sub(lambda match: f"{float(np.asarray(inputs[match.group(1)])):.6g}", made.shown)


def document_of_outcome(
    outcome: Outcome, spec: object, *, title: str, reference: str = "", revision: str = "", seal: str = ""
) -> Document:
    """The worksheet as a document: inputs first, as entered; then every step; then findings and sources."""
    blocks = (*_entered(spec), *_results(outcome), *_worked(outcome), *_checks(outcome), *_trust(outcome))
    return Document(title, reference, revision, seal, blocks)


def answer_of_outcome(outcome: Outcome, spec: object, *, title: str, worksheet: bool = True) -> Document:
    """The same for who reads line by line: what it comes to and the findings first, the worksheet, if wanted, after."""
    blocks = (*_results(outcome), *_checks(outcome), *_trust(outcome))
    return Document(title, "", "", "", (*blocks, *_entered(spec), *_worked(outcome)) if worksheet else blocks)


def _entered(spec: object) -> tuple[Block, ...]:
    return (Heading("Entered", 2), *_inputs(spec))


def _results(outcome: Outcome) -> tuple[Block, ...]:
    blocks: list[Block] = []
    if outcome.results:
        single = [r for r in outcome.results.values() if not isinstance(r.value, tuple)]
        blocks.append(Heading("Result", 2))
        if any(r.band for r in single):
            rows = tuple((r.label, r.shown, r.band) for r in single)
            blocks.append(Table(("what", "value", "band"), rows, widths=(0.44, 0.32, 0.24)))
        elif single:
            pairs = tuple((r.label, r.shown) for r in single)
            blocks.append(Table(("what", "value"), pairs, widths=(0.44, 0.56)))
        for result in outcome.results.values():
            if isinstance(result.value, tuple):
                blocks += _numbered(result.label, result.value, result.unit)
    if outcome.picture is not None:
        blocks.append(Picture(outcome.picture, outcome.picture.title))
    return tuple(blocks)


def _worked(outcome: Outcome) -> tuple[Block, ...]:
    blocks: list[Block] = [Heading("Worked", 2)]
    rows = []
    for step in outcome.steps:
        if step.kind == "note":
            continue
        how = "\n".join(
            lettered(part)
            for part in (step.printed, step.put_in if step.put_in != step.printed else "")
            if part
        )
        why = step.because + (f" [{step.rung}]" if step.rung in ("second-hand", "practice", "memory") else "")
        rows.append((step.label, how or step.kind, step.text, why))
    blocks.append(
        Table(
            ("step", "formula, numbers put in", "result", "source or reason"),
            tuple(rows),
            widths=(0.2, 0.32, 0.18, 0.3),
        )
    )
    notes = tuple(step.text for step in outcome.steps if step.kind == "note")
    if notes:
        blocks += [Heading("Notes", 2), Bullets(notes)]
    return tuple(blocks)


def _checks(outcome: Outcome) -> tuple[Block, ...]:
    blocks: list[Block] = []
    if outcome.findings:
        blocks += [
            Heading("Checks", 2),
            Table(
                ("check", "answer", "why", "next"),
                tuple(
                    (f.requirement + (f", {f.where}" if f.where else ""), f.verdict.value, f.reason, f.next)
                    for f in outcome.findings
                ),
                widths=(0.22, 0.14, 0.36, 0.28),
            ),
        ]
    own = tuple(
        text for text in outcome.cautions if text not in CAUTIONS
    )  # those stand at the foot of every sheet
    if own:
        blocks += [Heading("Look out for", 2), Bullets(own)]
    return tuple(blocks)


def _trust(outcome: Outcome) -> tuple[Block, ...]:
    used = [step.rung for step in outcome.steps if step.rung in RUNGS]
    if not used:
        return ()
    weakest = max(used, key=RUNGS.index)
    return (Paragraph(f"How far to trust it, by its weakest source: {_RUNG_SAID[weakest]}", small=True),)


_RUNG_SAID = {
    "compared": "every value was held against its document.",
    "seen": "every value was read in its source.",
    "derived": "worked out here from sources that were read.",
    "second-hand": "known from a text that quotes its source.",
    "practice": "common practice, no source.",
    "memory": "from memory, not yet held against its source: a draft.",
}


_ACROSS = 5


def _numbered(label: str, values: tuple[float, ...], unit: str) -> tuple[Block, ...]:
    """A list of values (a hole table) in numbered columns that read downwards."""
    said = {shown(value, unit) for value in values}
    if len(said) == 1 and len(values) > 3:
        alike = Table(("no.", label), ((f"1 to {len(values)}, each", said.pop()),), widths=(0.3, 0.7))
        return (Heading(label[:1].upper() + label[1:], 3), alike)
    across = min(_ACROSS, len(values))
    down = -(-len(values) // max(across, 1))
    lines = []
    for row in range(down):
        cells: list[str] = []
        for column in range(across):
            at = column * down + row
            cells += [str(at + 1), shown(values[at], unit)] if at < len(values) else ["", ""]
        lines.append(tuple(cells))
    head = ("no.", label) * across
    return (
        Heading(label[:1].upper() + label[1:], 3),
        Table(head, tuple(lines), numeric=tuple(range(2 * across))),
    )


def _inputs(spec: object, indent: str = "") -> tuple[Block, ...]:
    lines: list[tuple[str, str]] = []
    blocks: list[Block] = []
    for described in fields_of(type(spec)):
        value = getattr(spec, described.name)
        if described.kind == "rows":
            if value and described.row is not None:
                columns = [
                    f
                    for f in fields_of(described.row)
                    if any(getattr(row, f.name) is not None for row in value)
                ]
                head = tuple(f.label for f in columns)  # each value carries its unit
                cells = tuple(tuple(_said(getattr(row, f.name)) for f in columns) for row in value)
                blocks += [Heading(described.label, 3), Table(head, cells)]
        elif value is not None and value != "":
            lines.append((indent + described.label, _said(value)))
    first = (Table(("input", "as entered"), tuple(lines), widths=(0.5, 0.5)),) if lines else ()
    return (*first, *blocks)


def _said(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return f"{len(value)} rows"
    if isinstance(value, Quantity):
        text = value.text
        return text if re.search(r"[^\d\s./-]", text) else f"{text} {value.unit.symbol}".strip()
    return str(value)
