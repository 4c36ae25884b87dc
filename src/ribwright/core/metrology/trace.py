"""The end of a sheet followed along a target: a band of known thickness, found as a whole.

Across the target, along its normals, the picture shows what lies outside, the sheet's end (a band as wide
as the sheet is thick) and what lies inside. One edge alone is easily mistaken for another: a shadow, the
skin seen beside its end, a line on the bench. So both edges are looked for together, at the distance the
sheet's thickness gives, and the whole arc is decided at once by the best path, not place by place. How
good the second-best path is, place by place, says how far the answer may be believed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.edge_fit import BOTH, STEP_MM, fit_shift, squares_left
from ribwright.core.metrology.farther_edge import CONTRAST, ROWS_TOGETHER, farther_edge
from ribwright.core.metrology.joined_skin import BELIEVED, MUCH_MORE, RATHER_BLURRED, TOO_BLURRED, clear_edge

Floats = NDArray[np.float64]

GAP_MM = 0.06  # left out each side of an edge: blur, bevel, burr
ONE_SIDED = 0.3  # lean beyond which skin is certainly seen on one side
POOR_FIT = 0.95  # share explained below which one clear edge is trusted more than both
NARROW = (
    0.5  # of the sheet's thickness: blurred more, its two edges run into each other and are fitted together
)
AROUND = 4  # rows either side that say together where the band is, before it is fitted there anew
NEAR_ENOUGH_MM = 0.05  # of the first fit from where it began: the blur found there holds
BOTH_SEEN = 0.06  # contrast of both edges from which a row shows a band, not one step
FLAT = 0.15  # contrast below which an edge with skin beside it is not used for the fine fit
NEAR_MM = 0.25  # nearer paths are the same edge: its place is the fine fit's business
SIDE_MM = 0.35  # how far beside an edge its surroundings are looked at
BEND_COST = 0.03  # of one state's change from row to row, squared
REACH_STATES = 2  # most change from row to row
CONTRAST_CAP = 0.45  # more contrast than this tells nothing more
LEAN_WEIGHT = 0.85  # of the edge that stands clear against the one beside which skin is seen
DOUBT_SCORE = 0.7  # so much better in score, one path is no longer doubted for another
CLEAR_MM, NOWHERE = 0.15, -3.0  # of another path from this one's band; what a place within it is worth
BAND_PRIOR = 0.5  # weight of "looks like the rest of the sheet's end"


@dataclass(frozen=True, slots=True)
class Strip:
    """What the picture shows across the target.

    Attributes:
        signal: shape (rows, samples), linear light, of the sign and colour in which the end stands out.
        luminance: the same shape, plain linear light.
        offset_mm: shape (samples,), along the outward normal, 0 on the target.
        sheet_mm: thickness of the sheet.
        inside: shape (rows, samples), False where a sample lies outside the picture.
        lean: shape (rows,), -1 to 1: how much skin is seen beside the end, + inside it, - outside it. Where
            skin is seen on one side only, the other edge stands clear against what lies behind.
        coloured: the signal is colour, which neither skin nor paper has: both edges stand clear.
        dark: the end is darker than its surroundings; the signal is the light's negative.
    """

    signal: Floats
    luminance: Floats
    offset_mm: Floats
    sheet_mm: float
    inside: NDArray[np.bool_]
    lean: Floats
    coloured: bool = False
    dark: bool = False


@dataclass(frozen=True, slots=True)
class Path:
    """The outer edge followed along all rows.

    Attributes:
        offset_mm: shape (rows,), outer edge along the outward normal, sub-sample.
        sigma_mm: shape (rows,), one-sigma scatter of that place from the fit's own residual.
        contrast: shape (rows,), of the edges, the clear one counting most (0: none, 1: full).
        doubt_mm: shape (rows,), how far another path that is nearly as good lies from this one.
        blur_mm: one sigma of the edge's blur.
        fit: shape (rows,), share of the local variation that the band explains, 0 to 1.
        rival: evidence along the best path that keeps clear of this one, over this one's.
        both: share of the rows in which both edges of the band are seen.
        farther: shape (rows,), where another edge, a thickness farther, may be the end's: not seen there.
    """

    offset_mm: Floats
    sigma_mm: Floats
    contrast: Floats
    doubt_mm: Floats
    blur_mm: float
    fit: Floats
    rival: float
    both: float
    farther: NDArray[np.bool_]


def follow(strip: Strip, *, low_mm: float, high_mm: float, blur_mm: float | None = None) -> Path:
    """Follow the sheet's end through all rows.

    Args:
        strip: what the picture shows; must reach beyond ``low_mm`` and ``high_mm`` by the sheet's
            thickness and ``SIDE_MM``.
        low_mm: smallest offset at which the outer edge is looked for.
        high_mm: largest.
        blur_mm: one sigma of the picture's blur as its printed edges show it, if known.
    """
    states = np.flatnonzero((strip.offset_mm >= low_mm) & (strip.offset_mm <= high_mm))
    outer, inner, band = _contrasts(strip, states)
    score = _score(outer, inner, strip.lean)
    path = best_path(score)[0]
    for _ in range(2):  # what the end looks like is learned from the path, and the path found again
        tone = _tone_along(band, outer, inner, path)
        likeness = np.exp(-0.5 * (np.log(np.maximum(band, 1e-4) / tone[:, None]) / 0.3) ** 2)
        full = score + BAND_PRIOR * likeness
        path, worth = best_path(full)
    rows = np.arange(len(path))
    flat_out = (strip.lean < -ONE_SIDED) & (outer[rows, path] < FLAT)
    flat_in = (strip.lean > ONE_SIDED) & (inner[rows, path] < FLAT)
    first = _refine(strip, states[path], flat_out, flat_in)
    again = _moved_to(first[0], strip)
    near = float(np.abs(again - states[path]).mean()) * STEP_MM < NEAR_ENOUGH_MM
    offset, sigma, blur, fit = _refine(strip, again, flat_out, flat_in, first[2] if near else None)
    doubt = _doubt(worth, path, strip.offset_mm[states])
    if blur_mm is not None and blur > RATHER_BLURRED * blur_mm and not strip.coloured:
        free, broad = _clear_of_skin(
            strip, offset, blur_mm, 1 - fit if blur <= TOO_BLURRED * blur_mm else None
        )
        doubt = np.maximum(doubt, 2 * BELIEVED * np.abs(free - offset))
        offset = np.where(broad, free, offset)
    farther = np.zeros(len(path), dtype=bool)
    if blur_mm is not None and strip.dark:
        farther = _on_another_edge(strip, strip.offset_mm[states], full, offset, blur_mm)
        doubt = np.where(farther, np.maximum(doubt, strip.sheet_mm), doubt)
    clear = 0.5 + 0.5 * strip.lean
    weaker = clear * outer[rows, path] + (1 - clear) * inner[rows, path]
    both = float((np.minimum(outer[rows, path], inner[rows, path]) > BOTH_SEEN).mean())
    rival = _rival(full, path, strip.sheet_mm)
    return Path(offset, sigma, weaker, doubt, blur, fit, rival, both, farther)


def _on_another_edge(
    strip: Strip, offset_mm: Floats, full: Floats, edge_mm: Floats, blur_mm: float
) -> NDArray[np.bool_]:
    """Where the light steps again a thickness farther, and the best path that may not lie here lies there."""
    t = strip.sheet_mm
    doubted = (
        farther_edge(strip.signal, strip.offset_mm, edge_mm, strip.lean, sheet_mm=t, blur_mm=blur_mm)
        > CONTRAST
    )
    if not doubted.any():
        return doubted
    out = np.sign(strip.lean)[:, None] * (offset_mm[None, :] - edge_mm[:, None])
    other = best_path(np.where(doubted[:, None] & (out < t - CLEAR_MM), NOWHERE, full))[0]
    there = doubted & (np.abs(out[np.arange(len(other)), other] - t) < t / 2)
    window = np.ones(2 * ROWS_TOGETHER + 1) / (2 * ROWS_TOGETHER + 1)
    return np.asarray(doubted & (np.convolve(there, window, mode="same") > 0.5))


def _window_means(
    values: Floats, states: NDArray[np.int64], spans: Mapping[str, tuple[float, float]]
) -> dict[str, Floats]:
    """Mean over each span of offsets (low, high), mm, from each of some states in a row, per row."""
    total = np.zeros((len(values), values.shape[1] + 1))
    np.cumsum(values, axis=1, out=total[:, 1:])
    means = {}
    for name, (low_mm, high_mm) in spans.items():
        first, last = round(low_mm / STEP_MM), round(high_mm / STEP_MM)
        a = np.clip(states + first, 0, values.shape[1] - 1)
        b = np.clip(states + last + 1, 1, values.shape[1])
        if (b - a == last + 1 - first).all():  # all within the strip: no picking of columns one by one
            means[name] = (total[:, b[0] : b[-1] + 1] - total[:, a[0] : a[-1] + 1]) / (last + 1 - first)
        else:
            means[name] = (total[:, b] - total[:, a]) / np.maximum(b - a, 1)
    return means


def _contrasts(strip: Strip, states: NDArray[np.int64]) -> tuple[Floats, Floats, Floats]:
    """Contrast of the outer and the inner edge, and the band's brightness, at each state."""
    t = strip.sheet_mm
    gap = min(GAP_MM, 0.2 * t)
    spans = {"out": (gap, gap + SIDE_MM), "band": (-t + gap, -gap), "in": (-t - gap - SIDE_MM, -t - gap)}
    light = _window_means(strip.luminance, states, spans)
    signal = light if strip.signal is strip.luminance else _window_means(strip.signal, states, spans)
    floor = 0.02 * float(np.percentile(strip.luminance, 98)) + 1e-4
    outer = (signal["band"] - signal["out"]) / (light["band"] + light["out"] + floor)
    inner = (signal["band"] - signal["in"]) / (light["band"] + light["in"] + floor)
    return outer, inner, light["band"]


def _score(outer: Floats, inner: Floats, lean: Floats) -> Floats:
    """Evidence for the band: the edge that stands clear counts most, the weaker one counts again."""
    a, b = np.clip(outer, -CONTRAST_CAP, CONTRAST_CAP), np.clip(inner, -CONTRAST_CAP, CONTRAST_CAP)
    tilt = LEAN_WEIGHT * lean[:, None]
    both = 2.0 * (1 - LEAN_WEIGHT * np.abs(lean[:, None]))
    return np.asarray((1 + tilt) * a + (1 - tilt) * b + both * np.minimum(a, b))


def best_path(score: Floats) -> tuple[NDArray[np.int64], Floats]:
    """Best sum of ``score`` (rows, states) with a cost on change from row to row.

    Returns:
        path (rows,), and for each row and state the worth of the best whole path through it.
    """
    from ribwright.core.metrology.paths_compiled import best_through

    worth = np.asarray(best_through(np.ascontiguousarray(score), REACH_STATES, BEND_COST))
    return worth.argmax(axis=1), worth


def _tone_along(band: Floats, outer: Floats, inner: Floats, path: NDArray[np.int64]) -> Floats:
    """Brightness of the sheet's end along the arc, from the places where the path is sure of it."""
    rows = np.arange(len(path))
    tone = np.maximum(band[rows, path], 1e-4)
    sure = np.minimum(outer[rows, path], inner[rows, path])
    weight = np.clip(sure, 0.02, 0.4) ** 2
    log_tone, half = np.log(tone), 25
    padded, weights = np.pad(log_tone, half, mode="edge"), np.pad(weight, half)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    heavy = np.lib.stride_tricks.sliding_window_view(weights, 2 * half + 1)
    order = np.argsort(around, axis=1)
    total = np.cumsum(np.take_along_axis(heavy, order, axis=1), axis=1)
    middle = (total < total[:, -1:] / 2).sum(axis=1)
    at = order[rows, np.minimum(middle, 2 * half)]
    return np.exp(around[rows, at])


def _doubt(worth: Floats, path: NDArray[np.int64], offset_mm: Floats) -> Floats:
    """Distance to the farthest other path that is nearly as good, per row, mm.

    ``worth`` differs between two whole paths by what the rows where they part say; less than about one
    clear row's evidence is no evidence.
    """
    rows = np.arange(len(path))
    lost = ((worth - worth[rows, path][:, None]) / DOUBT_SCORE).astype(np.float32)
    away = np.abs(offset_mm[None, :] - offset_mm[path][:, None]).astype(np.float32)
    away[away <= NEAR_MM] = 0.0
    return np.asarray((away * np.exp(lost)).max(axis=1), dtype=np.float64)


def _rival(score: Floats, path: NDArray[np.int64], sheet_mm: float) -> float:
    """Evidence a row along the best path that nowhere touches this band, over this path's.

    A line all along the sheet's end (a second sheet, a tape's edge) is no doubt at any one place, where going
    over to it and back costs more than it brings; it is one for the whole.
    """
    rows = np.arange(len(path))
    away = np.abs(np.arange(score.shape[1])[None, :] - path[:, None]) * STEP_MM
    other = np.where(away < sheet_mm + CLEAR_MM, NOWHERE, score)
    second = best_path(other)[0]
    return float(other[rows, second].mean() / max(score[rows, path].mean(), 1e-6))


def _moved_to(offset_mm: Floats, strip: Strip) -> NDArray[np.int64]:
    """Sample nearest to where the rows around found the outer edge: a first fit can't reach far from where it began."""
    padded = np.pad(offset_mm, AROUND, mode="edge")
    found = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * AROUND + 1), axis=1)
    at = np.round((found - strip.offset_mm[0]) / STEP_MM).astype(np.int64)
    return np.asarray(np.clip(at, 0, strip.signal.shape[1] - 1))


def _clear_of_skin(
    strip: Strip, offset_mm: Floats, blur_mm: float, left: Floats | None
) -> tuple[Floats, NDArray[np.bool_]]:
    """Outer edge where skin of the end's tone broadens its band, and where it does; elsewhere as it was.

    With ``left``, the share of the light that the narrow band leaves unsaid, only where the broad one leaves far less.
    """
    place, broad = offset_mm.copy(), np.zeros(len(offset_mm), dtype=bool)
    for inside, who in ((True, strip.lean > ONE_SIDED), (False, strip.lean < -ONE_SIDED)):
        if not who.any():
            continue
        for _ in range(2):  # the first time from where the narrow band lay
            at = _moved_to(place, strip)[who]
            place[who], broad[who], still_left = clear_edge(
                strip.signal[who],
                strip.offset_mm,
                at,
                sheet_mm=strip.sheet_mm,
                blur_mm=blur_mm,
                skin_inside=inside,
            )
        if left is not None:
            broad[who] &= np.median(left[who]) > MUCH_MORE * np.median(still_left)
    return place, broad


def _refine(
    strip: Strip,
    at: NDArray[np.int64],
    flat_out: NDArray[np.bool_],
    flat_in: NDArray[np.bool_],
    blur_mm: float | None = None,
) -> tuple[Floats, Floats, float, Floats]:
    """Sub-sample place of the outer edge: levels joined by blurred edges a thickness apart.

    Where skin of the same brightness lies beside the end, only the other edge is fitted, unless blur joins the two.
    """
    t = strip.sheet_mm
    reach = round((SIDE_MM + 0.15) / STEP_MM)
    left, right = round(t / STEP_MM) + reach, reach
    x: Floats = np.asarray(np.arange(-left, right + 1) * STEP_MM, dtype=np.float64)
    columns = np.clip(at[:, None] + np.arange(-left, right + 1), 0, strip.signal.shape[1] - 1)
    data = np.take_along_axis(strip.signal, columns, axis=1)
    kinds = (~flat_out & ~flat_in, flat_in, flat_out)
    chosen = blur_mm or _blur_of(
        data, x, t, kinds[0] if kinds[0].sum() > 20 else np.ones(len(data), dtype=bool)
    )
    if strip.coloured or chosen > NARROW * t:
        kinds = (
            np.ones(len(data), dtype=bool),
            np.zeros(len(data), dtype=bool),
            np.zeros(len(data), dtype=bool),
        )
    spans = (np.ones(len(x), dtype=bool), x > -t + min(0.1, 0.2 * t), x < -min(0.1, 0.2 * t))
    result = [np.empty(len(data)) for _ in range(3)]
    for kind, (who, span) in enumerate(zip(kinds, spans, strict=True)):
        if not who.any():
            continue
        found = fit_shift(data[who][:, span], x[span], t, chosen, kind)
        for whole, part in zip(result, found, strict=True):
            whole[who] = part
    # skin seen as a narrow stripe beside the end spoils the three levels: fall back on the clear edge
    # (only where the band is wide against the blur, so that one edge stands alone)
    poor = kinds[0] & (result[2] < POOR_FIT) & (chosen <= 0.3 * t) & (not strip.coloured)
    for kind, who in ((1, poor & (strip.lean > ONE_SIDED)), (2, poor & (strip.lean < -ONE_SIDED))):
        if who.any():
            found = fit_shift(data[who][:, spans[kind]], x[spans[kind]], t, chosen, kind)
            for whole, part in zip(result, found, strict=True):
                whole[who] = part
    return strip.offset_mm[at] + result[0], result[1], chosen, result[2]


def _blur_of(data: Floats, x: Floats, t: float, who: NDArray[np.bool_]) -> float:
    """The blur that suits most rows."""
    some = data[who][:: max(1, int(who.sum()) // 60)]
    total = ((some - some.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    worth = [
        float(np.median(squares_left(some, x, t, blur, BOTH).min(axis=1) / np.maximum(total, 1e-12)))
        for blur in BLURS_MM
    ]
    return BLURS_MM[int(np.argmin(worth))]


BLURS_MM = (0.06, 0.10, 0.15, 0.22, 0.32, 0.42, 0.55)
