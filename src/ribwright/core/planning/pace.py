"""The builder's own pace, learned from the log: hours against estimates, and weeks that fall out.

The logarithm of actual over estimated hours is a shared pace, plus the trade's own, plus the task's own
chance. All three are normal, so the posterior is exact and in closed form; tasks in progress, of which only
a lower limit is known, are brought in by their conditional moments, repeated until they settle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from ribwright.core.planning.tasks import Pace
from ribwright.errors import OutOfRangeError

Floats = npt.NDArray[np.float64]

FEWEST = 8


@dataclass(frozen=True, slots=True)
class Logged:
    """A task of the log.

    Attributes:
        trade: Its trade.
        estimate_hours: As estimated.
        actual_hours: As logged so far.
        spread: The estimate's own factor up or down.
        finished: Whether it is done; otherwise it takes at least what is logged.
    """

    trade: str
    estimate_hours: float
    actual_hours: float
    spread: float = 1.5
    finished: bool = True


@dataclass(frozen=True, slots=True)
class Learned:
    """What the log says.

    Attributes:
        pace: The updated pace.
        finished: How many finished tasks it rests on.
        enough: Whether that is enough to say more than the assumption did.
        says: The same in words.
    """

    pace: Pace
    finished: int
    enough: bool
    says: str


def posterior(
    logs: Floats, trade: npt.NDArray[np.int64], variance: Floats, *, shared_mean: float, shared_var: float,
    trade_var: float, trades: int,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Mean, shape (1 + trades,), and covariance of the shared pace and the trades' own, given observations.

    The conjugate normal update: precision adds up, Λ = Λ0 + XᵀV⁻¹X, mean = Λ⁻¹(Λ0 m0 + XᵀV⁻¹y).

    Args:
        logs: log(actual / estimated), one an observation.
        trade: Index of each one's trade.
        variance: Variance of each one's own chance.
        shared_mean: Prior mean of the shared pace.
        shared_var: Prior variance of the shared pace.
        trade_var: Prior variance of each trade's own, of mean 0.
        trades: How many trades.
    """
    precision = np.diag(np.concatenate([[1.0 / shared_var], np.full(trades, 1.0 / trade_var)]))
    weighted = np.zeros(1 + trades)
    weighted[0] = shared_mean / shared_var
    design = np.zeros((len(logs), 1 + trades))
    design[:, 0] = 1.0
    design[np.arange(len(logs)), 1 + trade] = 1.0
    precision += design.T @ (design / variance[:, None])
    weighted += design.T @ (logs / variance)
    covariance = np.linalg.inv(precision)
    return covariance @ weighted, covariance


def learned(log: Sequence[Logged], prior: Pace | None = None) -> Learned:
    """Update the pace from the log.

    Raises:
        OutOfRangeError: Hours or spreads that can't be.
    """
    prior = prior or Pace()
    for row in log:
        _check(row)
    usable = [row for row in log if row.actual_hours > 0]
    finished = sum(row.finished for row in usable)
    if not usable:
        return Learned(prior, 0, False, "Nothing is logged yet: the dates rest on the assumed pace alone.")
    names = sorted({row.trade for row in usable})
    trade = np.array([names.index(row.trade) for row in usable], np.int64)
    logs = np.array([math.log(row.actual_hours / row.estimate_hours) for row in usable])
    done = np.array([row.finished for row in usable])
    own = np.array([math.log(row.spread) for row in usable]) * prior.noise_scale
    own = np.maximum(own, 0.05)
    values, variance = logs.copy(), own**2
    shared_var, trade_var = max(prior.shared_sd, 1e-3) ** 2, max(prior.trade_sd_new, 1e-3) ** 2
    scale = 1.0
    mean = np.zeros(1 + len(names))
    covariance = np.eye(1 + len(names))
    for _ in range(8):
        mean, covariance = posterior(
            values, trade, variance, shared_mean=prior.shared, shared_var=shared_var, trade_var=trade_var,
            trades=len(names),
        )  # fmt: skip
        centre = mean[0] + mean[1 + trade]
        if finished >= FEWEST:
            # Inverse-gamma: the assumed scale counts as eight observations beside the residuals.
            fit = covariance[0, 0] + covariance[1 + trade, 1 + trade] + 2 * covariance[0, 1 + trade]
            residual = (((logs - centre) ** 2 + fit) / own**2)[done]
            scale = math.sqrt((8.0 + float(residual.sum())) / (8.0 + finished))
        spread = own * scale
        values, variance = logs.copy(), spread**2
        if not done.all():
            values, variance = _censored(logs, centre, spread, done)
    common = float(covariance[0, 0])
    loads = 1.0 + covariance[0, 1:] / common
    totals = common + 2.0 * covariance[0, 1:] + np.diag(covariance)[1:]
    # Given the shared pace the trades are independent, before the log and after it: one common draw, its
    # load on each trade, and an own draw a trade give the posterior exactly.
    own_sd = np.sqrt(np.maximum(0.0, totals - loads**2 * common))
    pace = replace(
        prior,
        shared=float(mean[0]),
        shared_sd=math.sqrt(common),
        trade=tuple((name, float(mean[1 + k])) for k, name in enumerate(names)),
        trade_sd=tuple((name, float(own_sd[k])) for k, name in enumerate(names)),
        trade_load=tuple((name, float(loads[k])) for k, name in enumerate(names)),
        noise_scale=prior.noise_scale * scale,
    )
    enough = finished >= FEWEST
    factor = math.exp(pace.shared)
    if enough:
        says = f"From {finished} finished tasks: {factor:.2f} times the estimated hours."
    else:
        says = f"Only {finished} finished tasks: too few to know; the dates rest mostly on the assumed pace."
    return Learned(pace, finished, enough, says)


def _check(row: Logged) -> None:
    if not (math.isfinite(row.estimate_hours) and row.estimate_hours > 0):
        raise OutOfRangeError("estimated hours", found=row.estimate_hours, allowed="more than 0")
    if not (math.isfinite(row.actual_hours) and row.actual_hours >= 0):
        raise OutOfRangeError("logged hours", found=row.actual_hours, allowed="0 or more")
    if not 1.0 <= row.spread <= 10.0:
        raise OutOfRangeError("spread", found=row.spread, allowed="1 to 10")


def _censored(
    logs: Floats, centre: Floats, own: Floats, done: npt.NDArray[np.bool_]
) -> tuple[Floats, Floats]:
    """Values and variances that give open tasks the same pull as their likelihood P(more than logged) has.

    A Laplace step: with h the hazard at a = (logged − centre)/own, the log-likelihood has slope h/own and
    curvature h(h − a)/own²; the pseudo-observation has that precision and that pull.
    """
    values, variance = logs.copy(), own**2
    for k in np.flatnonzero(~done):
        a = (logs[k] - centre[k]) / own[k]
        tail = 0.5 * math.erfc(a / math.sqrt(2.0))
        density = math.exp(-0.5 * a * a) / math.sqrt(2.0 * math.pi)
        hazard = density / tail if tail > 1e-12 else a + 1.0 / max(a, 1.0)
        curve = max(hazard * (hazard - a), 1e-6)
        variance[k] = own[k] ** 2 / curve
        values[k] = centre[k] + own[k] * hazard / curve
    return values, variance


def learned_weeks(worked: Sequence[bool], prior: Pace | None = None, *, stop_after: int = 5) -> Pace:
    """Learn idle weeks and long stops from whether each week of the past had work in it.

    A run of `stop_after` or more idle weeks is a long stop; shorter ones are idle weeks. Both chances are
    beta updates whose prior counts as `idle_known` weeks and as two years.
    """
    pace = prior or Pace()
    idle = weeks = stops = 0
    lengths: list[int] = []
    run = 0
    for here in [*worked, True]:
        if not here:
            run += 1
            continue
        if run >= stop_after:
            stops += 1
            lengths.append(run)
        else:
            idle += run
            weeks += run
        run = 0
        weeks += 1
    weeks -= 1
    known = pace.idle_known + weeks
    chance = (pace.idle_week * pace.idle_known + idle) / known
    stop = (pace.stop_week * 104.0 + stops) / (104.0 + weeks)
    stop_log = (2.0 * math.log(max(pace.stop_weeks, 0.1)) + sum(math.log(n) for n in lengths)) / (
        2.0 + len(lengths)
    )
    return replace(
        pace,
        idle_week=min(0.95, chance),
        idle_known=known,
        stop_week=min(0.2, stop),
        stop_weeks=math.exp(stop_log),
    )


def coverage(log: Sequence[Logged], prior: Pace | None = None, *, chance: float = 0.8) -> tuple[int, int]:
    """Replay the log: how many finished tasks stayed within the hours said beforehand, and of how many.

    Each task is foretold from those before it alone.
    """
    z = {0.5: 0.0, 0.8: 0.8416212335729143, 0.9: 1.2815515655446004}.get(chance)
    if z is None:
        raise OutOfRangeError("chance", found=chance, allowed="0.5, 0.8 or 0.9")
    kept = made = 0
    for k, row in enumerate(log):
        if not row.finished or row.actual_hours <= 0:
            continue
        pace = learned(log[:k], prior).pace
        shift = pace.shared + dict(pace.trade).get(row.trade, 0.0)
        own = math.log(row.spread) * pace.noise_scale
        trade_sd = dict(pace.trade_sd).get(row.trade, pace.trade_sd_new)
        load = dict(pace.trade_load).get(row.trade, 1.0)
        sd = math.sqrt((load * pace.shared_sd) ** 2 + trade_sd**2 + own**2)
        made += 1
        kept += math.log(row.actual_hours / row.estimate_hours) <= shift + z * sd
    return kept, made
