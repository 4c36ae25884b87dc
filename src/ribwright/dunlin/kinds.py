"""Operations that are not a row of solid rivets: bends, rolled noses, pull-type rows, bolts, fitting, sealing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ribwright.dunlin.things import DRAWING_REVISION, Thing, about, inch

Stages = Sequence[tuple[str, float]]


def operation(
    seed: int,
    ref: str,
    parent: str,
    title: str,
    stages: Stages,
    *,
    parts: Sequence[str] = (),
    calculation: str = "",
    inputs: Mapping[str, Any] | None = None,
    hand: str = "none",
    after: Sequence[str] = (),
    helper: bool = False,
    primary: bool = False,
    **more: Any,
) -> Thing:
    """An operation with named stages and their hours.

    Args:
        stages: name and usual hours of each.
        helper: the last stage takes two.
        more: further data: ``space``, ``closes``, ``fasteners``, ``nut_plates``, ``kind``, ``sealant``.
    """
    drawing = f"{parent}00" if parent.count("-") else f"{parent}-00"
    made = [
        {
            "name": name, "hours": inch(about(seed, f"{ref}/{name}", hours), 2),
            "helper": "yes" if helper and number == len(stages) - 1 else "no",
        }
        for number, (name, hours) in enumerate(stages)
    ]  # fmt: skip
    data: dict[str, Any] = {
        "calculation": calculation, "inputs": dict(inputs or {}), "parts": list(parts), "stages": made,
        "after": list(after), "primary": "yes" if primary else "no", "drawing": drawing,
        "revision": DRAWING_REVISION, **{key: value for key, value in more.items() if value},
    }  # fmt: skip
    return Thing("operation", ref, parent, title, hand, data, (drawing, *parts))


def nut_plates(
    seed: int,
    ref: str,
    parent: str,
    title: str,
    part: Thing,
    count: int,
    *,
    hand: str = "none",
    space: str = "",
    after: Sequence[str] = (),
    plate: str = "MS21047-3",
) -> Thing:
    """Nut plates on one part: each takes two small flush rivets."""
    return operation(
        seed, ref, parent, title,
        (("drill", 0.2 + 0.05 * count), ("dimple and countersink", 0.1 + 0.03 * count), ("finish", 0.15), ("rivet", 0.1 + 0.06 * count)),
        parts=(part.ref,), hand=hand, after=after, space=space, kind="nut plates", nut_plates=str(count),
        fasteners=[
            {"part_number": plate, "count": str(count)},
            {"part_number": "MS20426AD3-4", "count": str(2 * count)},
        ],
    )  # fmt: skip
