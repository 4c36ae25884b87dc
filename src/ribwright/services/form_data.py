"""What official forms ask for, gathered from the record for copying; never a form, and nothing is guessed.

Each line says where it comes from; what is not known says where it is entered.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from ribwright.core.units import number_text
from ribwright.errors import MissingError, UnknownNameError
from ribwright.services.flight import SETTING
from ribwright.services.portion import portion_view
from ribwright.services.project import Actor, Project
from ribwright.services.record import objects, set_object, work
from ribwright.services.weighings import weighings

TYPED = {
    "builder": "Builder, as the papers of ownership name you",
    "registration": "Registration number",
    "model": "Model, as you name it",
    "serial": "Serial number, as you give it",
    "engine": "Engine: maker, model, number",
    "propeller": "Propeller: maker, model, number",
}
"""What only the builder can say, by the key under which it is kept."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line to copy.

    Attributes:
        key: of what is typed; empty for what the record gives.
        label: what the form asks.
        value: empty when it is not known.
        origin: where it comes from, or where it is entered.
    """

    key: str
    label: str
    value: str
    origin: str


def form_data(project: Project) -> tuple[Line, ...]:
    """All lines, typed ones first."""
    settings = objects(project, noun="setting")
    typed: Mapping[str, Any] = (
        next((one.data for one in settings if one.ref == SETTING), {}).get("facts") or {}
    )
    lines = [
        Line(key, label, str(typed.get(key, "")), "as you entered it" if typed.get(key) else "enter it here")
        for key, label in TYPED.items()
    ]
    aircraft = next(iter(objects(project, noun="aircraft")), None)
    data = aircraft.data if aircraft else {}
    for key, label, unit in (
        ("seats", "Seats", ""), ("span_in", "Wing span", "in"), ("gross_weight_lb", "Greatest weight", "lb"), ("v_ne_kt", "Never-exceed speed", "kt"),
    ):  # fmt: skip
        said = str(data.get(key, ""))
        lines.append(Line("", label, f"{said} {unit}".strip() if said else "", f"figures of {aircraft.ref}" if aircraft and said else "the designer's figure; not in the record"))  # fmt: skip
    weighed = [one for one in weighings(project) if one.done is not None]
    for name, label, unit, places in (
        ("empty_weight", "Empty weight", "lb", 1),
        ("empty_cg", "Empty CG, aft of the datum", "in", 2),
    ):
        value = f"{number_text(weighed[-1].number(name)[0], places)} {unit}" if weighed else ""
        lines.append(Line("", label, value, f"weighing {weighed[-1].one.ref}{', signed by ' + weighed[-1].signed if weighed[-1].signed else ', not signed'}" if weighed else "weigh it: page Weight"))  # fmt: skip
    logged = sum(float(row["hours"] or 0) for row in work(project))
    lines.append(Line("", "Hours logged", f"{logged:.0f} h" if logged else "", "work entries of the record"))
    total = portion_view(project).total
    share = "" if total.share is None else f"{number_text(total.share, 1)} %, {total.claimed} tasks"
    lines.append(Line("", "Builder's share of the tasks claimed", share, "page Major portion"))
    return tuple(lines)


def set_form_data(
    project: Project, *, actor: Actor, request_id: str, values: Mapping[str, str]
) -> tuple[Line, ...]:
    """Keep what only the builder can say; an empty value leaves what stands.

    Raises:
        UnknownNameError: no such line. MissingError: nothing was entered.
    """
    unknown = next((key for key in values if key not in TYPED), None)
    if unknown is not None:
        raise UnknownNameError("line of the form data", found=unknown, allowed=", ".join(TYPED))
    said = {key: " ".join(value.split())[:160] for key, value in values.items() if value.strip()}
    if not said:
        raise MissingError("Data for the forms", allowed="at least one line", mend="Enter what you know.")
    stored = next((one for one in objects(project, noun="setting") if one.ref == SETTING), None)
    data = dict(stored.data) if stored else {}
    data["facts"] = {**(data.get("facts") or {}), **said}
    set_object(
        project,
        actor=actor,
        request_id=request_id,
        noun="setting",
        ref=SETTING,
        data=data,
        title="First flight",
    )
    return form_data(project)
