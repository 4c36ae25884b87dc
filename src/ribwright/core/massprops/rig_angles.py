"""Incidence, dihedral and washout by a level read both ways round: its own error cancels, and is shown."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.angles import level_error_deg, reversed_level_deg
from ribwright.core.massprops.rigging_picture import level_picture
from ribwright.core.massprops.unpublished import say_unpublished
from ribwright.core.units import Quantity, shown
from ribwright.errors import GeometryError

ROOT, TIP, DIHEDRAL, OTHER = "incidence at the root", "incidence at the tip", "dihedral", "other"
_TRIM = "Trim it as the designer says: eccentric bushing, shim or rear attach; read again."


def _angle(
    label: str, *, help: str, example: str, optional: bool = False, default: str | None = None
) -> object:
    return quantity(
        "deg", label, help=help, example=example, low="-90 deg", high="90 deg", optional=optional, default=default
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """Where the level lay."""

    name: str = text("Place", help="wing, tailplane, fin", example="wing")
    what: str = choice("What", (ROOT, TIP, DIHEDRAL, OTHER), help="what the angle is")
    side: str = choice("Side", ("centre", "left", "right"), help="left or right", default="centre")
    reading: Quantity = _angle("Reading", help="nose up or tip up is positive", example="1.6")  # type: ignore[assignment]
    turned: Quantity | None = _angle("Level turned round", help="the level turned end for end, read again", example="-1.4", optional=True)  # type: ignore[assignment]  # fmt: skip
    board: Quantity = _angle("Board", help="angle of the board or blocks under the level", example="0", default="0")  # type: ignore[assignment]  # fmt: skip
    wanted: Quantity | None = _angle("Angle drawn", help="against the reference", example="1.5", optional=True)  # type: ignore[assignment]  # fmt: skip
    minus: Quantity = quantity(
        "deg",
        "Less by at most",
        help="the designer's",
        example="0.25",
        low="0 deg",
        high="10 deg",
        default="0.25",
    )
    plus: Quantity = quantity(
        "deg",
        "More by at most",
        help="the designer's",
        example="0.25",
        low="0 deg",
        high="10 deg",
        default="0.25",
    )


@dataclass(frozen=True, slots=True)
class RigAngles:
    """The aeroplane levelled, and a level laid on it place by place."""

    title: str = text("Aeroplane", help="which one", example="Dunlin", default="")
    drawing: str = text("Drawing number", help="that gives the angles", example="DN-8100", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    reference: Quantity = _angle("Reading at the levelling points", help="angles count from here", example="0.1", default="0")  # type: ignore[assignment]  # fmt: skip
    reference_turned: Quantity | None = _angle("Levelling points, level turned round", help="the level turned end for end", example="-0.1", optional=True)  # type: ignore[assignment]  # fmt: skip
    places: tuple[Place, ...] = rows(Place, "Places", help="one row where the level lay", least=1)
    reading_u: Quantity = quantity(
        "deg", "Reading, plus or minus", help="of one reading, without the level's own error", example="0.1", low="0.005 deg", high="2 deg", default="0.1"
    )  # fmt: skip
    own_u: Quantity = quantity(
        "deg", "Level's own error up to", help="counts only where it was read one way round", example="0.3", low="0 deg", high="5 deg", default="0.5"
    )  # fmt: skip
    same_within: Quantity | None = quantity(
        "deg", "Left and right alike within", help="the designer's, if given", example="0.2", low="0.02 deg", high="5 deg", optional=True
    )  # fmt: skip
    washout: Quantity | None = quantity(
        "deg", "Washout drawn", help="tip less than root by; 0 for none", example="2", low="-10 deg", high="10 deg", optional=True
    )  # fmt: skip
    washout_within: Quantity = quantity(
        "deg", "Washout, allowed either way", help="the designer's", example="0.25", low="0.02 deg", high="5 deg", default="0.25"
    )  # fmt: skip

    def __post_init__(self) -> None:
        seen: set[tuple[str, str, str]] = set()
        for p in self.places:
            key = p.name.casefold(), p.what, p.side
            if key in seen:
                raise GeometryError(
                    "Places", found=f"{p.name}, {p.what}, {p.side} twice", allowed="each place once", mend="Remove one, or name them apart.",
                )  # fmt: skip
            seen.add(key)


@calculation(
    "rig-angles",
    title="Incidence, dihedral, washout",
    summary="Angles from a level read both ways round, against the drawing; left against right; the level's own error.",
    spec=RigAngles,
    results=("angles", "bands", "level_errors", "washout_left", "washout_right", "left_right"),
)
def rig_angles(spec: RigAngles, ws: Worksheet) -> Outcome:
    """Every place against the levelling points, with bands; what is drawn decides."""
    requirements: list[Requirement] = []
    findings: list[Finding] = []
    errors: list[float] = []
    base, u_base = _slope(
        ws, "levelling points", spec.reference.value, spec.reference_turned, 0.0, spec, errors
    )
    angles: dict[tuple[str, str, str], tuple[float, float, bool]] = {}
    for p in spec.places:
        label = f"{p.side} {p.name}, {p.what}"
        own, u_own = _slope(ws, label, p.reading.value, p.turned, p.board.value, spec, errors)
        # read one way round at both ends, the level's own error drops out of the difference
        one_way = p.turned is None and spec.reference_turned is None
        u = spec.reading_u.value * 2**0.5 if one_way else float(np.hypot(u_own, u_base))
        angles[p.name.casefold(), p.what, p.side] = own - base, u, p.turned is None
        if p.wanted is not None:
            needed = Requirement(
                name=p.what, unit="deg", low=p.wanted.value - p.minus.value, nominal=p.wanted.value, high=p.wanted.value + p.plus.value,
                because=Because.drawing(spec.drawing, spec.revision, "angle as drawn"), how="read the level both ways round, twice",
                when_low=_TRIM, when_high=_TRIM,
            )  # fmt: skip
            requirements.append(needed)
            findings.append(compare(needed, Reading(own - base, "deg", u, where=f"{p.side} {p.name}")))
    washouts = {side: _washout(spec, ws, side, angles, requirements, findings) for side in ("left", "right")}
    apart = _alike(spec, angles, requirements, findings)
    _one_error(spec, errors, requirements, findings)
    if len(errors) < 1 + len(spec.places):
        ws.note(
            "Where the level was read one way round only, its own error may be in the angle: turn it round and read again."
        )
    results = {
        "angles": Result(
            "angles against the levelling points", tuple(a for a, _, _ in angles.values()), "deg", places=2
        ),
        "bands": Result("each, plus or minus", tuple(u for _, u, _ in angles.values()), "deg", places=2),
        "level_errors": Result("the level's own error, place by place", tuple(errors), "deg", places=2)
        if errors
        else Result("the level's own error, place by place", "read one way round only"),
        "washout_left": washouts["left"],
        "washout_right": washouts["right"],
        "left_right": Result("left and right differ at most by", max(apart), "deg", places=2)
        if apart
        else Result("left and right differ at most by", "no pair entered"),
    }
    say_unpublished(ws, "angles from a level read both ways round are")
    cautions = (
        "Aeroplane level both ways by the designer's means and unmoved while you read; put the level at the same marks each time.",
        "The designer's drawing says where each angle is measured; nothing here replaces it.",
        *CAUTIONS,
    )
    picture = level_picture(
        [
            (f"{p.side} {p.name}, {p.what}", *angles[p.name.casefold(), p.what, p.side][:2])
            for p in spec.places
        ],
        any(p.board.value for p in spec.places),
    )
    return Outcome(tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions, picture=picture)


def _slope(
    ws: Worksheet,
    label: str,
    reading: float,
    turned: Quantity | None,
    board: float,
    spec: RigAngles,
    errors: list[float],
) -> tuple[float, float]:
    if turned is None:
        ws.worked_out(
            label,
            shown(reading - board, "deg", places=2),
            "read one way round",
            value=reading - board,
            unit="deg",
        )
        return reading - board, float(np.hypot(spec.reading_u.value, spec.own_u.value))
    slope = ws.step(label, reversed_level_deg, reading_deg=reading, turned_deg=turned.value)
    errors.append(
        ws.step(f"level's own error, {label}", level_error_deg, reading_deg=reading, turned_deg=turned.value)
    )
    return slope - board, spec.reading_u.value / 2**0.5


def _washout(
    spec: RigAngles,
    ws: Worksheet,
    side: str,
    angles: dict[tuple[str, str, str], tuple[float, float, bool]],
    requirements: list[Requirement],
    findings: list[Finding],
) -> Result:
    label = f"washout, {side}"
    names = [name for name, what, s in angles if what == ROOT and s == side and (name, TIP, side) in angles]
    if not names:
        return Result(label, "root and tip of this side were not both measured")
    root, tip = angles[names[0], ROOT, side], angles[names[0], TIP, side]
    value = root[0] - tip[0]
    # the levelling points drop out of a difference; so does the level's own error when neither was turned
    u = spec.reading_u.value * (2**0.5 if root[2] and tip[2] else 1.0)
    if root[2] != tip[2]:
        u = float(np.hypot(spec.own_u.value, 1.3 * spec.reading_u.value))
    ws.worked_out(label, shown(value, "deg", places=2), "root less tip", value=value, unit="deg")
    if spec.washout is not None:
        wanted, within = spec.washout.value, spec.washout_within.value
        needed = Requirement(
            name="washout", unit="deg", low=wanted - within, nominal=wanted, high=wanted + within,
            because=Because.drawing(spec.drawing, spec.revision, "washout as drawn"), how="the level both ways round on root and tip rib",
            when_low=_TRIM, when_high=_TRIM,
        )  # fmt: skip
        requirements.append(needed)
        findings.append(compare(needed, Reading(value, "deg", u, where=side)))
    return Result(label, value, "deg", value - u, value + u, 2)


def _alike(
    spec: RigAngles,
    angles: dict[tuple[str, str, str], tuple[float, float, bool]],
    requirements: list[Requirement],
    findings: list[Finding],
) -> list[float]:
    apart = []
    for (name, what, side), (left, _, turned) in angles.items():
        other = angles.get((name, what, "right"))
        if side != "left" or other is None:
            continue
        off = left - other[0]
        apart.append(abs(off))
        if spec.same_within is not None:
            within = spec.same_within.value
            u = spec.reading_u.value * (2**0.5 if turned and other[2] else 1.0)
            if turned != other[2]:
                u = float(np.hypot(spec.own_u.value, 1.3 * spec.reading_u.value))
            alike = Requirement(
                name="left against right", unit="deg", low=-within, nominal=0.0, high=within,
                because=Because.drawing(spec.drawing, spec.revision, "both sides alike"), how="the same level, both ways round, on both sides",
                when_low=_TRIM, when_high=_TRIM,
            )  # fmt: skip
            requirements.append(alike)
            findings.append(compare(alike, Reading(off, "deg", u, where=f"{name}, {what}")))
    return apart


def _one_error(
    spec: RigAngles, errors: list[float], requirements: list[Requirement], findings: list[Finding]
) -> None:
    """One level has one error: places that disagree about it were read wrong."""
    if len(errors) < 2:
        return
    apart = max(errors) - min(errors)
    within = 2 * spec.reading_u.value
    same = Requirement(
        name="one level, one error", unit="deg", low=None, nominal=0.0, high=within,
        because=Because.worked_out("the level's own error is the same everywhere; twice the band of one reading"),
        how="read every place again, both ways round", when_low="Go on.",
        when_high="A reading is wrong, or the level or the aeroplane was moved: read all places again.",
    )  # fmt: skip
    requirements.append(same)
    findings.append(compare(same, Reading(apart, "deg")))
