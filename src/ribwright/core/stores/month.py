"""What the next weeks of work take from the stores, and what of it is short."""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from itertools import accumulate, islice

from ribwright.core.bench.stages import Operation
from ribwright.core.stores.books import Holding, same_item
from ribwright.core.stores.setups import FASTENING, pinned, size_of


@dataclass(frozen=True, slots=True)
class Needed:
    """An item that the work within reach takes.

    Attributes:
        item: part number or reference.
        fits: how many go in.
        on_hand: by the books, or None when the stores don't know it.
        at_least: on hand at the worst of its band.
        operations: that take it.
        order: the order that brings it, or "".
    """

    item: str
    title: str
    fits: int
    on_hand: Decimal | None
    at_least: Decimal
    operations: tuple[str, ...]
    order: str

    @property
    def short(self) -> Decimal:
        """Missing for certain or perhaps: what goes in less what is there at the worst of its band."""
        return max(Decimal(0), self.fits - max(Decimal(0), self.at_least))


@dataclass(frozen=True, slots=True)
class Pins:
    """Temporary fasteners of a size: needed for the fullest assembly within reach, against owned."""

    size: str
    assembly: str
    least: int
    most: int
    owned: Decimal

    @property
    def short(self) -> Decimal:
        """Missing even when they are set as far apart as is usual."""
        return max(Decimal(0), self.least - self.owned)


def within_reach(
    operations: Mapping[str, Operation], done: Collection[str], hours: float, held: Collection[str] = ()
) -> tuple[tuple[str, str], ...]:
    """Stages that come next until the hours are used up, in an order in which they can be done.

    Begun assemblies first, then the order of the airframe. A stage without hours counts as one hour.

    Args:
        operations: all of them, by reference, in the order of the airframe.
        done: ``REF/stage`` of every finished stage.
        hours: to spend.
        held: operations on which nothing may be begun.
    """
    begun = {operations[ref].parent for key in done for ref in _before_slash(key) if ref in operations}
    first = [op for op in operations.values() if op.parent in begun] if begun else []
    rest = (op for op in operations.values() if op.parent not in begun)
    # What comes later in the order is begun only when nothing before it can be: most often few are looked at.
    few = 512
    while True:
        looked_at = [*first, *islice(rest, few)]
        order, left = _in_order(looked_at, operations, done, hours, held)
        if left <= 0 or len(looked_at) == len(operations):
            return order
        first, few = looked_at, 4 * few


def _before_slash(key: str) -> Iterable[str]:
    return accumulate(key.split("/"), "{}/{}".format)


def _in_order(
    some: Sequence[Operation],
    every: Mapping[str, Operation],
    done: Collection[str],
    hours: float,
    held: Collection[str],
) -> tuple[tuple[tuple[str, str], ...], float]:
    """Stages of some operations, each before those later in the row where both can be done, and the hours left over."""
    waits: dict[str, int] = {}
    opens: dict[str, list[str]] = {}
    cost: dict[str, float] = {}
    rank: dict[str, int] = {}
    for number, op in enumerate(some):
        before = ""
        for stage in op.stages:
            key = f"{op.ref}/{stage.name}"
            needs = set(stage.after) | ({before} if before else set(op.after))
            if op.ref in held and not before:
                needs.add("blocked")
            open_needs = set()
            for need in needs:
                # a whole operation is its last stage
                one = every.get(need)
                last = f"{need}/{one.stages[-1].name}" if one and one.stages else need
                if need and last not in done:
                    open_needs.add(last)
            waits[key], cost[key] = len(open_needs), stage.hours if stage.hours else 1.0
            rank[key] = number
            for need in open_needs:
                opens.setdefault(need, []).append(key)
            before = key
    ready = [(rank[key], key) for key, count in waits.items() if not count and key not in done]
    heapq.heapify(ready)
    order: list[tuple[str, str]] = []
    left = hours
    while ready and left > 0:
        _, key = heapq.heappop(ready)
        left -= cost[key]
        ref, _, stage_name = key.partition("/")
        order.append((ref, stage_name))
        for later in opens.get(key, ()):
            waits[later] -= 1
            if not waits[later] and later not in done:
                heapq.heappush(ready, (rank[later], later))
    return tuple(order), left


def needed(
    reach: Sequence[tuple[str, str]], data: Mapping[str, Mapping[str, object]], held: Mapping[str, Holding]
) -> tuple[Needed, ...]:
    """What those stages take by their hardware lists; what is short first.

    Args:
        reach: stages, as ``within_reach`` gives them.
        data: drawing data of each operation, by reference.
        held: the books.
    """
    by_name = {same_item(one.item.part_number or ref): one for ref, one in held.items()} | {
        same_item(ref): one for ref, one in held.items()
    }
    counts: dict[str, int] = {}
    users: dict[str, list[str]] = {}
    for ref, stage in reach:
        fasteners = data.get(ref, {}).get("fasteners") or ()
        if stage not in FASTENING or not isinstance(fasteners, Sequence):
            continue
        for one in fasteners:
            number = str(one["part_number"])
            counts[number] = counts.get(number, 0) + int(one["count"])
            users.setdefault(number, []).append(ref)
    rows = []
    for number, count in counts.items():
        holding = by_name.get(same_item(number))
        rows.append(
            Needed(
                number, holding.item.title if holding else "", count, holding.on_hand if holding else None, holding.low if holding else Decimal(0),
                tuple(dict.fromkeys(users[number])), holding.item.order if holding else "",
            )
        )  # fmt: skip
    return tuple(sorted(rows, key=lambda one: (one.short == 0, one.item)))


def pins(
    reach: Sequence[tuple[str, str]],
    data: Mapping[str, Mapping[str, object]],
    parents: Mapping[str, str],
    held: Mapping[str, Holding],
) -> tuple[Pins, ...]:
    """Temporary fasteners for the assembly that takes most of each size at once, against those owned."""
    owned: dict[str, Decimal] = {}
    for one in held.values():
        if one.item.kind == "temporary fastener":
            owned[one.item.size] = owned.get(one.item.size, Decimal(0)) + one.on_hand
    at_once: dict[tuple[str, str], list[int]] = {}
    for ref in dict.fromkeys(ref for ref, stage in reach if stage in ("drill", "refit")):
        own = data.get(ref, {})
        size = size_of(own)
        fasteners = own.get("fasteners") or ()
        holes = sum(int(one["count"]) for one in fasteners) if isinstance(fasteners, Sequence) else 0
        if size and holes:
            pair = at_once.setdefault((size, parents.get(ref, "")), [0, 0])
            least, most = pinned(holes)
            pair[0], pair[1] = pair[0] + least, pair[1] + most
    fullest: dict[str, Pins] = {}
    for (size, assembly), (least, most) in at_once.items():
        if size not in fullest or least > fullest[size].least:
            fullest[size] = Pins(size, assembly, least, most, owned.get(size, Decimal(0)))
    return tuple(fullest[size] for size in sorted(fullest))
