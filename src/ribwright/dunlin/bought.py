"""What is bought finished, with its weight, arm and order, and the work of putting it in."""

from __future__ import annotations

from collections.abc import Mapping

from ribwright.dunlin.kinds import Stages, operation
from ribwright.dunlin.parts import bought_part
from ribwright.dunlin.things import Thing

# assembly, part, weight lb, arm in, order, primary
_PARTS: tuple[tuple[str, str, float, float, str, bool], ...] = (
    ("61", "main gear leg, left", 11.0, 61.5, "P15", True), ("61", "main gear leg, right", 11.0, 61.5, "P15", True),
    ("61", "wheel and tyre, left", 8.4, 60.5, "P15", True), ("61", "wheel and tyre, right", 8.4, 60.5, "P15", True),
    ("61", "brake, left", 3.4, 60.5, "P15", True), ("61", "brake, right", 3.4, 60.5, "P15", True),
    ("61", "axle, left", 1.3, 60.5, "P15", True), ("61", "axle, right", 1.3, 60.5, "P15", True),
    ("61", "tail spring", 3.1, 222.0, "P15", True), ("61", "tail wheel", 4.0, 228.0, "P15", True),
    ("61", "wheel fairing, left", 3.2, 60.0, "P22", False), ("61", "wheel fairing, right", 3.2, 60.0, "P22", False),
    ("61", "leg fairing, left", 0.9, 61.0, "P22", False), ("61", "leg fairing, right", 0.9, 61.0, "P22", False),
    ("61", "brake cylinders", 1.6, 44.0, "P15", True), ("61", "brake hoses", 0.9, 52.0, "P15", True),
    ("71", "engine, 100 hp", 202.0, 22.0, "P16", True), ("71", "propeller, fixed pitch", 24.0, 4.0, "P17", True),
    ("71", "spinner", 2.2, 3.0, "P17", False), ("71", "spinner plates", 1.4, 4.0, "P17", False),
    ("71", "engine mount", 11.6, 33.0, "P18", True), ("71", "mount rubbers and bolts", 2.2, 32.0, "P18", True),
    ("71", "cowl, upper", 7.4, 22.0, "P22", False), ("71", "cowl, lower", 8.4, 22.0, "P22", False),
    ("71", "exhaust, left", 4.2, 26.0, "P18", True), ("71", "exhaust, right", 4.2, 26.0, "P18", True),
    ("71", "heat muff", 1.3, 27.0, "P18", False), ("71", "oil cooler", 2.4, 30.0, "P18", False),
    ("71", "oil hoses", 1.2, 31.0, "P18", True), ("71", "fuel hoses", 0.8, 36.0, "P18", True),
    ("71", "baffles", 4.2, 20.0, "P18", False), ("71", "carburettor air box", 2.6, 28.0, "P18", True),
    ("71", "throttle cable", 0.8, 40.0, "P18", True), ("71", "mixture cable", 0.7, 40.0, "P18", True),
    ("71", "heat cable", 0.5, 40.0, "P18", False), ("71", "battery", 11.5, 39.0, "P19", True),
    ("71", "battery box", 1.2, 39.0, "P19", False), ("71", "starter cables and relay", 1.8, 38.0, "P19", True),
    ("71", "firewall insulation", 1.6, 40.0, "P18", False),
    ("81", "control stick, left", 2.0, 74.0, "P20", True), ("81", "control stick, right", 2.0, 74.0, "P20", True),
    ("81", "rudder pedals, left", 3.2, 46.0, "P20", True), ("81", "rudder pedals, right", 3.2, 46.0, "P20", True),
    ("81", "aileron pushrod, left", 1.7, 86.0, "P20", True), ("81", "aileron pushrod, right", 1.7, 86.0, "P20", True),
    ("81", "aileron bellcrank, left", 0.9, 90.0, "P20", True), ("81", "aileron bellcrank, right", 0.9, 90.0, "P20", True),
    ("81", "elevator pushrod", 3.6, 150.0, "P20", True), ("81", "elevator bellcrank", 0.9, 130.0, "P20", True),
    ("81", "rudder cable, left", 0.8, 135.0, "P20", True), ("81", "rudder cable, right", 0.8, 135.0, "P20", True),
    ("81", "flap motor", 2.6, 88.0, "P20", True), ("81", "flap torque tube", 1.8, 90.0, "P20", True),
    ("81", "trim servo", 0.6, 205.0, "P20", False), ("81", "trim tab and hinge", 0.7, 226.0, "P20", True),
    ("81", "fuel selector", 0.7, 66.0, "P21", True), ("81", "fuel lines", 2.6, 64.0, "P21", True),
    ("81", "fuel pump", 1.4, 44.0, "P21", True), ("81", "fuel filter", 0.6, 44.0, "P21", True),
    ("81", "fuel cap, left", 0.5, 66.0, "P21", False), ("81", "fuel cap, right", 0.5, 66.0, "P21", False),
    ("81", "fuel sender, left", 0.5, 66.0, "P21", False), ("81", "fuel sender, right", 0.5, 66.0, "P21", False),
    ("81", "pitot tube", 0.4, 66.0, "P23", False), ("81", "static ports and lines", 0.8, 120.0, "P23", False),
    ("81", "panel", 2.8, 53.0, "P23", False), ("81", "airspeed indicator", 0.7, 51.0, "P23", False),
    ("81", "altimeter", 1.1, 51.0, "P23", False), ("81", "compass", 0.6, 56.0, "P23", False),
    ("81", "engine instruments", 3.2, 51.0, "P23", False), ("81", "turn and slip", 1.2, 51.0, "P23", False),
    ("81", "radio", 2.4, 51.0, "P23", False), ("81", "transponder", 2.0, 51.0, "P23", False),
    ("81", "antennas", 1.0, 120.0, "P23", False), ("81", "wiring, engine", 3.4, 42.0, "P19", False),
    ("81", "wiring, panel", 3.6, 52.0, "P19", False), ("81", "wiring, wings and tail", 3.2, 100.0, "P19", False),
    ("81", "switches and breakers", 1.6, 53.0, "P19", False), ("81", "light, left", 0.6, 72.0, "P19", False),
    ("81", "light, right", 0.6, 72.0, "P19", False), ("81", "light, tail", 0.3, 230.0, "P19", False),
    ("81", "seat, left", 5.6, 84.0, "P24", False), ("81", "seat, right", 5.6, 84.0, "P24", False),
    ("81", "belts, left", 2.8, 92.0, "P24", True), ("81", "belts, right", 2.8, 92.0, "P24", True),
    ("81", "canopy frame", 7.0, 80.0, "P24", True), ("81", "canopy, blown", 15.0, 80.0, "P24", False),
    ("81", "canopy latches", 0.9, 84.0, "P24", True), ("81", "windscreen fairing", 1.2, 60.0, "P24", False),
    ("81", "upholstery", 5.0, 84.0, "P24", False), ("81", "heat box and hoses", 1.4, 46.0, "P24", False),
    ("81", "vents", 0.6, 60.0, "P24", False), ("81", "emergency transmitter", 2.6, 118.0, "P23", False),
    ("81", "paint", 14.0, 98.0, "P13", False),
)  # fmt: skip

# assembly, title, words of the parts it takes, hours of fit and of install, bolts, helper, primary
_WORK: tuple[tuple[str, str, tuple[str, ...], float, float, int, bool, bool], ...] = (
    ("61", "fit gear legs", ("main gear leg",), 9.0, 4.0, 12, True, True),
    ("61", "wheels and brakes", ("wheel and tyre", "brake", "axle"), 6.0, 9.0, 16, False, True),
    ("61", "wheel alignment", ("main gear leg",), 2.0, 4.0, 0, True, True),
    ("61", "tail spring and tail wheel", ("tail ",), 3.0, 3.0, 6, False, True),
    ("61", "wheel fairings", ("wheel fairing", "leg fairing"), 12.0, 8.0, 16, False, False),
    ("71", "engine mount to firewall", ("engine mount", "mount rubbers"), 5.0, 4.0, 4, True, True),
    ("71", "hang the engine", ("engine, 100",), 4.0, 9.0, 4, True, True),
    ("71", "baffles", ("baffles",), 20.0, 12.0, 40, False, False),
    ("71", "exhaust and air box", ("exhaust", "carburettor", "heat muff"), 6.0, 7.0, 12, False, True),
    ("71", "oil cooler and hoses", ("oil", "fuel hoses"), 4.0, 6.0, 8, False, False),
    ("71", "engine controls", ("throttle", "mixture", "heat cable"), 6.0, 6.0, 8, False, True),
    ("71", "battery and firewall", ("battery", "starter", "firewall"), 5.0, 6.0, 12, False, True),
    ("71", "cowl", ("cowl",), 42.0, 26.0, 60, True, False),
    ("71", "propeller and spinner", ("propeller", "spinner"), 5.0, 4.0, 6, True, True),
    ("81", "control sticks and pushrods", ("control stick", "aileron", "elevator"), 18.0, 16.0, 40, False, True),
    ("81", "rudder pedals and cables", ("rudder",), 10.0, 9.0, 20, False, True),
    ("81", "flap drive", ("flap",), 6.0, 6.0, 12, False, True),
    ("81", "trim", ("trim",), 4.0, 5.0, 8, False, False),
    ("81", "fuel system", ("fuel",), 16.0, 18.0, 24, False, True),
    ("81", "fuel flow test", ("fuel pump",), 1.0, 3.0, 0, True, True),
    ("81", "pitot and static", ("pitot", "static"), 4.0, 6.0, 4, False, False),
    ("81", "instrument panel", ("panel", "airspeed", "altimeter", "compass", "engine inst", "turn", "radio", "transponder", "antennas"), 22.0, 24.0, 36, False, False),
    ("81", "wiring", ("wiring", "switches", "light"), 26.0, 58.0, 30, False, False),
    ("81", "canopy", ("canopy", "windscreen"), 46.0, 40.0, 60, True, True),
    ("81", "seats and belts", ("seat", "belts"), 8.0, 8.0, 20, False, True),
    ("81", "upholstery, heat, transmitter", ("upholstery", "heat", "vents", "emergency"), 12.0, 14.0, 16, False, False),
    ("81", "wings to fuselage", (), 8.0, 10.0, 16, True, True),
    ("81", "tail to fuselage", (), 8.0, 6.0, 12, True, True),
    ("81", "rig ailerons, flaps, elevator, rudder", ("aileron push",), 14.0, 10.0, 12, True, True),
    ("81", "paint", ("paint",), 40.0, 60.0, 0, True, False),
    ("81", "weigh", (), 2.0, 4.0, 0, True, True),
    ("81", "final inspection", (), 8.0, 12.0, 0, False, True),
)  # fmt: skip


# what must be in before: titles of work above, or numbers of assemblies that must be closed
_AFTER: dict[str, tuple[str, ...]] = {
    "fit gear legs": ("41",), "wheels and brakes": ("fit gear legs",), "wheel alignment": ("wheels and brakes",),
    "tail spring and tail wheel": ("42",), "wheel fairings": ("wheel alignment",),
    "engine mount to firewall": ("41",), "hang the engine": ("engine mount to firewall",), "baffles": ("hang the engine",),
    "exhaust and air box": ("hang the engine",), "oil cooler and hoses": ("hang the engine",), "engine controls": ("hang the engine",),
    "propeller and spinner": ("hang the engine",), "cowl": ("baffles", "exhaust and air box", "propeller and spinner"),
    "control sticks and pushrods": ("41", "42"), "rudder pedals and cables": ("41", "42"), "flap drive": ("41",),
    "fuel system": ("41",), "fuel flow test": ("fuel system", "oil cooler and hoses"), "wiring": ("instrument panel",),
    "canopy": ("41",), "seats and belts": ("control sticks and pushrods",), "upholstery, heat, transmitter": ("seats and belts",),
    "wings to fuselage": ("31", "32", "33", "41", "wheel alignment"), "tail to fuselage": ("42", "51", "52"),
    "rig ailerons, flaps, elevator, rudder": (
        "21", "22", "23", "24", "wings to fuselage", "tail to fuselage", "control sticks and pushrods", "rudder pedals and cables", "flap drive", "trim",
    ),
    "paint": ("rig ailerons, flaps, elevator, rudder", "cowl", "canopy", "wheel fairings"),
    "weigh": ("paint", "wiring", "upholstery, heat, transmitter", "pitot and static", "fuel system", "propeller and spinner"),
    "final inspection": ("weigh", "fuel flow test", "engine controls", "battery and firewall"),
}  # fmt: skip


def bought(seed: int, closed: Mapping[str, str]) -> tuple[Thing, ...]:
    """Parts of gear, engine installation, controls and cabin, and the operations that put them in.

    Args:
        seed: as in `dunlin`.
        closed: number of an assembly and the stage, ``REF/stage``, with which its last space is closed.
    """
    parts: list[Thing] = []
    numbers = {"61": 0, "71": 0, "81": 0}
    for assembly, title, weight, arm, order, primary in _PARTS:
        numbers[assembly] += 1
        parts.append(
            bought_part(
                f"DN-{assembly}{numbers[assembly]:02d}", f"DN-{assembly}", title, weight=weight, arm=arm, order=f"DN-{order}", primary=primary
            )
        )  # fmt: skip
    made: list[Thing] = []
    numbers = dict.fromkeys(numbers, 0)
    installed: dict[str, str] = dict(closed)
    for assembly, title, *_ in _WORK:
        numbers[assembly] += 1
        installed[title] = f"DN-{assembly}-F{numbers[assembly]:02d}/install"
    numbers = dict.fromkeys(numbers, 0)
    for assembly, title, words, fit, install, bolts, helper, primary in _WORK:
        numbers[assembly] += 1
        ref = f"DN-{assembly}-F{numbers[assembly]:02d}"
        taken = [
            one.ref
            for one in parts
            if one.parent == f"DN-{assembly}" and any(one.title.startswith(word) for word in words)
        ]
        stages: Stages = (("fit", fit), ("install", install))
        made.append(
            operation(
                seed, ref, f"DN-{assembly}", title, stages, parts=taken, helper=helper, primary=primary,
                after=[installed[name] for name in _AFTER.get(title, ())],
                fasteners=[
                    {"part_number": "AN3-5A", "count": str(bolts)}, {"part_number": "AN960-10", "count": str(2 * bolts)},
                    {"part_number": "AN365-1032A", "count": str(bolts)},
                ] if bolts else [],
            )
        )  # fmt: skip
    return (*parts, *made)
