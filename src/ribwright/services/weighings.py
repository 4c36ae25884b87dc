"""Weighings and loadings of the project: what each came to, one against the other, a change before it is made, the card."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ribwright.core.massprops.loading_card import loading_card
from ribwright.core.scene import Document
from ribwright.core.units import number_text
from ribwright.errors import ConflictError, MissingError, RibwrightError
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.operations import operation_view
from ribwright.services.project import Project
from ribwright.services.record import get_object, signatures
from ribwright.services.remembered import of_each, until_the_record_moves
from ribwright.services.seals import dated_seal
from ribwright.services.weight import weight_view
from ribwright.store.objects import StoredObject

CALCULATIONS = {
    "weighing": "Weigh the aeroplane",
    "weighings-compared": "Compare weighings",
    "equipment-list": "Equipment list",
    "weight-build-up": "Build-up of a list of your own",
    "weight-change": "Change before it is made",
    "loading": "Load it",
    "surface-balance": "Balance a control surface",
    "control-travels": "Travel of the controls",
    "rig-angles": "Incidence, dihedral, washout",
    "symmetry": "Is it square",
    "wheel-alignment": "Toe-in of the wheels",
    "twist-before-closing": "Twist before closing",
    "tank-leak": "Tank leak test",
    "tank-sealant": "Sealant for a tank",
    "fuel-flow": "Fuel flow test",
}
"""The calculations round weight and rigging by plain names, in the order in which a builder comes to them."""


@dataclass(frozen=True, slots=True)
class WeighedOnce:
    """One weighing that was entered.

    Attributes:
        one: its operation.
        done: worked out; ``None`` where it no longer works out, ``problem`` says why.
        signed: by whom, or "".
    """

    one: StoredObject
    done: Done | None
    problem: str
    signed: str

    def number(self, name: str) -> tuple[float, float]:
        """A result and the half-width of its band."""
        assert self.done is not None
        result = self.done.outcome.results[name]
        value = float(str(result.value))
        high = result.high if result.high is not None else value
        return value, float(high) - value


@of_each("operation")
def _weighed_or_loaded(one: StoredObject) -> str | None:
    """Which operations hold a weighing or a loading."""
    name = str(one.data.get("calculation", ""))
    return name if name in ("weighing", "loading") else None


def _holding(project: Project, calculation: str) -> tuple[StoredObject, ...]:
    refs = [ref for ref, name in _weighed_or_loaded(project).items() if name == calculation]
    return tuple(get_object(project, ref) for ref in refs)


@until_the_record_moves
def weighings(project: Project) -> tuple[WeighedOnce, ...]:
    """All weighings, in the order in which they were entered first."""
    signed = {row["about"]: row["signed_by"] for row in signatures(project)}
    made = []
    for one in _holding(project, "weighing"):
        done, problem = _worked(one)
        made.append(WeighedOnce(one, done, problem, str(signed.get(one.ref, ""))))
    return tuple(made)


@until_the_record_moves
def loadings(project: Project) -> tuple[StoredObject, ...]:
    """Operations that hold a loading."""
    return _holding(project, "loading")


def compared(project: Project) -> Done | None:
    """Each weighing against the one before it, with nothing changed between; ``None`` with fewer than two."""
    known = [one for one in weighings(project) if one.done is not None]
    if len(known) < 2:
        return None
    sheets = []
    for one in known:
        (weight, u_weight), (cg, u_cg) = one.number("empty_weight"), one.number("empty_cg")
        sheets.append(
            {
                "when": f"{one.one.title} ({one.one.ref})", "weight": _lb(weight), "cg": _in(cg), "weight_u": _lb(u_weight), "cg_u": _in(u_cg),
            }
        )  # fmt: skip
    return run_calculation(
        "weighings-compared", {"title": weight_view(project).aircraft, "weighings": sheets}
    )


def weight_now(project: Project) -> tuple[dict[str, str], str]:
    """Empty weight and CG to begin a change from, as inputs, and where they come from in words.

    Raises:
        MissingError: neither a weighing nor a part with weight and arm.
    """
    known = [one for one in weighings(project) if one.done is not None]
    if known:
        (weight, u_weight), (cg, u_cg) = known[-1].number("empty_weight"), known[-1].number("empty_cg")
        said = f"weighing {known[-1].one.ref}"
    else:
        made = weight_view(project).made
        if made is None:
            raise MissingError(
                "Empty weight now", allowed="a weighing, or parts with weight and arm", mend="Enter one of these first."
            )  # fmt: skip
        mass = made.forecast
        weight, u_weight, cg, u_cg = mass.weight_lb, mass.u_weight_lb, mass.cg_in, mass.u_cg_in
        said = "the forecast of the parts list"
    return {
        "empty_weight": _lb(weight), "empty_cg": _in(cg), "empty_weight_u": _lb(u_weight), "empty_cg_u": _in(u_cg),
    }, said  # fmt: skip


def change_before(project: Project, changes: Sequence[Mapping[str, Any]]) -> tuple[Done, str]:
    """What changes would do to empty weight and CG; nothing is entered.

    Args:
        changes: rows as ``weight-change`` takes them: item, what, weight, arm, to_arm.

    Returns:
        The change worked out, and where the weight that it begins from comes from.
    """
    now, said = weight_now(project)
    view = weight_view(project)
    limits = {
        name: view.entered[name]
        for name in ("most", "lemac", "mac", "forward_limit", "aft_limit")
        if view.entered.get(name)
    }
    rows = [{name: value for name, value in row.items() if str(value).strip()} for row in changes]
    return run_calculation("weight-change", {**now, **limits, "changes": rows}), said


def card(project: Project, ref: str) -> Document:
    """The one-page card of a loading.

    Raises:
        UnknownNameError: no such operation.
        ConflictError: it is no loading, or no longer works out.
    """
    view = operation_view(project, ref)
    if view.worked is None or view.worked.calculation.name != "loading":
        raise ConflictError(
            "Loading card", found=view.problem or f"{ref}, not a loading", allowed="an operation that holds a loading",
            mend="Enter the loading as an operation first.",
        )  # fmt: skip
    return loading_card(
        view.worked.spec, view.worked.outcome, reference=view.reference, seal=dated_seal(project)
    )


def _worked(one: StoredObject) -> tuple[Done | None, str]:
    try:
        return run_calculation("weighing", one.data.get("inputs") or {}), ""
    except RibwrightError as error:
        return None, error.sentence()


def _lb(value: float) -> str:
    return f"{number_text(value, 3)} lb"


def _in(value: float) -> str:
    return f"{number_text(value, 4)} in"
