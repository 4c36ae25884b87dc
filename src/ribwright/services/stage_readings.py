"""Readings of a stage: entered with their findings, put right, and what formed heads ask of their row."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ribwright.core.bench import Finding, Reading, Requirement, StageSheet, compare
from ribwright.core.fastening.heads import Replacement, row_next
from ribwright.core.units import Quantity, parse
from ribwright.errors import ConflictError, MissingError, OutOfRangeError, RibwrightError, UnknownNameError
from ribwright.services.operations import OperationView, operation_view
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries, get_entry, history

MOST_READINGS = 200
_BELOW_NOTHING = ("°F", "°C")
_TIMES_GOOD, _TIMES_BAD = 20.0, 200.0


def enter_readings(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    ref: str,
    stage: str,
    values: Sequence[Mapping[str, str]],
) -> tuple[tuple[Finding, ...], Replacement | None]:
    """Enter what was measured on a stage; each reading gets its finding in the same transaction.

    Args:
        values: ``requirement`` (name), ``value`` (text, may carry a unit), ``u`` (optional), ``instrument``,
            ``where`` (``trial`` or a hole number or any words).

    Returns:
        One finding a reading, in order, and for formed heads what to do about the row.

    Raises:
        InputError: a value that can't be read; nothing is entered then.
    """
    if not values:
        raise MissingError("readings", allowed="at least one value", mend="Enter what you measured.")
    if len(values) > MOST_READINGS:
        raise ConflictError(
            "readings", found=len(values), allowed=f"{MOST_READINGS} at once", mend="Send them in two parts."
        )
    view = operation_view(project, ref)
    sheet = view.stage(stage).sheet
    known = requirements_of(sheet)
    items: list[NewEntry] = []
    made: list[Finding] = []
    holes: list[tuple[int, Finding]] = []
    for number, one in enumerate(values, start=1):
        name = one.get("requirement", "").strip()
        requirement = known.get(name)
        if requirement is None:
            raise UnknownNameError(
                f"reading {number}, what was measured",
                found=name,
                allowed=", ".join(known) or "this stage asks for no reading",
            )
        field = f"reading {number}, {name}"
        value = _sensible(parse(one.get("value", ""), requirement.unit, field=field), requirement, field)
        entered_u = one.get("u", "").strip()
        u = (
            parse(entered_u, requirement.unit, field=f"{field}, uncertainty").to(requirement.unit)
            if entered_u
            else 0.0
        )
        where = one.get("where", "").strip()
        reading = Reading(
            value.to(requirement.unit), requirement.unit, abs(u), one.get("instrument", "").strip(), where
        )
        finding = compare(requirement, reading)
        made.append(finding)
        if where.removeprefix("hole ").isdigit():
            holes.append((int(where.removeprefix("hole ")), finding))
        body = {
            "stage": stage, "requirement": requirement.as_data(), "value": value.text, "unit": requirement.unit,
            "u": entered_u, "instrument": reading.instrument, "where": where,
        }  # fmt: skip
        items.append(NewEntry("reading", body, ref))
        found = finding.as_data()
        found["margin"] = found["margin"] or ""
        items.append(NewEntry("finding", {"stage": stage, **found}, ref))
    add_entries(project, actor=actor, request_id=request_id, items=items)
    return tuple(made), _row_action(view, holes)


def correct_reading(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    seq: int,
    value: str,
    u: str = "",
    instrument: str = "",
    because: str,
) -> Finding:
    """Put a reading right: the corrected value is judged anew, and the finding on the wrong one is taken back.

    Raises:
        UnknownNameError: no such reading.
        InputError: a value that can't be read, or no reason.
    """
    old = get_entry(project, seq).entry
    if old.kind != "reading" or not isinstance(old.body.get("requirement"), Mapping):
        raise UnknownNameError("reading", found=f"entry {seq}", allowed="the number of a reading on a sheet")
    requirement = Requirement.from_data(old.body["requirement"])
    where = str(old.body.get("where") or "")
    read = _sensible(parse(value, requirement.unit, field=requirement.name), requirement, requirement.name)
    band = abs(parse(u, requirement.unit, field="uncertainty").to(requirement.unit)) if u.strip() else 0.0
    finding = compare(
        requirement, Reading(read.to(requirement.unit), requirement.unit, band, instrument, where)
    )
    instead = {**old.body, "value": read.text, "u": u.strip(), "instrument": instrument}
    items = [NewEntry("correction", {"because": because, "instead": instead}, old.about, seq)]
    for line in history(project, old.about):
        e = line.entry
        # the finding was entered right behind its reading, in the same transaction
        if line.stands and e.kind == "finding" and e.seq == seq + 1 and e.body.get("where", "") == where:
            items.append(NewEntry("undo", {"because": because}, old.about, e.seq))
    found = finding.as_data()
    items.append(
        NewEntry(
            "finding",
            {"stage": str(old.body.get("stage") or ""), **found, "margin": found["margin"] or ""},
            old.about,
        )
    )
    add_entries(project, actor=actor, request_id=request_id, items=items)
    return finding


def requirements_of(sheet: StageSheet | None) -> dict[str, Requirement]:
    """What a stage asks to be measured, on the trial piece and on the part, by name."""
    if sheet is None:
        return {}
    known = {r.name: r for r in sheet.trial.requirements} if sheet.trial else {}
    return known | {r.name: r for r in sheet.requirements}


def _sensible(value: Quantity, requirement: Requirement, field: str) -> Quantity:
    """Refuse what no measuring gives: a size below nothing, and one so large that a point or its unit is missing.

    A reading on the good side of its only limit is bounded closely, as it would pass: millimetres taken for inches
    are 25 times too large. On the bad side it may be far off and still be what was found.
    """
    limits = [one for one in (requirement.low, requirement.nominal, requirement.high) if one is not None]
    read = value.to(requirement.unit)
    if not limits or min(limits) < 0 or requirement.unit in _BELOW_NOTHING:
        return value
    if read < 0:
        raise OutOfRangeError(field, found=value.text, allowed="0 or more", mend="Measure it again.")
    most = max(limits) * (_TIMES_GOOD if requirement.high is None else _TIMES_BAD)
    if 0 < most < read:
        raise OutOfRangeError(
            field, found=value.text, allowed=f"{requirement.limits_text()} is asked for",
            mend="Look for the point, and write the unit where it is another, such as 3.2 mm.",
        )  # fmt: skip
    return value


def _row_action(view: OperationView, holes: list[tuple[int, Finding]]) -> Replacement | None:
    plan = view.worked.outcome.results if view.worked else {}
    if not holes or "rivet" not in plan or not any(f.requirement.startswith("formed head") for _, f in holes):
        return None
    from ribwright.core.fastening.rivets import read_part_number

    count = plan["holes"].value if "holes" in plan else len(holes)
    try:
        size = read_part_number(str(plan["rivet"].value)).size
    except RibwrightError:
        return None
    drill = plan["final_drill"].shown if "final_drill" in plan else "the final drill"
    return row_next(holes, holes=int(float(str(count))), size=size, drill=drill)
