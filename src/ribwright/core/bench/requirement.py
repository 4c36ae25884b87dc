"""A limit with its reason, and a measured value with its uncertainty."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from ribwright.core.tables import Cell, source
from ribwright.core.units import Side, shown
from ribwright.errors import InputError, OutOfRangeError


@dataclass(frozen=True, slots=True)
class Because:
    """Why a limit stands: a source, a table cell, the drawing, or a step worked out above.

    Attributes:
        kind: ``source``, ``table``, ``drawing`` or ``worked out``.
        text: one line for the sheet.
        rung: how far it can be trusted (the ladder of the tables); a drawing is the designer's word: ``drawing``.
    """

    kind: str
    text: str
    rung: str

    @staticmethod
    def cell(cell: Cell, said: str = "") -> Because:
        """A table cell as the reason."""
        return Because("table", f"{said + ': ' if said else ''}{cell.cited}", cell.rung)

    @staticmethod
    def published(source_name: str, locator: str, rung: str, said: str = "") -> Because:
        """A published work as the reason."""
        return Because("source", f"{said + ': ' if said else ''}{source(source_name).cited(locator)}", rung)

    @staticmethod
    def drawing(number: str, revision: str, said: str) -> Because:
        """The designer's drawing as the reason; it wins over everything here."""
        return Because(
            "drawing", f"{said}: drawing {number or 'without number'} revision {revision or '-'}", "drawing"
        )

    @staticmethod
    def worked_out(said: str, rung: str = "derived") -> Because:
        """A step of the worksheet as the reason."""
        return Because("worked out", said, rung)


@dataclass(frozen=True, slots=True)
class Requirement:
    """What must be measured and between which limits.

    ``low``, ``nominal``, ``high`` are in ``unit``; ``None`` means no limit on that side.
    Below ``refer_low`` or above ``refer_high`` the answer is *refer*, between there and the limit *rework*.
    ``when_low`` and ``when_high`` say what to do next.
    """

    name: str
    unit: str
    low: float | None
    nominal: float | None
    high: float | None
    because: Because
    how: str
    when_low: str
    when_high: str
    refer_low: float | None = None
    refer_high: float | None = None
    usual_u: float = 0.0

    def limits_text(self, system: str = "inch") -> str:
        """Limits as people read them, each rounded to its safe side."""
        low = None if self.low is None else shown(self.low, self.unit, side=Side.AT_LEAST, system=system)
        high = None if self.high is None else shown(self.high, self.unit, side=Side.AT_MOST, system=system)
        if low and high:
            return f"{low} to {high}"
        return f"at least {low}" if low else f"at most {high}" if high else "no limit"

    def as_data(self) -> dict[str, object]:
        """For the record: every number as text."""
        return {
            "name": self.name,
            "unit": self.unit,
            "low": _text(self.low),
            "nominal": _text(self.nominal),
            "high": _text(self.high),
            "refer_low": _text(self.refer_low),
            "refer_high": _text(self.refer_high),
            "usual_u": _text(self.usual_u),
            "because": {"kind": self.because.kind, "text": self.because.text, "rung": self.because.rung},
            "how": self.how,
            "when_low": self.when_low,
            "when_high": self.when_high,
        }

    @staticmethod
    def from_data(data: Mapping[str, object]) -> Requirement:
        """The requirement that ``as_data`` wrote.

        Raises:
            InputError: the data are not a requirement.
        """
        try:
            because = data["because"]
            assert isinstance(because, Mapping)
            return Requirement(
                name=str(data["name"]),
                unit=str(data["unit"]),
                low=_number(data["low"]),
                nominal=_number(data["nominal"]),
                high=_number(data["high"]),
                because=Because(str(because["kind"]), str(because["text"]), str(because["rung"])),
                how=str(data["how"]),
                when_low=str(data["when_low"]),
                when_high=str(data["when_high"]),
                refer_low=_number(data["refer_low"]),
                refer_high=_number(data["refer_high"]),
                usual_u=_number(data["usual_u"]) or 0.0,
            )
        except (KeyError, ValueError, AssertionError) as error:
            raise InputError(
                "requirement", found=str(error), allowed="a requirement as written by the record"
            ) from None


@dataclass(frozen=True, slots=True)
class Reading:
    """A measured value in ``unit`` with the half-width ``u`` of its 95 % band and the instrument."""

    value: float
    unit: str
    u: float = 0.0
    instrument: str = ""
    where: str = ""

    def __post_init__(self) -> None:
        if not math.isfinite(self.value):
            raise OutOfRangeError(
                "reading", found=self.value, allowed="a finite value", mend="Measure again."
            )
        if not (math.isfinite(self.u) and self.u >= 0):
            raise OutOfRangeError("uncertainty of the reading", found=self.u, allowed="zero or more")


def _text(value: float | None) -> str | None:
    return None if value is None else repr(float(value))


def _number(value: object) -> float | None:
    if value is None:
        return None
    number = float(str(value))
    if not math.isfinite(number):
        raise ValueError(f"{value} is not a finite number")
    return number
