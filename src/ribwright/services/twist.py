"""The lever of a rolled edge: where the recipe says to stop, and the turn and spring-back that a phone on it showed."""

from __future__ import annotations

from dataclasses import dataclass

from ribwright.core.units import parse
from ribwright.errors import OutOfRangeError, UnknownNameError
from ribwright.services.operations import OperationView, operation_view
from ribwright.services.project import Actor, Project
from ribwright.services.record import NewEntry, add_entries

TURN = "turn of the lever, a shared stop mark"
BACK = "spring-back of the lever"
ENDS = ("lever", "far")
MOST_DEG = 720.0


@dataclass(frozen=True, slots=True)
class Stop:
    """Where to stop turning.

    Attributes:
        words: of which pass.
        deg: from where the tool lies on its mark.
    """

    words: str
    deg: float


def stops_of(view: OperationView) -> tuple[Stop, ...]:
    """The stop marks of an operation's recipe, by pass; none where nothing is rolled."""
    results = view.worked.outcome.results if view.worked else {}
    named = (("turn", "first pass"), ("second_turn", "second pass"))
    return tuple(
        Stop(words, float(str(results[name].value)))
        for name, words in named
        if name in results and results[name].unit == "deg"
    )


def enter_turn(
    project: Project, *, actor: Actor, request_id: str, ref: str, stage: str, turned: str, back: str = "", end: str = "lever",
    stop: str = "",
) -> None:  # fmt: skip
    """Enter how far the lever was turned and how far it came back when it was let go.

    It is the turn of a lever, not a measurement of the bend: no finding follows from it.

    Args:
        turned: the largest turn, degrees.
        back: where it came to rest when let go, degrees; "" when that was not seen.
        end: ``lever`` or ``far``, of a long tool.
        stop: the stop mark that it was turned to, degrees.

    Raises:
        InputError: angles that can't be read, or more than two turns.
        UnknownNameError: no such operation, stage or end.
    """
    operation_view(project, ref).stage(stage)
    if end not in ENDS:
        raise UnknownNameError("end", found=end, allowed=", ".join(ENDS))
    most = _degrees("turned to", turned)
    where = "lever end" if end == "lever" else "far end"
    common = {"stage": stage, "unit": "deg", "instrument": "phone on the lever", "where": where, "u": "1"}
    first = {**common, "requirement": TURN, "value": f"{most:.1f}"}
    if stop.strip():
        first["stop"] = f"{_degrees('stop mark', stop):.1f}"
    items = [NewEntry("reading", first, ref)]
    if back.strip():
        rest = _degrees("came back to", back)
        if rest > most:
            raise OutOfRangeError(
                "came back to", found=f"{rest:g}°", allowed=f"up to {most:g}°, where it was turned to"
            )
        items.append(NewEntry("reading", {**common, "requirement": BACK, "value": f"{most - rest:.1f}"}, ref))
    add_entries(project, actor=actor, request_id=request_id, items=items)


def _degrees(field: str, text: str) -> float:
    value = parse(text, "deg", field=field).to("deg")
    if not 0 <= value <= MOST_DEG:
        raise OutOfRangeError(
            field, found=text, allowed=f"0 to {MOST_DEG:g} degrees", mend="Zero the guide and turn again."
        )
    return value
