"""What went wrong at the scales: each usual error is undone in turn, and named when that makes the numbers agree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ribwright.core.massprops.moments import cg_band

Floats = NDArray[np.float64]

LB_PER_KG = 2.2046226218
_SYMMETRY_SHARE = 0.06  # left and right mains of a symmetrical aeroplane: common practice, no source
_POINT_SHARE = 0.04  # a single wheel against what was expected of it: common practice, no source


_USUAL_TARES_LB = tuple(
    float(t) for t in range(4, 64, 4)
)  # chocks to a tail stand: common practice, no source


@dataclass(frozen=True, slots=True)
class Weighed:
    """A weighing as plain numbers; ``expected`` values are ``None`` where nobody knows them."""

    names: tuple[str, ...]
    roles: tuple[str, ...]
    sides: tuple[str, ...]
    reading_lb: Floats
    tare_lb: Floats
    arm_in: Floats
    u_lb: Floats
    u_in: Floats
    expected_lb: tuple[float | None, ...]
    extra: tuple[str, ...]
    extra_lb: Floats
    extra_in: Floats
    extra_u_lb: Floats
    wheelbase_in: float | None
    wheelbase_u_in: float
    weight_lb: float | None
    weight_u_lb: float
    cg_in: float | None
    cg_u_in: float

    def pair(self) -> tuple[int, int] | None:
        """Left and right main, when there is exactly one of each."""
        left = [
            i
            for i, (r, s) in enumerate(zip(self.roles, self.sides, strict=True))
            if r == "main" and s == "left"
        ]
        right = [
            i
            for i, (r, s) in enumerate(zip(self.roles, self.sides, strict=True))
            if r == "main" and s == "right"
        ]
        return (left[0], right[0]) if len(left) == len(right) == 1 else None

    def third(self) -> int | None:
        """The nose or tail wheel, when there is exactly one."""
        found = [i for i, role in enumerate(self.roles) if role in ("nose", "tail")]
        return found[0] if len(found) == 1 else None


@dataclass(frozen=True, slots=True)
class Check:
    """Two ways to the same number: how far they are apart, and how far they may be (95 in 100)."""

    name: str
    where: str
    unit: str
    off: float
    u: float
    said: str


def agreement(seen: Weighed) -> tuple[Check, ...]:
    """Every check that the numbers allow: against what is expected, against each other."""
    checks: list[Check] = []
    net = seen.reading_lb - seen.tare_lb
    if seen.weight_lb is not None or seen.cg_in is not None:
        total, u_total, cg, u_cg = cg_band(
            np.concatenate([net, seen.extra_lb]), np.concatenate([seen.arm_in, seen.extra_in]),
            np.concatenate([seen.u_lb, seen.extra_u_lb]), np.concatenate([seen.u_in, np.zeros_like(seen.extra_lb)]),
        )  # fmt: skip
        if seen.weight_lb is not None:
            u = float(np.hypot(u_total, seen.weight_u_lb))
            checks.append(
                Check(
                    "weight against expected",
                    "empty weight",
                    "lb",
                    total - seen.weight_lb,
                    u,
                    f"{seen.weight_lb:g} lb was expected",
                )
            )
        if seen.cg_in is not None:
            u = float(np.hypot(u_cg, seen.cg_u_in))
            checks.append(
                Check(
                    "CG against expected",
                    "empty CG",
                    "in",
                    cg - seen.cg_in,
                    u,
                    f"{seen.cg_in:g} in was expected",
                )
            )
    for i, expected in enumerate(seen.expected_lb):
        if expected is not None:
            u = float(np.hypot(seen.u_lb[i], max(_POINT_SHARE * expected, 2.0)))
            checks.append(
                Check(
                    "net against expected",
                    seen.names[i],
                    "lb",
                    float(net[i]) - expected,
                    u,
                    f"{expected:g} lb was expected there",
                )
            )
    mains = [i for i, role in enumerate(seen.roles) if role == "main"]
    third = seen.third()
    if seen.wheelbase_in is not None and third is not None and mains:
        reach = float(np.mean(seen.arm_in[mains]))
        base = float(seen.arm_in[third]) - reach
        way = 1.0 if seen.roles[third] == "tail" else -1.0
        u = float(
            np.sqrt(
                seen.wheelbase_u_in**2
                + seen.u_in[third] ** 2
                + (seen.u_in[mains] ** 2).sum() / len(mains) ** 2
            )
        )
        checks.append(
            Check(
                "wheelbase by the arms",
                seen.names[third],
                "in",
                way * base - seen.wheelbase_in,
                u,
                f"{seen.wheelbase_in:g} in was measured",
            )
        )
    pair = seen.pair()
    if pair is not None:
        left, right = pair
        checks.append(
            Check(
                "left and right arm", "mains", "in", float(seen.arm_in[left] - seen.arm_in[right]),
                float(np.hypot(seen.u_in[left], seen.u_in[right])) + 0.5, "the axle lies square within half an inch (common practice, no source)",
            )
        )  # fmt: skip
        both = float(net[left] + net[right])
        checks.append(
            Check(
                "left and right weight", "mains", "lb", float(net[left] - net[right]), _SYMMETRY_SHARE * both + 2.0,
                "an empty aeroplane is nearly symmetrical: 6 per cent (common practice, no source)",
            )
        )  # fmt: skip
    return tuple(checks)


def suspects(seen: Weighed) -> tuple[str, ...]:
    """Usual errors that would make all checks agree, most telling first.

    When they agree as they stand, only what no check can see: a scale without a tare among scales with one.
    """
    base = _worst(agreement(seen))
    if base <= 1.0:
        return _bare(seen)
    found: list[tuple[float, int, str]] = []
    for order, (name, undone) in enumerate(_undone(seen)):
        if (undone.reading_lb - undone.tare_lb < 0).any():
            continue
        left = _worst(agreement(undone))
        if left <= 1.0:
            found.append((round(left, 1), order, name))
    return tuple(dict.fromkeys(name for _, _, name in sorted(found)))


def _bare(seen: Weighed) -> tuple[str, ...]:
    if not (seen.tare_lb > 0).any():
        return ()
    return tuple(
        f"no tare at {name}, though other scales have one: forgotten, unless nothing lies on that scale"
        for name, tare in zip(seen.names, seen.tare_lb, strict=True)
        if tare == 0
    )


def _worst(checks: tuple[Check, ...]) -> float:
    return max(
        (abs(c.off) / c.u if c.u > 0 else (0.0 if c.off == 0 else np.inf) for c in checks), default=0.0
    )


def _undone(seen: Weighed) -> Iterator[tuple[str, Weighed]]:
    yield from _tares(seen)
    yield from _swaps(seen)
    yield from _arms(seen)
    yield from _readings(seen)
    for i, item in enumerate(seen.extra):
        turned = seen.extra_lb.copy()
        turned[i] = -turned[i]
        yield f"{item} was taken out where it belongs in, or the other way", replace(seen, extra_lb=turned)


def _changed(values: Floats, i: int, value: float) -> Floats:
    made = values.copy()
    made[i] = value
    return made


def _tares(seen: Weighed) -> Iterator[tuple[str, Weighed]]:
    bearing = seen.tare_lb[seen.tare_lb > 0]
    for i, name in enumerate(seen.names):
        if seen.tare_lb[i] == 0 and bearing.size:
            for tare in (float(bearing.mean()), *_USUAL_TARES_LB):
                yield f"tare forgotten at {name}", replace(seen, tare_lb=_changed(seen.tare_lb, i, tare))
        if seen.tare_lb[i] > 0:
            yield f"tare taken off twice at {name}", replace(seen, tare_lb=_changed(seen.tare_lb, i, 0.0))
    if bearing.size == 0 and seen.weight_lb is not None:
        net = float(seen.reading_lb.sum() + seen.extra_lb.sum())
        over = net - seen.weight_lb
        if over > 0:
            yield (
                "tare forgotten at every scale",
                replace(seen, tare_lb=np.full_like(seen.tare_lb, over / len(seen.names))),
            )
    if bearing.size == len(seen.names):
        yield "tare taken off twice at every scale", replace(seen, tare_lb=np.zeros_like(seen.tare_lb))


def _swaps(seen: Weighed) -> Iterator[tuple[str, Weighed]]:
    for i in range(len(seen.names)):
        for j in range(i + 1, len(seen.names)):
            both = {seen.sides[i], seen.sides[j]}
            word = "left and right swapped" if both == {"left", "right"} else "readings swapped"
            order = np.arange(len(seen.names))
            order[[i, j]] = order[[j, i]]
            yield (
                f"{word}: {seen.names[i]} and {seen.names[j]}",
                replace(seen, reading_lb=seen.reading_lb[order]),
            )
            if seen.tare_lb[i] != seen.tare_lb[j]:
                yield (
                    f"{word} with their tares: {seen.names[i]} and {seen.names[j]}",
                    replace(seen, reading_lb=seen.reading_lb[order], tare_lb=seen.tare_lb[order]),
                )
            yield (
                f"arms swapped: {seen.names[i]} and {seen.names[j]}",
                replace(seen, arm_in=seen.arm_in[order]),
            )


def _arms(seen: Weighed) -> Iterator[tuple[str, Weighed]]:
    third, pair = seen.third(), seen.pair()
    mains = [i for i, role in enumerate(seen.roles) if role == "main"]
    for i, name in enumerate(seen.names):
        if seen.arm_in[i]:
            yield (
                f"arm of {name} has the wrong sign",
                replace(seen, arm_in=_changed(seen.arm_in, i, -float(seen.arm_in[i]))),
            )
        others = []
        if i == third and mains and seen.wheelbase_in is not None:
            way = 1.0 if seen.roles[i] == "tail" else -1.0
            others.append(float(np.mean(seen.arm_in[mains])) + way * seen.wheelbase_in)
        if pair is not None and i in pair:
            others.append(float(seen.arm_in[pair[0] if i == pair[1] else pair[1]]))
        for arm in others:
            if abs(arm - seen.arm_in[i]) > 2 * seen.u_in[i]:
                yield (
                    f"arm of {name} measured from another datum",
                    replace(seen, arm_in=_changed(seen.arm_in, i, arm)),
                )


def _readings(seen: Weighed) -> Iterator[tuple[str, Weighed]]:
    for i, name in enumerate(seen.names):
        value = float(seen.reading_lb[i])
        yield (
            f"scale at {name} read in kilograms",
            replace(seen, reading_lb=_changed(seen.reading_lb, i, value * LB_PER_KG)),
        )
        yield (
            f"reading at {name} entered in kilograms but shown in pounds",
            replace(seen, reading_lb=_changed(seen.reading_lb, i, value / LB_PER_KG)),
        )
        for other in _transposed(value):
            yield (
                f"digits swapped in the reading at {name} ({other:g} instead of {value:g})",
                replace(seen, reading_lb=_changed(seen.reading_lb, i, other)),
            )
        for step in (-100.0, 100.0):
            if value + step > 0:
                yield (
                    f"reading at {name} a hundred off ({value + step:g} instead of {value:g})",
                    replace(seen, reading_lb=_changed(seen.reading_lb, i, value + step)),
                )
    yield "all scales read in kilograms", replace(seen, reading_lb=seen.reading_lb * LB_PER_KG)


def _transposed(value: float) -> Iterator[float]:
    digits = f"{value:.1f}"
    places = [k for k, c in enumerate(digits) if c.isdigit()]
    for a, b in pairwise(places):
        if digits[a] != digits[b]:
            letters = list(digits)
            letters[a], letters[b] = letters[b], letters[a]
            yield float("".join(letters))
