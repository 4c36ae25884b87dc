"""What is this rivet or bolt? Three caliper numbers and the head mark give its part number."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity
from ribwright.core.bench import CAUTIONS
from ribwright.core.fastening.bolts import AN_SIZES, bolt_lengths
from ribwright.core.fastening.rivets import SIZES, rivet
from ribwright.core.scene import Circle, Dimension, Item, Line, Polygon, Scene, Text
from ribwright.core.tables import table
from ribwright.core.units import Quantity, number_text
from ribwright.errors import InputError

FLUSH, UNIVERSAL, HEX = "flush 100°", "universal", "hexagon"
SHAPES = (UNIVERSAL, FLUSH, HEX)
MARKS = ("plain", "dimple", "raised dot", "two raised dashes", "raised cross", "cross or asterisk", "one dash", "two dashes")  # fmt: skip
_RIVET_MARKS = ("plain", "dimple", "raised dot", "two raised dashes", "raised cross")
_BOLT_MARKS = {
    "plain": "bolt: plain", "cross or asterisk": "bolt: cross or asterisk", "raised cross": "bolt: cross or asterisk",
    "one dash": "bolt: one dash", "two dashes": "bolt: two dashes", "two raised dashes": "bolt: two dashes",
}  # fmt: skip
SHANK_ROOM_IN = 0.006
"""A caliper on a shank, and the tolerance of the shank itself; half the step between two sizes is .0156."""


@dataclass(frozen=True, slots=True)
class Found:
    """A loose fastener in the calipers."""

    shape: str = choice(
        "Head shape", SHAPES, help="round on top, countersunk, or six-sided", default=UNIVERSAL
    )
    mark: str = choice("Mark on the head", MARKS, help="look with a glass and side light", default="dimple")
    shank: Quantity = quantity(
        "in",
        "Shank diameter",
        help="calipers on the plain shank",
        example=".0935",
        low="0.05 in",
        high="0.55 in",
    )
    length: Quantity = quantity(
        "in",
        "Length",
        help="under the head; overall for a flush head",
        example=".219",
        low="0.06 in",
        high="9 in",
    )
    head: Quantity = quantity(
        "in",
        "Head diameter",
        help="widest; across the flats of a hexagon",
        example=".187",
        low="0.08 in",
        high="1.2 in",
    )


@calculation(
    "identify",
    title="What is this rivet or bolt?",
    summary="Shank, length and head in the calipers and the mark on the head give the part number; soft rivets told from structural ones.",
    spec=Found,
    results=("part_number", "what", "alloy", "structural", "size", "length_off", "sure"),
)
def identify(spec: Found, ws: Worksheet) -> Outcome:
    """Part number, alloy, whether it may carry load, and how well the numbers agree."""
    for label, value in (("shank", spec.shank), ("length", spec.length), ("head", spec.head)):
        ws.called_out(label, value, "measured")
    return _bolt(spec, ws) if spec.shape == HEX else _rivet(spec, ws)


def _rivet(spec: Found, ws: Worksheet) -> Outcome:
    if spec.mark not in _RIVET_MARKS:
        raise InputError(
            "Mark on the head", found=f"{spec.mark} on a rivet", allowed=", ".join(_RIVET_MARKS),
            because="this mark belongs to bolts", mend="Look again with a glass.",
        )  # fmt: skip
    marks = table("rivets/head-mark")
    d = spec.shank.value
    size = min(SIZES, key=lambda s: abs(float(Fraction(s)) - d))
    nominal = float(Fraction(size))
    if abs(nominal - d) > SHANK_ROOM_IN:
        raise InputError(
            "Shank diameter", found=spec.shank.text, allowed=f"within {SHANK_ROOM_IN} in of {', '.join(SIZES)}",
            because="no solid rivet known here has this shank", mend="Measure the plain part of the shank, or it is another kind of rivet.",
        )  # fmt: skip
    ws.worked_out("size", f"{size} in", "the nearest nominal shank", value=nominal, unit="in")
    if spec.shape == FLUSH:
        rows = table("rivets/flush-head")
        if size not in rows.row_keys():
            rows.cell(size, "diameter")
        head, room = ws.look_up("100° head", rows.cell(size, "diameter")), 0.012
    else:
        head = (
            ws.look_up(
                "universal head, in diameters", table("rivets/universal-head").cell("universal", "diameter")
            )
            * nominal
        )
        room = 0.1 * head
    letters = marks.cell(spec.mark, "letters")
    ws.look_up("letters for this mark", letters)
    alloy, structural = marks.cell(spec.mark, "alloy").text, marks.cell(spec.mark, "structural").text
    small = size in ("3/32", "1/8")
    step = Fraction(1, 32) if small else Fraction(1, 16)
    length_16 = max(1, round(Fraction(spec.length.value).limit_denominator(10**6) / step)) * step * 16
    made = rivet(spec.shape, letters.text, size, length_16)
    off = spec.length.value - made.length_in
    ws.worked_out(
        "length",
        f"{made.length_in:.4f} in",
        f"nearest length sold, in steps of {step} in",
        value=made.length_in,
        unit="in",
    )
    doubts = []
    if abs(spec.head.value - head) > room:
        doubts.append(f"the head measures {spec.head.text} where {head:.3f} in is usual")
    if abs(off) > 0.010:
        doubts.append(
            f"the length is {number_text(abs(off), 3)} in off the nearest length sold: it may have been cut"
        )
    cautions = list(CAUTIONS)
    if structural == "no":
        cautions.insert(
            0,
            "SOFT: a plain head is 1100 aluminium. It carries no structural load; keep it out of the trays of structural rivets.",
        )
        ws.note(
            "A shallow dimple is easily missed. Squeeze one in scrap beside a known 2117-T4: the soft one flattens at a fraction of the force."
        )
    if spec.mark in ("raised dot", "two raised dashes"):
        cautions.insert(
            0, "2017 and 2024 rivets are set soon after heat treatment or from the cold box, never as found."
        )
    what = f"solid rivet, {spec.shape} head, {alloy}"
    return Outcome(
        tuple(ws.steps), _results(made.part_number, what, alloy, structural, f"{size} in", off, doubts), (), (),
        tuple(cautions), _picture(spec, made.part_number),
    )  # fmt: skip


def _bolt(spec: Found, ws: Worksheet) -> Outcome:
    marked = _BOLT_MARKS.get(spec.mark)
    if marked is None:
        raise InputError(
            "Mark on the head", found=f"{spec.mark} on a bolt", allowed=", ".join(_BOLT_MARKS),
            because="this mark belongs to rivets", mend="Look again with a glass.",
        )  # fmt: skip
    rows = table("hardware/bolt")
    d = spec.shank.value
    size = min(AN_SIZES, key=lambda s: abs(rows.cell(s, "diameter").canonical - d))
    nominal = ws.look_up("nearest shank", rows.cell(size, "diameter"))
    if abs(nominal - d) > 0.010:
        raise InputError(
            "Shank diameter", found=spec.shank.text, allowed="within .010 in of an AN3 to AN8 shank",
            because="no bolt known here has this shank", mend="Measure the plain shank, not the thread.",
        )  # fmt: skip
    flats = ws.look_up("across the flats", rows.cell(size, "across flats"))
    lengths = bolt_lengths(size)
    dash = min(lengths, key=lambda k: abs(lengths[k][0] - spec.length.value))
    off = spec.length.value - lengths[dash][0]
    ws.worked_out(
        "length and grip", f"{lengths[dash][0]:.4f} in, grip {lengths[dash][1]:.4f} in", "nearest length of the standard",
        value=lengths[dash][0], unit="in", rung=rows.cell(size, "extra").rung,
    )  # fmt: skip
    letters = table("rivets/head-mark").rows[marked].get("letters", "")
    alloy, structural = (table("rivets/head-mark").cell(marked, c).text for c in ("alloy", "structural"))
    number = (
        f"{size}{letters}-{dash}"
        if structural == "yes"
        else "no AN number: the head bears no mark of the standard"
    )
    doubts = []
    if abs(off) > 1 / 32:
        doubts.append(f"the length is {number_text(abs(off), 3)} in off the nearest length of the standard")
    if abs(spec.head.value - flats) > 0.02:
        doubts.append(f"across the flats it measures {spec.head.text} where {flats:.3f} in is usual")
    cautions = list(CAUTIONS)
    if structural == "no":
        cautions.insert(
            0, "A hexagon head without a mark is not an aircraft bolt: do not use it in structure."
        )
    cautions.insert(
        0,
        "Add A to the number when the shank has no cotter-pin hole, H before the dash when the head is drilled.",
    )
    return Outcome(
        tuple(ws.steps), _results(number, f"bolt, {alloy}", alloy, structural, size, off, doubts), (), (), tuple(cautions),
        _picture(spec, number),
    )  # fmt: skip


def _results(
    number: str, what: str, alloy: str, structural: str, size: str, off: float, doubts: list[str]
) -> dict[str, Result]:
    return {
        "part_number": Result("part number", number),
        "what": Result("what it is", what),
        "alloy": Result("alloy", alloy),
        "structural": Result("may carry structural load", structural == "yes"),
        "size": Result("size", size),
        "length_off": Result("measured length less the nominal one", off, "in"),
        "sure": Result(
            "how sure", "in doubt: " + "; ".join(doubts) if doubts else "shank, length, head and mark agree"
        ),
    }


def _picture(spec: Found, number: str) -> Scene:
    k = 1.2 / max(spec.length.value, 0.05)
    r, head, long = spec.shank.value * k / 2, spec.head.value * k / 2, spec.length.value * k
    items: list[Item] = []
    if spec.shape == FLUSH:
        cone = (head - r) * 0.84
        items.append(
            Polygon(((-head, 0.0), (head, 0.0), (r, -cone), (r, -long), (-r, -long), (-r, -cone)), "outline")
        )
        top = 0.0
    else:
        top = head * (0.85 if spec.shape == UNIVERSAL else 0.7)
        items.append(Polygon(((-head, 0.0), (-head * 0.8, top), (head * 0.8, top), (head, 0.0)), "outline"))
        items.append(Polygon(((-r, 0.0), (r, 0.0), (r, -long), (-r, -long)), "outline"))
    items.append(Dimension((head + 0.2, -long), (head + 0.2, 0.0), -0.25, spec.length.text))
    items.append(Dimension((-r, -long - 0.15), (r, -long - 0.15), -0.25, spec.shank.text))
    items.append(Dimension((-head, top + 0.2), (head, top + 0.2), 0.3, spec.head.text))
    x = head + 1.8
    items.append(Circle((x, -0.4), 0.5, "outline"))
    items.append(Text((x, -1.2), spec.mark, 0.14, "middle"))
    marks: dict[str, list[Item]] = {
        "dimple": [Circle((x, -0.4), 0.08, "thin")],
        "raised dot": [Circle((x, -0.4), 0.08, "heavy")],
        "two raised dashes": [Line((x - 0.4, -0.4), (x - 0.2, -0.4), "heavy"), Line((x + 0.2, -0.4), (x + 0.4, -0.4), "heavy")],
        "two dashes": [Line((x - 0.4, -0.4), (x - 0.2, -0.4), "heavy"), Line((x + 0.2, -0.4), (x + 0.4, -0.4), "heavy")],
        "one dash": [Line((x - 0.2, -0.4), (x + 0.2, -0.4), "heavy")],
    }  # fmt: skip
    cross: list[Item] = [
        Line((x - 0.2, -0.6), (x + 0.2, -0.2), "heavy"),
        Line((x - 0.2, -0.2), (x + 0.2, -0.6), "heavy"),
    ]
    items += cross if spec.mark in ("raised cross", "cross or asterisk") else marks.get(spec.mark, [])
    return Scene(
        tuple(items), number,
        f"The fastener as measured: shank {spec.shank.text}, length {spec.length.text}, head {spec.head.text}, mark {spec.mark}: {number}.",
    )  # fmt: skip
