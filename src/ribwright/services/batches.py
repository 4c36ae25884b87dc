"""Mixed batches: weighed by the calculation, then an item of the stores with its times, its air and its lots."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from ribwright.core.bench import Finding, Verdict
from ribwright.errors import MissingError
from ribwright.services.calculations import run_calculation
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, StoredObject, add_entries, get_object, new_object, objects
from ribwright.services.stores import move_entry, sent_before

KIND = "mixed batch"
CALCULATION = "mix-batch"
SAID = ("total", "base", "hardener", "pot_life", "use_by", "recoat")


@dataclass(frozen=True, slots=True)
class Mixed:
    """A batch as it stands in the stores.

    Attributes:
        object: the item.
        findings: temperature, humidity and the tin's date against the data sheet as typed.
    """

    object: StoredObject
    findings: tuple[Finding, ...]

    @property
    def facts(self) -> tuple[tuple[str, str], ...]:
        """What is written on its cup, by name."""
        return batch_facts(self.object)


def mix_and_book(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    raw: Mapping[str, Any],
    base_lot: str = "",
    hardener_lot: str = "",
) -> Mixed:
    """Work a batch out and enter it; a batch outside the data sheet's limits is entered with that said.

    Args:
        raw: as the calculation ``mix-batch`` asks, the time of mixing among it.
        base_lot: of the tin of base.
        hardener_lot: of the tin of hardener.

    Raises:
        InputError: what the calculation refuses, or no time of mixing.
    """
    done = run_calculation(CALCULATION, raw)
    outcome, spec = done.outcome, done.spec
    if not spec.mixed_at.strip():
        raise MissingError("Mixed at", mend="Enter day and time; pot life and recoat count from it.")
    day = spec.mixed_at.strip()[:10]
    use_by = str(outcome.results["use_by"].value)
    ref = _next(project, day)
    tins = {"base_lot": base_lot.strip()[:80], "hardener_lot": hardener_lot.strip()[:80]}
    data = {
        "kind": KIND, "unit": "oz", "request": request_id, "mixed_at": spec.mixed_at.strip(), "temperature": f"{spec.temperature.value:g} °F",
        "humidity": f"{100 * spec.humidity.value:g} %", "ratio": f"{spec.parts_base.text} : {spec.parts_hardener.text} by weight", "tin_expires": spec.expires.strip(),
        "expires": use_by[:10], "outside": "; ".join(f"{one.requirement} {one.verdict.value}: {one.reason}" for one in outcome.findings if one.verdict is not Verdict.WITHIN),
        **{name: outcome.results[name].shown for name in SAID},
    }  # fmt: skip
    data = {name: value for name, value in (data | tins).items() if value}
    if sent_before(project, request_id, lambda before: before[0].body.get("data") == data):
        known = next(one for one in _batches(project) if one.data.get("request") == request_id)
        return Mixed(known, outcome.findings)
    origin = "mixed from " + " and ".join(
        f"{name} lot {lot}" for name, lot in (("base", tins["base_lot"]), ("hardener", tins["hardener_lot"])) if lot
    )  # fmt: skip
    more = {"supplier": origin if any(tins.values()) else "mixed here", "expires": use_by[:10]}
    total = outcome.results["total"].value
    assert isinstance(total, float)
    weight = Decimal(f"{total:.2f}")
    items: list[NewEntry] = [
        new_object("stock", ref, data, title=spec.product.strip() or "batch"),
        move_entry(project, ref, "received", weight, lot=ref, more=more),
    ]  # fmt: skip
    add_entries(project, actor=actor, request_id=request_id, items=items)
    return Mixed(get_object(project, ref), outcome.findings)


def batch_facts(one: StoredObject) -> tuple[tuple[str, str], ...]:
    """What is written on a batch's cup, by name; empty when the item is no batch."""
    if one.data.get("kind") != KIND:
        return ()
    named = (
        ("mixed at", "mixed_at"), ("use it up by", "use_by"), ("pot life then", "pot_life"), ("recoat", "recoat"), ("temperature", "temperature"),
        ("humidity", "humidity"), ("ratio", "ratio"), ("base", "base"), ("hardener", "hardener"), ("lot of the base", "base_lot"),
        ("lot of the hardener", "hardener_lot"), ("last day of the tin", "tin_expires"), ("outside the data sheet", "outside"),
    )  # fmt: skip
    return tuple((name, str(one.data[key])) for name, key in named if one.data.get(key))


def _batches(project: Project) -> list[StoredObject]:
    return [one for one in objects(project, noun="stock", withdrawn=True) if one.data.get("kind") == KIND]


def _next(project: Project, day: str) -> str:
    taken = {one.ref for one in _batches(project)}
    number = 1
    while f"MIX-{day}-{number}" in taken:
        number += 1
    return f"MIX-{day}-{number}"
