"""The Dunlin, whole: a fictional two-seat, low-wing, all-metal, tailwheel aeroplane. No number is a real design's."""

from __future__ import annotations

import json
from collections.abc import Iterator

from ribwright.core.bench.mirror import mirrored
from ribwright.dunlin.bought import bought
from ribwright.dunlin.box_parts import Box
from ribwright.dunlin.boxes import box_structure
from ribwright.dunlin.details import gussets, wing_details
from ribwright.dunlin.fuselage import Length, fuselage_length
from ribwright.dunlin.stores import orders, stock
from ribwright.dunlin.surface_parts import Surface
from ribwright.dunlin.surfaces import surface
from ribwright.dunlin.things import DRAWING_REVISION, Thing
from ribwright.errors import OutOfRangeError

SCALES = (1, 10, 100)

ASSEMBLIES = (
    ("21", "Left aileron", "left"), ("22", "Right aileron", "right"), ("23", "Left flap", "left"), ("24", "Right flap", "right"),
    ("31", "Left wing panel", "left"), ("32", "Right wing panel", "right"), ("33", "Wing centre section", "none"),
    ("41", "Forward fuselage", "none"), ("42", "Tail cone", "none"), ("51", "Horizontal tail", "none"),
    ("52", "Vertical tail", "none"), ("61", "Landing gear", "none"), ("71", "Engine installation", "none"),
    ("81", "Controls, systems and cabin", "none"),
)  # fmt: skip

AILERON = Surface(
    "21", 1, "aileron", "left", -1, 104.0, 58.0, (11.2, 8.4), (1.12, 0.78),
    (0.5, 9.5, 18.5, 27.5, 38.0, 47.0, 57.5), (5.0, 32.5, 53.0), 94.0,
)  # fmt: skip
FLAP = Surface(
    "23", 1, "flap", "left", -1, 36.0, 64.0, (12.6, 11.6), (1.25, 1.15),
    (0.5, 14.5, 22.5, 36.0, 49.0, 63.5), (7.0, 28.0, 58.0), 97.5, pitch=1.25,
)  # fmt: skip
WING = Box(
    "31", 1, "", "wing panel", "left", -1, 22.0, 142.0, 26.0, 6.2, 11.0,
    (0.8, 14.0, 30.0, 47.0, 64.0, 82.0, 101.0, 121.0, 141.2), 84.0, covers=3, sealed=True, stiffeners=4, pitch=1.625,
)  # fmt: skip
CENTRE = Box(
    "33", 1, "", "centre section", "none", 1, -22.0, 44.0, 26.0, 6.6, 0.0, (0.8, 11.0, 22.0, 33.0, 43.2), 84.0,
    skin=".032", spar=".063", rib=".032", cap="angle 1-1/4 x 1-1/4 x 1/8", covers=1, pitch=1.25,
)  # fmt: skip
STABILISER = Box(
    "51", 1, "", "stabiliser", "none", 1, -50.0, 100.0, 12.0, 3.4, 7.0, (0.8, 25.0, 50.0, 75.0, 99.2), 213.0,
    covers=0, pitch=1.5, spar=".032",
)  # fmt: skip
ELEVATOR = Surface(
    "51", 61, "elevator", "none", 1, -51.0, 102.0, (9.0, 9.0), (0.75, 0.75),
    (0.5, 25.0, 55.0, 77.0, 101.5), (7.0, 47.5, 93.0), 222.0, pitch=1.25,
)  # fmt: skip
FIN = Box(
    "52",
    1,
    "",
    "fin",
    "none",
    1,
    8.0,
    44.0,
    14.0,
    3.4,
    9.0,
    (0.8, 15.0, 29.0, 43.2),
    208.0,
    span="z",
    covers=0,
    pitch=1.5,
    spar=".032",
)
RUDDER = Surface(
    "52", 61, "rudder", "none", 1, 4.0, 52.0, (14.0, 9.0), (0.85, 0.75), (0.5, 13.0, 30.0, 42.5, 51.5), (7.0, 22.0, 48.0), 219.0,
    span="z", pitch=1.25,
)  # fmt: skip
FORWARD = Length(
    "41",
    "forward fuselage",
    40.0,
    130.0,
    43.0,
    34.0,
    (41.0, 60.0, 72.0, 98.0, 112.0, 129.0),
    floor=(61.0, 97.0),
    stringers=2,
)
TAIL_CONE = Length(
    "42",
    "tail cone",
    130.5,
    228.0,
    26.0,
    24.0,
    (131.5, 147.0, 163.0, 179.0, 195.0, 211.0, 227.0),
    skin=".025",
    frame=".025",
    stringers=2,
)


def dunlin(*, seed: int = 1, scale: int = 1) -> tuple[Thing, ...]:
    """The whole aeroplane as objects: parents before children, what something is made from before it.

    Args:
        seed: moves hours, dates, lots and stock on hand a little; the aeroplane stays the same.
        scale: so many aeroplanes, each with references of its own (``DN2-21``) and all from one stock.

    Raises:
        OutOfRangeError: no such seed or scale.
    """
    if not 0 <= seed < 2**31:
        raise OutOfRangeError("seed", found=seed, allowed="0 to 2147483647")
    if not 1 <= scale <= 1000:
        raise OutOfRangeError("scale", found=scale, allowed="1 to 1000", mend="Benchmarks use 1, 10 and 100.")
    one = _one(seed)
    shared = stock(seed, one, scale)
    own = (*one, *orders(seed, one))
    return (*shared, *(thing for copy in range(1, scale + 1) for thing in _copied(own, copy)))


def _closed(things: tuple[Thing, ...]) -> str:
    """The stage with which the last space of an assembly is closed; of one without spaces the last stage of all."""
    work = [thing for thing in things if thing.noun == "operation"]
    last = next((one for one in reversed(work) if one.data.get("closes")), work[-1])
    return f"{last.ref}/{last.data['stages'][-1]['name']}"


def _one(seed: int) -> tuple[Thing, ...]:
    """One aeroplane without stock and orders."""
    aileron, flap, wing = (
        surface(seed, AILERON),
        surface(seed, FLAP),
        (*box_structure(seed, WING), *wing_details(seed)),
    )
    made = {
        "21": aileron, "22": _other_hand(aileron, "21", "22"), "23": flap, "24": _other_hand(flap, "23", "24"),
        "31": wing, "32": _other_hand(wing, "31", "32"), "33": box_structure(seed, CENTRE),
        "41": (*fuselage_length(seed, FORWARD), *gussets(seed, "41", FORWARD.word, FORWARD.frames, FORWARD.width, FORWARD.height)),
        "42": (*fuselage_length(seed, TAIL_CONE), *gussets(seed, "42", TAIL_CONE.word, TAIL_CONE.frames, TAIL_CONE.width, TAIL_CONE.height)),
        "51": (*box_structure(seed, STABILISER), *surface(seed, ELEVATOR)), "52": (*box_structure(seed, FIN), *surface(seed, RUDDER)),
    }  # fmt: skip
    others: dict[str, list[Thing]] = {"61": [], "71": [], "81": []}
    for thing in bought(seed, {number: _closed(things) for number, things in made.items()}):
        others[thing.parent[3:]].append(thing)
    aircraft = Thing(
        "aircraft", "DN", "", "Dunlin", "none",
        {
            "empty_weight_lb": "780", "gross_weight_lb": "1420", "span_in": "328", "v_ne_kt": "165", "seats": "2",
            "datum": "60 in ahead of the wing's leading edge", "mac_in": "48.3", "mac_leading_edge_in": "60",
            "cg_forward_in": "66.4", "cg_aft_in": "74.2",
            "stations": [
                {"name": "pilot and passenger", "arm_in": "84"}, {"name": "fuel", "arm_in": "66.5", "most_gal": "24"},
                {"name": "baggage", "arm_in": "106", "most_lb": "60"},
            ],
            "words": "fictional; no number of it comes from a real design",
        },
    )  # fmt: skip
    things: list[Thing] = [
        aircraft,
        *(
            Thing("person", f"DN-{name}", "", title, "none", {"role": role, "when": when})
            for name, title, role, when in (("BUILDER", "the builder", "builder", "evenings"), ("NEIGHBOUR", "the neighbour", "helper", "Saturdays"))
        ),
    ]  # fmt: skip
    for number, title, hand in ASSEMBLIES:
        drawing = f"DN-{number}00"
        things.append(
            Thing(
                "drawing",
                drawing,
                "DN",
                f"drawing {drawing}, {title.lower()}",
                "none",
                {"revision": DRAWING_REVISION},
            )
        )
        things.append(
            Thing(
                "assembly",
                f"DN-{number}",
                "DN",
                title,
                hand,
                {"drawing": drawing, "revision": DRAWING_REVISION},
                (drawing,),
            )
        )
        things += _sorted(list(made.get(number, ())) or others[number])
    return tuple(things)


def _sorted(things: list[Thing]) -> list[Thing]:
    """Parts and spaces before the operations that are made from them."""
    place = {"part": 0, "space": 1, "operation": 2}
    return sorted(things, key=lambda thing: place[thing.noun])


def _other_hand(things: tuple[Thing, ...], old: str, new: str) -> tuple[Thing, ...]:
    """The other hand of a whole assembly, each object made from the one that it mirrors."""
    made = []
    for thing in things:
        other = mirrored(
            noun=thing.noun, ref=thing.ref, parent=thing.parent, title=thing.title, hand=thing.hand, data=thing.data,
            made_from=thing.made_from, pairs=((f"DN-{old}", f"DN-{new}"),),
        )  # fmt: skip
        made.append(
            Thing(
                thing.noun,
                other.ref,
                other.parent,
                other.title,
                other.hand,
                other.data,
                (*other.made_from, thing.ref),
            )
        )
    return tuple(made)


def _copied(things: tuple[Thing, ...], copy: int) -> Iterator[Thing]:
    """The same aeroplane under other references."""
    if copy == 1:
        yield from things
        return
    prefix = f"DN{copy}"
    for thing in things:
        said = json.loads(json.dumps(thing.data).replace('"DN', f'"{prefix}').replace(" DN-", f" {prefix}-"))
        yield Thing(
            thing.noun, _moved(thing.ref, prefix), _moved(thing.parent, prefix), thing.title, thing.hand, said,
            tuple(_moved(ref, prefix) for ref in thing.made_from),
        )  # fmt: skip


def _moved(ref: str, prefix: str) -> str:
    return prefix + ref[2:] if ref.startswith("DN") else ref


__all__ = ["ASSEMBLIES", "SCALES", "dunlin"]
