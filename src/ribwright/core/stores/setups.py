"""One set-up, many stages: which stages the same drill, die, set or cup of primer serves, and what lies in the tray."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from ribwright.core.fastening.rivets import read_part_number
from ribwright.core.tables import table
from ribwright.errors import RibwrightError

FASTENING = ("rivet", "bolt")
SET_UP_INPUTS = ("size", "diameter", "head", "hole_low", "hole_high", "thickness", "radius")
"""What of an operation's inputs a set-up or its tray depends on."""


@dataclass(frozen=True, slots=True)
class StageToDo:
    """A stage that could be done, with what its operation's drawing data say."""

    ref: str
    stage: str
    title: str
    hours: float | None
    helper: bool
    data: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class SetUp:
    """A set-up and the stages that it serves.

    Attributes:
        name: in the trade's words, such as ``drill #40``.
        stages: in the order in which they came.
        tray: what to have at hand for all of them together: (what, how many).
        hours: of those whose hours are known.
        helper: whether one of them takes two people.
    """

    name: str
    stages: tuple[StageToDo, ...]
    tray: tuple[tuple[str, str], ...]
    hours: float
    helper: bool


def size_of(data: Mapping[str, Any]) -> str:
    """Nominal diameter of the row's rivets, as the tables call it, or ""."""
    inputs = data.get("inputs") or {}
    size = str(inputs.get("size") or inputs.get("diameter") or "").removesuffix(" in").strip()
    if size:
        return size
    for one in data.get("fasteners") or ():
        try:
            return read_part_number(str(one["part_number"])).size
        except RibwrightError:
            continue
    return ""


def flush(data: Mapping[str, Any]) -> bool:
    """Whether the row is flush."""
    inputs = data.get("inputs") or {}
    if inputs.get("head"):
        return str(inputs["head"]).startswith("flush")
    if data.get("calculation") == "wedge-row":
        return True
    for one in data.get("fasteners") or ():
        try:
            return read_part_number(str(one["part_number"])).head.startswith("flush")
        except RibwrightError:
            continue
    return False


def set_up_for(stage: str, data: Mapping[str, Any]) -> str:
    """The set-up that a stage needs, in words by which equal ones are put together."""
    size, inputs = size_of(data), data.get("inputs") or {}
    pull = data.get("calculation") == "pull-rivet-row" or data.get("pull_type") == "yes"
    if stage == "drill":
        if pull and inputs.get("hole_low"):
            return f"drill for holes {inputs['hole_low']} to {inputs['hole_high']}"
        drills = table("rivets/drill")
        if size in drills.row_keys():
            return f"drill {drills.cell(size, 'final').text}, pilot {drills.cell(size, 'pilot').text}"
        return "drill"
    if stage == "dimple and countersink":
        return f"dimple dies or countersink {size or 'as drawn'}, 100°"
    if stage == "rivet":
        if pull:
            return f"pull-type rivet tool, {size or 'as drawn'}"
        return f"set for {size or 'as drawn'}, {'flush' if flush(data) else 'universal head'}"
    if stage == "bend":
        return f"brake: {inputs.get('thickness', 'as drawn')}, radius {inputs.get('radius', 'as drawn')}"
    return {
        "finish": "primer batch", "seal": "sealant batch", "deburr": "deburring", "fit": "fitting", "refit": "temporary fasteners", "bolt": "wrenches and torque",
        "roll": "rolling tools", "trial": "rolling tools",
    }.get(stage, stage)  # fmt: skip


def same_set_up(stages: Iterable[StageToDo]) -> tuple[SetUp, ...]:
    """Stages by set-up, the one that serves most first; each with the tray for all of them."""
    groups: dict[str, list[StageToDo]] = {}
    for one in stages:
        groups.setdefault(set_up_for(one.stage, one.data), []).append(one)
    made = [
        SetUp(
            name,
            tuple(of),
            tray_of(name, of),
            sum(one.hours or 0.0 for one in of),
            any(one.helper for one in of),
        )
        for name, of in groups.items()
    ]
    return tuple(sorted(made, key=lambda one: (-len(one.stages), one.name)))


def tray_of(name: str, stages: Iterable[StageToDo]) -> tuple[tuple[str, str], ...]:
    """What the stages of one set-up take together."""
    parts: dict[str, int] = {}
    pins: dict[str, list[int]] = {}
    for one in stages:
        if one.stage in FASTENING:
            for fastener in one.data.get("fasteners") or ():
                number = str(fastener["part_number"])
                parts[number] = parts.get(number, 0) + int(fastener["count"])
        elif one.stage in ("refit", "drill"):
            size = size_of(one.data)
            count = sum(int(f["count"]) for f in one.data.get("fasteners") or ())
            if size and count:
                # one row at a time: the largest sets how many are needed at once
                pins.setdefault(size, []).append(count)
    rows: list[tuple[str, str]] = [(name, "1")]
    for size in sorted(pins, key=_diameter):
        least, most = pinned(max(pins[size]))
        rows.append((f"temporary fasteners {size}, for the longest of these rows", f"{least} to {most}"))
    rows += [(number, str(count)) for number, count in sorted(parts.items())]
    return tuple(rows)


def pinned(holes: int, *, curved: bool = False) -> tuple[int, int]:
    """How many temporary fasteners a row takes, with the widest and with the closest pinning."""
    cells = table("stores/temporary-fasteners")
    row = "curved" if curved else "straight"
    wide, close = int(cells.cell(row, "widest").value), int(cells.cell(row, "closest").value)
    return -(-holes // wide), -(-holes // close)


def _diameter(size: str) -> Fraction:
    try:
        return Fraction(size)
    except (ValueError, ZeroDivisionError):
        return Fraction(0)
