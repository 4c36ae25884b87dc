"""What the parts list says of the whole aeroplane: running weight and CG, forecast, and how sure each is.

Parts that were weighed also say how good the estimates are: the ratio of their weights to their estimates
is applied to the parts still to be weighed, with the scatter that was seen. Equations: docs/physics/massprops.md.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ENOUGH = 5
"""From so many parts both estimated and weighed, their ratio is applied to the rest."""

COMMON_SHARE = (
    0.05  # how far estimates may be off together before any was weighed: common practice, no source
)


@dataclass(frozen=True, slots=True)
class Mass:
    """A weight and its CG with the half-widths of their bands (95 in 100)."""

    weight_lb: float
    u_weight_lb: float
    cg_in: float
    u_cg_in: float

    @property
    def moment_lb_in(self) -> float:
        """Weight times CG."""
        return self.weight_lb * self.cg_in


@dataclass(frozen=True, slots=True)
class Estimate:
    """A parts list summed up.

    Attributes:
        running: what is in place now; ``None`` when nothing is.
        forecast: everything of the list.
        weighed_share: share of the forecast's weight that was on a scale.
        ratio: weighed over estimated, of the parts that have both; 1 with fewer than ``ENOUGH``.
        u_ratio: half-width of its band.
        compared: how many parts have both.
    """

    running: Mass | None
    forecast: Mass
    weighed_share: float
    ratio: float
    u_ratio: float
    compared: int


def estimated(
    estimated_lb: ArrayLike,
    weighed_lb: ArrayLike,
    *,
    arm_in: ArrayLike,
    u_arm_in: ArrayLike,
    u_weighed_lb: ArrayLike,
    u_share: ArrayLike,
    here: ArrayLike,
) -> Estimate:
    """Sum a parts list up.

    Args:
        estimated_lb, weighed_lb: one each a part, NaN where there is none; every part has one of them.
        arm_in, u_arm_in: arm and the half-width of its band.
        u_weighed_lb: half-width of the band of a weighed part.
        u_share: half-width of an estimate's own band, as a share of it.
        here: whether the part is in place already.
    """
    guess, scale = np.asarray(estimated_lb, float), np.asarray(weighed_lb, float)
    arm = np.asarray(arm_in, float)
    u_arm = np.broadcast_to(np.asarray(u_arm_in, float), arm.shape)
    on_scale = np.isfinite(scale)
    ratio, u_ratio, compared = _ratio(guess, scale)
    weight = np.where(on_scale, scale, ratio * np.nan_to_num(guess))
    own = np.where(on_scale, np.asarray(u_weighed_lb, float), np.asarray(u_share, float) * weight)
    common = np.where(on_scale, 0.0, u_ratio * np.nan_to_num(guess))
    place = np.asarray(here, bool)
    everything = np.ones_like(place)
    running = _mass(weight, own, common, arm, u_arm, place) if weight[place].sum() > 0 else None
    total = float(weight.sum())
    share = float(weight[on_scale].sum()) / total if total > 0 else 0.0
    return Estimate(
        running, _mass(weight, own, common, arm, u_arm, everything), share, ratio, u_ratio, compared
    )


def _ratio(guess: Floats, scale: Floats) -> tuple[float, float, int]:
    both = np.isfinite(guess) & np.isfinite(scale) & (np.nan_to_num(guess) > 0)
    n = int(both.sum())
    if n < ENOUGH:
        return 1.0, COMMON_SHARE, n
    e, a = guess[both], scale[both]
    ratio = float(a.sum() / e.sum())
    # ratio estimator: scatter of the residuals about it; two standard errors, n this small is widened by n - 1
    wide = 2.0 * float(np.sqrt(((a - ratio * e) ** 2).sum() * n / (n - 1)) / e.sum())
    return ratio, max(wide, 0.01), n


def _mass(weight: Floats, own: Floats, common: Floats, arm: Floats, u_arm: Floats, keep: Bools) -> Mass:
    w, o, c, a, ua = weight[keep], own[keep], common[keep], arm[keep], u_arm[keep]
    total = float(w.sum())
    cg = float((w * a).sum()) / total
    # what is off together adds up with its sign, what is off part by part adds in squares
    u_weight = float(np.hypot(np.sqrt((o**2).sum()), c.sum()))
    together = abs(float((c * (a - cg)).sum()))
    apart = float((((a - cg) * o) ** 2 + (w * ua) ** 2).sum())
    return Mass(total, u_weight, cg, float(np.hypot(np.sqrt(apart), together)) / total)
