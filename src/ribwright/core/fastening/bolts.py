"""Bolts AN3 to AN8: grip and dash number from the stack, torque with drag, and what is checked after tightening."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
    choice,
    flag,
    formula,
    quantity,
    text,
    whole,
)
from ribwright.core.bench import (
    CAUTIONS,
    Because,
    Reading,
    Requirement,
    Setting,
    StageSheet,
    TrayItem,
    compare,
)
from ribwright.core.scene import Dimension, Hatch, Item, Line, Polygon, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import Quantity
from ribwright.errors import DoesNotFitError

Floats = NDArray[np.float64]
AN_SIZES = ("AN3", "AN4", "AN5", "AN6", "AN7", "AN8")
WASHER_IN = 0.063
THIN_WASHER_IN = 0.032
MOST_WASHERS = 3


@cache
def bolt_lengths(size: str) -> dict[int, tuple[float, float]]:
    """Dash number to (length, grip): eighths from -3 to -7, then whole inches and eighths to -87."""
    rows = table("hardware/bolt")
    extra = rows.cell(size, "extra").canonical
    thread = rows.cell(size, "thread length").canonical
    made: dict[int, tuple[float, float]] = {}
    for eighths in range(3, 64):
        inches, rest = divmod(eighths, 8)
        length = eighths / 8 + extra
        if size == "AN3" and eighths == 3:
            length = 15 / 32  # the one length that leaves the rule
        if length - thread >= 1 / 16 - 1e-9:
            made[inches * 10 + rest] = (length, length - thread)
    return made


@formula(
    "bolt.torque",
    symbol="T",
    shown="table_torque_lb_in + drag_lb_in",
    unit="lb·in",
    source="ac43-13-1b",
    locator="table 7-1, par. 7-40",
    rung="seen",
    limits={"table_torque_lb_in": (5.0, 30_000.0), "drag_lb_in": (0.0, 500.0)},
    excuse="the source states the sum in words; its parts are table cells and a reading",
)
def final_torque_lb_in(*, table_torque_lb_in: ArrayLike, drag_lb_in: ArrayLike) -> Floats:
    """What the wrench shows: the tabulated torque, and the drag of the locking nut measured on this bolt."""
    return np.asarray(table_torque_lb_in, float) + np.asarray(drag_lb_in, float)


@dataclass(frozen=True, slots=True)
class Bolt:
    """One bolt through a stack."""

    title: str = text("Joint", help="what the bolt holds", example="aileron hinge bracket")
    drawing: str = text("Drawing number", help="where it is drawn", example="DN-2104", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="A", default="")
    primary: bool = flag("Primary structure", help="spar, attach fittings, controls, engine mount, gear")
    size: str = choice("Bolt", AN_SIZES, help="diameter as drawn", default="AN3")
    dash: int | None = whole(
        "Dash number called out", help="if the drawing has it", example="5", low=3, high=87, optional=True
    )
    stack: Quantity = quantity(
        "in", "Stack", help="everything between head and nut but the washers", example=".250", low="0.02 in", high="6 in"
    )  # fmt: skip
    nut: str = choice("Nut", ("tension", "shear"), help="full-height or thin (shear) nut", default="tension")
    locking: str = choice(
        "Locking", ("self-locking", "castle"), help="self-locking, or castle nut with a cotter pin", default="self-locking"
    )  # fmt: skip
    drag: Quantity | None = quantity(
        "lb·in", "Friction drag", help="torque that turns the nut before it touches", example="6 lb-in", low="0 lb·in",
        high="200 lb·in", optional=True,
    )  # fmt: skip
    lubricated: bool = flag("Thread lubricated", help="oil, grease or sealant on the thread")
    torque: Quantity | None = quantity(
        "lb·in", "Torque called out", help="if the drawing gives it", example="25 lb-in", low="1 lb·in", high="20000 lb·in",
        optional=True,
    )  # fmt: skip


def washers_for(stack_in: float, grip_in: float) -> tuple[int, int] | None:
    """Thick and thin washers (one at least, under the nut) that put the thread's start at or just inside the nut's washer."""
    fits = []
    for thick in range(MOST_WASHERS + 1):
        for thin in range(MOST_WASHERS + 1 - thick):
            total = thick * WASHER_IN + thin * THIN_WASHER_IN
            if not thick + thin >= 1:
                continue
            over = grip_in - (stack_in + total)
            # the grip may end inside the washers under the nut, never inside the stack, never past the washers
            if grip_in >= stack_in - 1e-6 and over <= 1e-6:
                fits.append((abs(over), thick + thin, thick, thin))
    if not fits:
        return None
    best = min(fits, key=lambda one: (one[1], one[0]))
    return best[2], best[3]


@calculation(
    "bolt",
    title="Bolt, washers and torque",
    summary="Dash number and washers from the stack, torque by table 7-1 with the drag added, and what to check after tightening.",
    spec=Bolt,
    results=(
        "part_number",
        "length",
        "grip",
        "washers",
        "thread_past_nut",
        "torque",
        "torque_most",
        "thread",
    ),
)
def bolt(spec: Bolt, ws: Worksheet) -> Outcome:
    """Bolt, washers, torque band, sheet and section."""
    where = f"drawing {spec.drawing or 'without number'}, revision {spec.revision or '-'}"
    ws.called_out("stack", spec.stack, where)
    lengths = bolt_lengths(spec.size)
    stack = spec.stack.value
    if spec.dash is not None:
        if spec.dash not in lengths:
            raise DoesNotFitError(
                "Dash number called out", found=spec.dash, allowed=", ".join(map(str, lengths)), mend="8 and 9 are not used: -10 follows -7.",
            )  # fmt: skip
        dash = spec.dash
        ws.called_out("dash number", f"-{dash}", where)
    else:
        usable = [k for k in lengths if washers_for(stack, lengths[k][1]) is not None]
        if not usable:
            raise DoesNotFitError(
                "Stack", found=f"{stack:.3f} in", allowed=f"{lengths[min(lengths)][1] - WASHER_IN:.3f} to {max(v[1] for v in lengths.values()):.3f} in for {spec.size}",
                mend="Choose another bolt with the designer.",
            )  # fmt: skip
        dash = min(usable, key=lambda k: lengths[k][0])
        ws.worked_out(
            "dash number",
            f"-{dash}",
            "shortest whose thread starts behind the stack, at most three washers",
            rung="practice",
        )
    length, grip = lengths[dash]
    rows = table("hardware/bolt")
    thread_cell = rows.cell(spec.size, "thread")
    ws.look_up("thread", thread_cell)
    ws.worked_out("length and grip", f"{length:.4f} in, grip {grip:.4f} in", rows.cell(spec.size, "extra").cited, value=grip, unit="in", rung=rows.cell(spec.size, "extra").rung)  # fmt: skip
    washers = washers_for(stack, grip)
    bearing = Requirement(
        name="grip less stack", unit="in", low=0.0, nominal=None, high=MOST_WASHERS * WASHER_IN,
        because=Because.worked_out("no thread bears in a part; at most three washers, common practice", "practice"),
        how="push the bolt in without washers and measure what of the plain shank stands out",
        when_low="Thread in bearing: take the next longer bolt.", when_high="Too long for three washers: take a shorter bolt.",
        refer_low=0.0 if spec.primary else None,
    )  # fmt: skip
    findings = [compare(bearing, Reading(grip - stack, "in", where="bolt against stack"))]
    torques = table("hardware/torque")
    low, high = (torques.cell(thread_cell.text, f"{side} {spec.nut}") for side in ("low", "high"))
    most = torques.cell(thread_cell.text, f"max {spec.nut}")
    drag = spec.drag.value if spec.drag is not None else 0.0
    if spec.torque is not None:
        ws.called_out("torque", spec.torque, where)
    low_t = ws.step(
        "least torque",
        final_torque_lb_in,
        table_torque_lb_in=ws.look_up("least, table", low),
        drag_lb_in=drag,
    )
    high_t = ws.step(
        "greatest torque",
        final_torque_lb_in,
        table_torque_lb_in=ws.look_up("greatest, table", high),
        drag_lb_in=drag,
    )
    ws.look_up("never above", most)
    cautions = list(CAUTIONS)
    if spec.lubricated:
        cautions.insert(
            0,
            "The table is for dry threads. A lubricated one pulls harder at the same torque: the drawing must give its value; none is worked out here.",
        )
    if spec.drag is None and spec.locking == "self-locking":
        cautions.insert(
            0, "Measure the drag of this nut on this bolt first and add it; the band shown has none."
        )
    if spec.locking == "castle":
        cautions.insert(
            0, "Castle nut: start at the least torque, turn on to the next slot, never past the greatest."
        )
    asked = (
        None if spec.lubricated and spec.torque is None
        else (spec.torque.value + drag, spec.torque.value + drag) if spec.torque is not None
        else (low_t, high_t)
    )  # fmt: skip
    torque = Requirement(
        name="final torque", unit="lb·in", low=None if asked is None else asked[0], nominal=None,
        high=None if asked is None else asked[1],
        because=Because.drawing(spec.drawing, spec.revision, "torque called out") if spec.torque else Because.cell(low, "dry thread, drag added"),
        how="torque wrench on the nut, the bolt held still", when_low="Tighten on.",
        when_high="Overtightened: a new bolt and nut, and look at the hole.", refer_high=most.value + drag, usual_u=0.0,
    )  # fmt: skip
    past = (
        length
        - stack
        - sum(n * w for n, w in zip(washers or (0, 1), (WASHER_IN, THIN_WASHER_IN), strict=True))
    )
    number = f"{spec.size}-{dash}{'A' if spec.locking == 'self-locking' else ''}"
    results = {
        "part_number": Result("bolt", number),
        "length": Result("length", length, "in", places=4),
        "grip": Result("grip", grip, "in", places=4),
        "washers": Result("washers", "none fits: see the check" if washers is None else " and ".join(f"{n} {w}" for n, w in zip(washers, (".063 in", ".032 in"), strict=True) if n)),
        "thread_past_nut": Result("shank and thread past the washers, for nut and one thread", past, "in"),
        "torque": Result("torque", "not stated: lubricated, ask the designer") if asked is None else Result("torque", sum(asked) / 2, "lb·in", asked[0], asked[1]),
        "torque_most": Result("never above", most.value + drag, "lb·in"),
        "thread": Result("thread", thread_cell.text),
    }  # fmt: skip
    sheet = StageSheet(
        operation=spec.title, stage="bolt", title=f"Bolt: {spec.title}", hand="none", drawing=spec.drawing, revision=spec.revision,
        tray=(
            TrayItem("bolt", number, "1", number), TrayItem("washers", results["washers"].shown, ""),
            TrayItem(f"nut, {spec.nut}, {spec.locking}", thread_cell.text, "1"), TrayItem("torque wrench", "", "1"),
            TrayItem("torque stripe", "", "1"),
        ),
        settings=(Setting("torque", results["torque"].band or results["torque"].shown, torque.because),), trial=None,
        steps=(
            "Bolt in by hand, head up or forward where the drawing does not say.",
            "Turn the nut on by hand, then read the drag of the locking element in the wrench.",
            "Tighten the nut to torque plus drag; the bolt does not turn.",
            "At least one thread past the nut; cotter pin where it is a castle nut; paint the torque stripe and enter it.",
        ),
        requirements=(bearing, torque), cautions=tuple(cautions), picture=None,
    )  # fmt: skip
    return Outcome(
        tuple(ws.steps),
        results,
        (bearing, torque),
        tuple(findings),
        tuple(cautions),
        _picture(spec, number, length, grip),
        (sheet,),
    )


def _picture(spec: Bolt, number: str, length: float, grip: float) -> Scene:
    k = 3.0 / max(length, 0.3)
    rows = table("hardware/bolt")
    r, head, high = (
        rows.cell(spec.size, "diameter").canonical * k / 2, rows.cell(spec.size, "across flats").canonical * k / 2,
        rows.cell(spec.size, "head height").canonical * k,
    )  # fmt: skip
    stack = spec.stack.value * k
    items: list[Item] = [
        Polygon(((-high, -head), (0.0, -head), (0.0, head), (-high, head)), "outline"),
        Polygon(((0.0, -r), (grip * k, -r), (grip * k, r), (0.0, r)), "outline"),
        Polygon(
            ((grip * k, -0.85 * r), (length * k, -0.85 * r), (length * k, 0.85 * r), (grip * k, 0.85 * r)),
            "thin",
        ),
    ]
    for side in (-1, 1):
        box = ((0.0, side * r), (stack, side * r), (stack, side * 3 * head), (0.0, side * 3 * head))
        items += [Polygon(box, "outline"), Hatch(box, 45.0, 0.12)]
    items += [
        Line((-high - 0.2, 0.0), (length * k + 0.3, 0.0), "centre"),
        Dimension((0.0, -3 * head), (stack, -3 * head), -0.3, f"stack {spec.stack.text}"),
        Dimension(
            (0.0, -3 * head), (grip * k, -3 * head), -0.65, f"grip {Fraction(grip).limit_denominator(64)}"
        ),
        Text((0.0, 3 * head + 0.15), number, 0.16),
    ]
    return Scene(
        tuple(items),
        f"{number}: {spec.title}",
        f"{number} through a stack of {spec.stack.text}; plain shank {grip:.3f} in of {length:.3f} in.",
    )
