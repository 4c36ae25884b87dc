"""When it is done, how sure: the plan worked through many times, one builder, real days.

The plain longest chain without the builder's hours is not offered as a date: it is far too early.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.calendars import DAY, HUNDREDTHS, date_of
from ribwright.core.planning.network import Network, network
from ribwright.core.planning.tasks import Plan
from ribwright.errors import OutOfRangeError, Stopped

Ints = npt.NDArray[np.int64]

CHANCES = (0.1, 0.5, 0.8, 0.9)
CHUNK = 1_000

Mapper = Callable[[Callable[[tuple[int, int]], "Draws"], Sequence[tuple[int, int]]], Iterable["Draws"]]


@dataclass(frozen=True, slots=True)
class Draws:
    """Outcomes, one row a draw, in hundredths of an hour from the start of day 0.

    Attributes:
        first: Number of the first draw.
        ends: When everything is done.
        worked: Hundredths of an hour worked from now to the end.
        dry: Hundredths of working time with nothing that could be done; empty unless asked for.
        starts: Start of each task, shape (draws, tasks); empty unless asked for.
        decides: How many draws each task (then each gate) lay on the chain that set the end.
    """

    first: int
    ends: Ints
    worked: Ints
    dry: Ints
    starts: Ints
    decides: Ints


@dataclass(frozen=True, slots=True)
class Chance:
    """A date that holds with some chance.

    Attributes:
        chance: 0.8 means that in 4 of 5 draws it is done by then.
        day: The date.
        days: Days from the start.
        error_days: Standard error of `days` from the number of draws; it says nothing of the plan itself.
    """

    chance: float
    day: date
    days: float
    error_days: float


def drawn(
    net: Network, seed: int, first: int, count: int, *, dry: bool = False, starts: bool = False,
    decides: bool = False,
) -> Draws:  # fmt: skip
    """Work through draws `first` to `first + count`; the same numbers come out however they are split."""
    numbers = np.arange(first, first + count, dtype=np.int64)
    return worked_through(net, seed, numbers, dry=dry, starts=starts, decides=decides)


def worked_through(
    net: Network, seed: int, numbers: Ints, *, given: Ints | None = None, dry: bool = False,
    starts: bool = False, decides: bool = False,
) -> Draws:  # fmt: skip
    """Work through the draws of these numbers.

    Args:
        net: The plan's arrays.
        seed: As in `simulated`.
        numbers: Numbers of the draws, at least one.
        given: When each gate opens in each of them, in hundredths of an hour, shape (draws, gates); negative: as
            drawn. None: all as drawn.
        dry: As in `simulated`, and so are `starts` and `decides`.
        starts: Whether to record each task's start.
        decides: Whether to count how often each task decides the date.
    """
    from ribwright.core.planning import risk_compiled

    n, gates, count = len(net.tasks), len(net.gate_names), len(numbers)
    out = Draws(
        first=int(numbers[0]),
        ends=np.zeros(count, np.int64),
        worked=np.zeros(count, np.int64),
        dry=np.zeros(count if dry else 0, np.int64),
        starts=np.zeros((count if starts else 0, n), np.int64),
        decides=np.zeros(n + gates if decides else 0, np.int64),
    )
    opens = np.zeros((0, gates), np.int64) if given is None else np.ascontiguousarray(given, np.int64)
    risk_compiled.simulate(
        np.uint64(seed), numbers, opens, *net.arrays, out.ends, out.worked, out.dry, out.starts, out.decides
    )
    return out


def simulated(
    net: Network, *, draws: int = 10_000, seed: int = 1, dry: bool = False, starts: bool = False,
    decides: bool = False, mapper: Mapper = map, progress: Callable[[int, int], None] | None = None,
) -> Draws:  # fmt: skip
    """Work through the plan many times.

    Args:
        net: The plan's arrays.
        draws: How many times, 1 to 10 million.
        seed: The same seed gives the same draws, also after a change of the plan.
        dry: Whether to record working time with nothing to do.
        starts: Whether to record each task's start.
        decides: Whether to count how often each task decides the date.
        mapper: Works through the chunks: the built-in `map`, or an executor's, which may use threads.
        progress: Called with (draws made, draws in all); it may raise `Stopped`: what was made is returned.

    Raises:
        OutOfRangeError: A number of draws that can't be.
        Stopped: Before the first chunk was made.
    """
    if not 1 <= draws <= 10_000_000:
        raise OutOfRangeError("simulated builds", found=draws, allowed="1 to 10,000,000")
    chunks = [(first, min(CHUNK, draws - first)) for first in range(0, draws, CHUNK)]

    def one(chunk: tuple[int, int]) -> Draws:
        return drawn(net, seed, chunk[0], chunk[1], dry=dry, starts=starts, decides=decides)

    parts: list[Draws] = []
    made = 0
    for part in mapper(one, chunks):
        parts.append(part)
        made += len(part.ends)
        if progress is not None:
            try:
                progress(made, draws)
            except Stopped:
                break
    return joined(parts)


def joined(parts: Sequence[Draws]) -> Draws:
    """Chunks put together in the order of their numbers."""
    ranked = sorted(parts, key=lambda part: part.first)
    return Draws(
        first=ranked[0].first,
        ends=np.concatenate([part.ends for part in ranked]),
        worked=np.concatenate([part.worked for part in ranked]),
        dry=np.concatenate([part.dry for part in ranked]),
        starts=np.concatenate([part.starts for part in ranked]),
        decides=np.sum([part.decides for part in ranked], axis=0),
    )


def chance_day(start: date, times: Ints, chance: float) -> Chance:
    """The date that holds with a chance, with its standard error.

    The quantile is an order statistic. Its error is half the distance between the order statistics one
    binomial standard deviation to either side, which supposes nothing about the distribution.

    Args:
        start: Day 0.
        times: Hundredths of an hour, one a draw.
        chance: Between 0 and 1.

    Raises:
        OutOfRangeError: A chance that is none.
    """
    if not 0.0 < chance < 1.0:
        raise OutOfRangeError("chance", found=chance, allowed="more than 0 and less than 1")
    ranked = np.sort(times)
    n = len(ranked)
    at = min(n - 1, int(np.ceil(chance * n)) - 1)
    step = np.sqrt(n * chance * (1.0 - chance))
    low = ranked[int(max(0, np.floor(at - step)))]
    high = ranked[int(min(n - 1, np.ceil(at + step)))]
    return Chance(
        chance=chance,
        day=date_of(start, float(ranked[at])),
        days=float(ranked[at]) / DAY,
        error_days=float(high - low) / 2.0 / DAY,
    )


@dataclass(frozen=True, slots=True)
class Outlook:
    """When it is done, and how many hours it still takes.

    Attributes:
        dates: At 1, 5, 8 and 9 chances in 10.
        hours_to_go: Hours still to work, at the same chances.
        dry_share: Share of the working time in which nothing could be done, on average.
        draws: How many draws were made.
        beyond: Draws that had not ended when the calendar did.
    """

    dates: tuple[Chance, ...]
    hours_to_go: tuple[tuple[float, float], ...]
    dry_share: float
    draws: int
    beyond: int


def outlook(net: Network, made: Draws) -> Outlook:
    """Sum draws up."""
    from ribwright.core.planning.network import horizon_hundredths

    worked = np.sort(made.worked)
    n = len(worked)
    picks = [
        (chance, float(worked[min(n - 1, int(np.ceil(chance * n)) - 1)]) / HUNDREDTHS) for chance in CHANCES
    ]
    total = float(made.dry.sum() + made.worked.sum())
    return Outlook(
        dates=tuple(chance_day(net.start, made.ends, chance) for chance in CHANCES),
        hours_to_go=tuple(picks),
        dry_share=float(made.dry.sum()) / total if len(made.dry) and total > 0 else 0.0,
        draws=n,
        beyond=int(np.count_nonzero(made.ends >= horizon_hundredths(net))),
    )


def deciding(net: Network, made: Draws) -> tuple[tuple[str, float], ...]:
    """How often each task and each gate lay on the chain that set the end, the most frequent first."""
    names = [*net.keys, *net.gate_names]
    shares = made.decides / max(1, len(made.ends))
    ranked = sorted(range(len(names)), key=lambda i: (-shares[i], i))
    return tuple((names[i], float(shares[i])) for i in ranked)


SHOWN = 12
NEARLY_ALWAYS = 0.95


def decisive(net: Network, made: Draws) -> tuple[tuple[tuple[str, float], ...], str]:
    """What is worth showing of `deciding`: a list of tasks that all nearly always set the end says nothing.

    Returns:
        The most frequent, or where more tasks than are shown nearly always do the orders alone; and then a sentence
        on the tasks, else "".
    """
    ranked, orders = deciding(net, made), set(net.gate_names)
    always = sum(1 for key, share in ranked if key not in orders and share >= NEARLY_ALWAYS)
    if always <= SHOWN:
        return tuple(one for one in ranked[:SHOWN] if one[1] > 0), ""
    said = (
        f"{always:,} of {len(net.keys):,} tasks stood in it in at least {100 * NEARLY_ALWAYS:.0f} of 100: with one pair of "
        "hands the hours at the bench set the date, whichever task they go to."
    )
    waits = tuple(one for one in ranked if one[0] in orders and one[1] >= 0.005)[:SHOWN]
    return waits, said if waits else said + " No order did in more than 1 of 200."


@dataclass(frozen=True, slots=True)
class Move:
    """How one change moves the 4-in-5 date.

    Attributes:
        what: The change, in words.
        days_less: Days by which the date moves when the thing goes well (negative: earlier).
        days_more: The same when it goes badly.
        error_days: Standard error of the larger of the two.
    """

    what: str
    days_less: float
    days_more: float
    error_days: float


def shift_days(base: Ints, other: Ints, chance: float = 0.8) -> tuple[float, float]:
    """By how many days a quantile moves between two runs on common random numbers, with standard error.

    The error is that of the mean difference over draws near the quantile (the middle fifth around it).
    """
    n = len(base)
    at = min(n - 1, int(np.ceil(chance * n)) - 1)
    moved = float(np.sort(other)[at] - np.sort(base)[at]) / DAY
    near = np.argsort(base)[max(0, at - n // 10) : at + n // 10 + 1]
    spread = float(np.std((other - base)[near])) / DAY
    return moved, spread / float(np.sqrt(len(near)))


def what_moves_the_date(
    plan: Plan,
    changes: Sequence[tuple[str, Plan, Plan]],
    *,
    draws: int = 1_000,
    seed: int = 1,
    chance: float = 0.8,
) -> tuple[Move, ...]:
    """Rank changes by how far they move the date, all on the same random numbers.

    Args:
        plan: As it is.
        changes: Name, the plan if it goes well, the plan if it goes badly (`tornado.usual_changes` makes them).
        draws: Draws for each of the runs.
        seed: As in `simulated`.
        chance: Which date; 0.8 is 4 chances in 5.
    """
    base = simulated(network(plan), draws=draws, seed=seed).ends
    moves = []
    for what, well, badly in changes:
        less, error_a = shift_days(base, simulated(network(well), draws=draws, seed=seed).ends, chance)
        more, error_b = shift_days(base, simulated(network(badly), draws=draws, seed=seed).ends, chance)
        moves.append(Move(what, less, more, max(error_a, error_b)))
    return tuple(sorted(moves, key=lambda move: -max(abs(move.days_less), abs(move.days_more))))


def effect(before: Plan, after: Plan, *, draws: int = 2_000, seed: int = 1, chance: float = 0.8) -> Move:
    """What a change does to the date, before anybody saves it."""
    base = simulated(network(before), draws=draws, seed=seed).ends
    moved, error = shift_days(base, simulated(network(after), draws=draws, seed=seed).ends, chance)
    return Move("this change", moved, moved, error)


def with_item(plan: Plan, key: str, **changes: object) -> Plan:
    """The plan with one item changed."""
    items = tuple(replace(item, **changes) if item.key == key else item for item in plan.items)  # type: ignore[arg-type]
    return replace(plan, items=items)


def with_task(plan: Plan, key: str, **changes: object) -> Plan:
    """The plan with one task changed."""
    tasks = tuple(replace(task, **changes) if task.key == key else task for task in plan.tasks)  # type: ignore[arg-type]
    return replace(plan, tasks=tasks)
