"""Where a CG lies on the mean aerodynamic chord and in the designer's empty range: fields, checks, results, once."""

from __future__ import annotations

from typing import Any

from ribwright.core.audit import Result, Worksheet, quantity
from ribwright.core.bench import Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.moments import percent_mac
from ribwright.core.units import Quantity
from ribwright.errors import GeometryError, MissingError

NO_CHORD = "no mean aerodynamic chord entered"


def arm_field(label: str, *, help: str, example: str, default: str | None = None) -> Any:
    """An arm from the datum, positive aft; needed unless it has a default."""
    return quantity("in", label, help=help, example=example, low="-1000 in", high="1000 in", default=default)


def optional_arm_field(label: str, *, help: str, example: str) -> Any:
    """An arm from the datum, positive aft, that may be left empty."""
    return quantity("in", label, help=help, example=example, low="-1000 in", high="1000 in", optional=True)


def lemac_field() -> Any:
    """Arm of the leading edge of the mean aerodynamic chord."""
    return optional_arm_field("Leading edge of the MAC", help="its arm", example="55.0")


def mac_field() -> Any:
    """Length of the mean aerodynamic chord."""
    return quantity(
        "in", "Mean aerodynamic chord", help="its length", example="54.0", low="10 in", high="1000 in", optional=True
    )  # fmt: skip


def forward_limit_field() -> Any:
    """The designer's forward limit of the empty CG."""
    return optional_arm_field("Empty CG, forward limit", help="the designer's, if given", example="60")


def aft_limit_field() -> Any:
    """The designer's aft limit of the empty CG."""
    return optional_arm_field("Empty CG, aft limit", help="the designer's, if given", example="72")


def check_chord(lemac: Quantity | None, mac: Quantity | None) -> None:
    """Refuse half a chord.

    Raises:
        MissingError: one of the two is empty.
    """
    if (lemac is None) != (mac is None):
        raise MissingError(
            "Mean aerodynamic chord",
            allowed="leading edge and length together",
            mend="Enter both or neither.",
        )


def check_limits(forward: Quantity | None, aft: Quantity | None) -> None:
    """Refuse limits that leave no range.

    Raises:
        GeometryError: the aft limit is not behind the forward one.
    """
    if forward is not None and aft is not None and forward.value >= aft.value:
        raise GeometryError(
            "Empty CG, aft limit", found=f"{aft.text}, forward {forward.text}", allowed="behind the forward limit",
            mend="Check the two limits.",
        )  # fmt: skip


def chord_result(
    ws: Worksheet, label: str, cg: float, lemac: Quantity | None, mac: Quantity | None, *, u_cg: float = 0.0
) -> Result:
    """A CG in % MAC with its band, or that no chord was entered."""
    if lemac is None or mac is None:
        return Result(label, NO_CHORD)
    share = ws.step(label, percent_mac, cg_in=cg, lemac_in=lemac.value, mac_in=mac.value)
    if not u_cg:
        return Result(label, share, "%")
    wide = 100 * u_cg / mac.value
    return Result(label, share, "%", share - wide, share + wide)


def empty_cg_finding(
    cg: float, u_cg: float, forward: Quantity | None, aft: Quantity | None, where: str = "empty"
) -> tuple[list[Requirement], list[Finding]]:
    """The empty CG against the designer's range; nothing when no limit was entered."""
    if forward is None and aft is None:
        return [], []
    requirement = Requirement(
        name="empty CG", unit="in",
        low=None if forward is None else forward.value, nominal=None, high=None if aft is None else aft.value,
        because=Because.drawing("", "", "the designer's empty CG range"), how="measure the arms by plumb line, weigh again",
        when_low="Too far forward: ask the designer; loadings decide, then ballast.", when_high="Too far aft: ask the designer; loadings decide, then ballast.",
    )  # fmt: skip
    return [requirement], [compare(requirement, Reading(cg, "in", u_cg, where=where))]
