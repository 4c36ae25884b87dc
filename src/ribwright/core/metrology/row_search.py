"""Where the row is, and where the sheet ends: found as a whole, from a rectified picture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Single = NDArray[np.float32]

SLOPE_MAX = 0.06  # of the row against the strip
EDGE_MIN = 0.56  # of the row's length along which the sheet's edge must be seen
RUN = 8  # cells along the edge that are averaged
CLEARLY = 0.35  # more of the row's length than the line that looks best
ROW_MIN, WEAKEST_MIN, RIVAL_MAX = 2.2, 1.5, 0.72
WEAKEST_CLEAR = 5.0  # from here on a head is one, however much clearer its neighbours are

GOES_ON = (
    "The row goes on beyond the number typed: type the number that is beside the strip, or cover the rest."
)


@dataclass(frozen=True, slots=True)
class Row:
    """Heads found, in cells of the rectified picture; ``reason`` says why the row is not to be trusted.

    Attributes:
        worth: mean evidence of the heads over the picture's own level.
        weakest: evidence of the weakest head.
        rival: evidence just off either end over the heads' median: near 1 means the row goes on.
        ring_mm: radius of thin rings, 0 for formed heads.
        ends: places, (n, 2), one pitch beyond either end with evidence enough for a head.
    """

    x: Floats
    y: Floats
    worth: float
    weakest: float
    rival: float
    ring_mm: float
    reason: str
    ends: Floats = field(default_factory=lambda: np.empty((0, 2)))


@dataclass(frozen=True, slots=True)
class Edge:
    """The sheet's edge as a line y = offset + slope x in cells."""

    offset: float
    slope: float
    coverage: float
    sigma_mm: float
    found: bool


def find_row(
    patch: Single,
    seen: NDArray[np.bool_],
    *,
    cell_mm: float,
    count: int,
    pitch_mm: float,
    low_mm: float,
    high_mm: float,
    thin: bool,
    alike: bool = False,
) -> Row:
    """Find ``count`` round things at ``pitch_mm`` in a straight row.

    Args:
        patch: linear light, row 0 next to the strip.
        seen: where the picture shows it.
        cell_mm: size of a cell.
        count: how many heads there must be.
        pitch_mm: nominal distance between them; 4 % either way is allowed.
        low_mm: smallest radius.
        high_mm: largest radius.
        thin: True for flush heads, seen as thin dark rings all of one size.
        alike: True for holes: either all are darker than what lies round them, or all are brighter.
    """
    import cv2

    ring_at = np.zeros_like(patch)
    if thin:
        votes, ring_at = _ring_votes(patch, seen, cell_mm, low_mm, high_mm)
        fields = [votes]
    else:
        either = ((1.0,), (-1.0,)) if alike else ((1.0, -1.0),)
        fields = _round_votes(patch, seen, cell_mm, low_mm, high_mm, either)
    near = max(1, round(0.3 / cell_mm))
    kernel = np.ones((2 * near + 1, 2 * near + 1), np.uint8)
    width = patch.shape[1]
    pitch = pitch_mm / cell_mm
    found = []
    for votes in fields:
        best_near = np.asarray(cv2.dilate(votes, kernel))
        found.append((_best_comb(best_near, pitch, count, round(low_mm / cell_mm)), votes, best_near))
    best, votes, best_near = max(found, key=lambda one: one[0][0])
    if not np.isfinite(best[0]):
        return Row(
            np.empty(0),
            np.empty(0),
            0,
            0,
            0,
            0,
            "The row typed is longer than the strip: measure it in parts.",
        )
    _, x0, y0, slope, p = best
    k: Floats = np.arange(count, dtype=np.float64)
    x, y = _tops(votes, np.asarray(x0 + p * k), np.asarray(y0 + slope * p * k), round(0.45 / cell_mm))
    value = _at(best_near, x, y)
    ring_mm = float(np.median(_at(ring_at, x, y)))
    if count > 2:
        slope, y0 = np.polyfit(x, y, 1)
        p, x0 = np.polyfit(k, x, 1)
    ends_x = np.array([x0 - p, x0 + p * count])
    inside = (ends_x > low_mm / cell_mm) & (ends_x < width - low_mm / cell_mm)
    ends = _at(best_near, ends_x, slope * ends_x + y0 if count > 2 else y0 + slope * (ends_x - x0))
    rival = float((ends * inside).max() / max(float(np.median(value)), 1e-9))
    worth, weakest = float(value.mean()), float(value.min())
    reason = ""
    if (
        worth < ROW_MIN
        or weakest < WEAKEST_MIN
        or weakest < min(0.3 * float(np.median(value)), WEAKEST_CLEAR)
    ):
        reason = (
            f"No row of {count} heads at {pitch_mm:g} mm was found beside the strip: check count and pitch, show "
            "the whole row, soft light."
        )
    elif rival > RIVAL_MAX:
        reason = GOES_ON
    ends_y = slope * ends_x + y0 if count > 2 else y0 + slope * (ends_x - x0)
    ends_x, ends_y = _tops(votes, ends_x, ends_y, round(0.12 * p))
    at = inside & (_at(best_near, ends_x, ends_y) > WEAKEST_MIN)
    return Row(x, y, worth, weakest, rival, ring_mm, reason, np.column_stack([ends_x, ends_y])[at])


RING_UNIT = 0.22  # of the clipped line signal's mean over a ring
EVERY = 3  # cells: the comb is tried at every third place


def _best_comb(field: Single, pitch: float, count: int, rim: int) -> tuple[float, float, float, float, float]:
    """Worth, x, y, slope and pitch (cells) of the straight row of places with the most evidence."""
    from ribwright.core.metrology.row_compiled import likeliest

    small = np.minimum(field[::EVERY, ::EVERY], np.float32(6.0))
    height, width = small.shape
    drop = int(SLOPE_MAX * pitch * 1.04 * (count - 1) / EVERY) + 2
    padded = np.pad(small, ((drop, drop), (0, 0)))
    most = padded.max(axis=1)
    best = (-np.inf, 0.0, 0.0, 0.0, pitch)
    top, bottom = rim // EVERY, height - rim // EVERY
    k = np.arange(count)
    for p in pitch * np.linspace(0.96, 1.04, 9):
        columns = np.rint(p * k / EVERY).astype(np.int64)
        span = width - int(columns[-1]) - 1
        if span < 1 or bottom <= top:
            continue
        for slope in np.linspace(-SLOPE_MAX, SLOPE_MAX, 17):
            rows = top + drop + np.rint(slope * p * k / EVERY).astype(np.int64)
            worth, i, j = likeliest(padded, most, rows, columns, bottom - top, span, best[0])
            if worth > best[0]:
                best = (worth, float(j * EVERY), float((top + i) * EVERY), float(slope), float(p))
    return best


def _ring_votes(
    patch: Single, seen: NDArray[np.bool_], cell_mm: float, low_mm: float, high_mm: float
) -> tuple[Single, Single]:
    """Evidence for a thin dark ring centred on each cell, and the radius (mm) that gathers most of it there.

    The evidence is the mean over the ring of a clipped line signal: a whole faint ring counts more than a
    piece of a strong line.
    """
    import cv2

    log_light = np.log(np.maximum(patch, np.float32(4e-3)))
    log_light = cv2.resize(log_light, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    line = cv2.GaussianBlur(log_light, (0, 0), 1.6) - cv2.GaussianBlur(log_light, (0, 0), 0.5)
    inner = cv2.resize(cv2.erode(seen.astype(np.uint8), np.ones((9, 9), np.uint8)), line.shape[::-1])
    if not inner.any():
        return np.zeros_like(patch), np.full_like(patch, low_mm)
    spread = 1.4826 * float(np.median(np.abs(line[inner > 0]))) + 1e-6
    line = np.clip(line / spread, -1.0, 1.5) * inner
    cell = 2 * cell_mm
    best = np.full(line.shape, -1.0, np.float32)
    radius_at = np.full(line.shape, np.float32(low_mm))
    # the rings' sums by their spectra, that of the lines once for all
    height, width = line.shape
    most = 2 * (int(np.ceil((high_mm + cell) / cell)) + 2)
    room = (cv2.getOptimalDFTSize(height + most), cv2.getOptimalDFTSize(width + most))
    spectrum = cv2.dft(cv2.copyMakeBorder(line, 0, room[0] - height, 0, room[1] - width, cv2.BORDER_CONSTANT))
    for radius in np.arange(low_mm, high_mm + 0.01, 0.75 * cell):
        half = int(np.ceil(radius / cell)) + 2
        y, x = np.mgrid[-half : half + 1, -half : half + 1] * cell
        ring = np.exp(-0.5 * ((np.hypot(x, y) - radius) / (0.5 * cell)) ** 2)
        alone = np.zeros(room, np.float32)
        alone[: len(x), : len(x)] = ring / ring.sum()
        product = cv2.mulSpectrums(spectrum, cv2.dft(alone), 0)
        found = cv2.idft(product, flags=cv2.DFT_SCALE)[half : half + height, half : half + width]
        better = found > best
        np.copyto(best, found, where=better)
        np.copyto(radius_at, np.float32(radius), where=better)
    size = patch.shape[::-1]
    full = cv2.resize(np.maximum(best, 0), size, interpolation=cv2.INTER_LINEAR)
    radii = cv2.resize(radius_at, size, interpolation=cv2.INTER_NEAREST)
    return np.asarray(full / np.float32(RING_UNIT)), np.asarray(radii)


def _round_votes(
    patch: Single,
    seen: NDArray[np.bool_],
    cell_mm: float,
    low_mm: float,
    high_mm: float,
    either: tuple[tuple[float, ...], ...],
) -> list[Single]:
    """Evidence for a round thing centred on each cell, in units of the picture's own robust spread.

    Each cell with a clear gradient votes for the places at all allowed radii along it, up (1), down (-1) or
    both ways; a round edge gathers its votes at one place. One field for each of the signs in ``either``.
    """
    import cv2

    from ribwright.core.metrology.row_compiled import gathered

    log_light = np.log(np.maximum(patch, np.float32(4e-3)))
    log_light = cv2.resize(log_light, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    log_light = cv2.GaussianBlur(log_light, (0, 0), 0.8)
    gx = cv2.Sobel(log_light, cv2.CV_32F, 1, 0, ksize=3)
    gy = cv2.Sobel(log_light, cv2.CV_32F, 0, 1, ksize=3)
    size = np.hypot(gx, gy)
    height, width = size.shape
    inner = cv2.resize(cv2.erode(seen.astype(np.uint8), np.ones((9, 9), np.uint8)), (width, height)) > 0
    size = np.where(inner, size, np.float32(0.0))
    some = inner[::2, ::2]  # what is not shown has no say in what is usual
    if not some.any():
        return [np.zeros_like(patch) for _ in either]
    usual, strong = np.quantile(size[::2, ::2][some], (0.5, 0.84)).tolist()
    floor = 1.5 * usual + 1e-6
    rows, columns = np.nonzero(size > max(floor, strong))
    g = size[rows, columns]
    ux, uy = gx[rows, columns] / g, gy[rows, columns] / g
    weight = np.minimum(g / floor, 3.0)
    cell = 2 * cell_mm
    radii = np.arange(low_mm, high_mm + 0.05, 0.7 * cell) / cell
    fields = []
    for signs in either:
        reach = np.outer(radii, np.array(signs)).ravel()
        votes = gathered(rows, columns, ux, uy, weight, reach, height, width)
        field = cv2.GaussianBlur(votes.astype(np.float32), (0, 0), 1.0)
        wide = int(4.0 * high_mm / cell) | 1
        field = np.maximum(field - cv2.blur(field, (wide, wide)), 0.0)
        spread = float(np.quantile(field[::2, ::2][some], 0.90)) + 1e-9
        fields.append(
            cv2.resize(field, patch.shape[::-1], interpolation=cv2.INTER_LINEAR) / np.float32(spread)
        )
    return fields


def _tops(votes: Single, x: Floats, y: Floats, reach: int) -> tuple[Floats, Floats]:
    """The highest place near each given place."""
    height, width = votes.shape
    out_x, out_y = x.copy(), y.copy()
    for k in range(len(x)):
        i, j = round(float(y[k])), round(float(x[k]))
        a, c = max(0, i - reach), max(0, j - reach)
        part = votes[a : min(height, i + reach + 1), c : min(width, j + reach + 1)]
        if part.size:
            m, n = np.unravel_index(int(part.argmax()), part.shape)
            out_y[k], out_x[k] = a + m, c + n
    return out_x, out_y


def _at(field: Single, x: Floats, y: Floats) -> Floats:
    height, width = field.shape
    i = np.clip(np.round(y).astype(np.int64), 0, height - 1)
    j = np.clip(np.round(x).astype(np.int64), 0, width - 1)
    return np.asarray(field[i, j], dtype=np.float64)


def find_edge(
    patch: Single, seen: NDArray[np.bool_], row: Row, *, cell_mm: float, clear_mm: float, shank_mm: float
) -> Edge:
    """The sheet's edge beyond the row: a line along which the picture changes, with calm sheet before it.

    Args:
        patch: linear light on the sheet's plane, row 0 next to the strip.
        seen: where the picture shows it.
        row: the heads.
        cell_mm: size of a cell.
        clear_mm: distance from the heads' centres within which an edge can't be told from a rim.
        shank_mm: rivet diameter.
    """
    from ribwright.core.metrology.row_compiled import mean_along

    height, width = patch.shape
    slope0, y0 = np.polyfit(row.x, row.y, 1) if len(row.x) > 2 else (0.0, float(row.y.mean()))
    columns = np.arange(max(0, int(row.x[0]) - 60), min(width, int(row.x[-1]) + 61), 3)
    base = y0 + slope0 * columns
    first, last = round(clear_mm / cell_mm), round(max(7.0 * shank_mm, 16.0) / cell_mm)
    steps = np.arange(first, last)
    at = base[:, None] + steps[None, :]
    ok = at < height - 3
    i = np.clip(np.round(at).astype(np.int64), 2, height - 4)
    shown_from = int(i.min()) - 1
    light = patch[shown_from : int(i.max()) + 2]

    def slope_of(light: Single) -> Single:
        mean = np.ascontiguousarray(_run_means(light)[:, columns].T)
        smooth = (mean[:, :-2] + mean[:, 1:-1] + mean[:, 2:]) / 3
        profile = np.take_along_axis(smooth, i - shown_from - 1, axis=1)
        gap = 3
        out = np.zeros_like(profile)
        out[:, gap:-gap] = profile[:, 2 * gap :] - profile[:, : -2 * gap]
        return np.where(ok, out, np.float32(0.0))

    slope = slope_of(np.log(np.maximum(light, np.float32(4e-3))))
    strong = np.abs(slope)
    unit = max(3.0 * float(np.median(strong)), 0.12)
    score = np.clip(strong / unit, 0, 1)
    # lines by offset and slope against the row
    tilts = np.linspace(-0.06, 0.06, 49)
    x = columns - columns.mean()
    some = score[::3]
    reach = int(np.abs(tilts).max() * np.abs(x).max()) + 2
    padded = np.pad(some, ((0, 0), (reach, reach)))
    starts = reach + np.round(tilts[:, None] * x[::3]).astype(np.int64)
    worth = mean_along(padded, starts, len(steps))
    top = worth.max(axis=0)
    # between the heads and the edge there is nothing but sheet: what is busy before a line speaks against it
    busy = np.maximum.accumulate(score, axis=1).mean(axis=0)
    before = np.concatenate([np.zeros(6), busy[:-6]])
    merit = top - 0.7 * np.maximum(before - before[:10].min(), 0.0)
    k = int(merit.argmax())
    if top.max() > top[k] + CLEARLY:  # a line all along the row is the edge, however busy the sheet before it
        k = int(np.flatnonzero(top >= 0.95 * top.max())[0])
        k += int(top[k : k + 6].argmax())
    if top[k] < EDGE_MIN:
        return Edge(0.0, 0.0, float(top[k]), 0.0, False)
    tilt = tilts[int(worth[:, k].argmax())]
    line_k = k + tilt * x
    # blur moves the middle of a step of the logarithm towards the darker side: the place is that of the light's own
    found, place = _edge_places(slope_of(light), line_k)
    if found.sum() < 8:
        return Edge(0.0, 0.0, float(top[k]), 0.0, False)
    y = base[found] + first + place[found]
    fit, sigma = _robust_line(columns[found].astype(np.float64), y)
    return Edge(fit[1], fit[0], float(top[k]), sigma * cell_mm, True)


def _run_means(light: Single) -> Single:
    """Mean over ``RUN`` cells of each row about every cell, as far as there are: grain and dust go, a line stays."""
    import cv2

    before = RUN // 2 - 1
    total = cv2.boxFilter(
        light, -1, (RUN, 1), anchor=(before, 0), normalize=False, borderType=cv2.BORDER_CONSTANT
    )
    at = np.arange(light.shape[1])
    count = 1 + np.minimum(at, before) + np.minimum(at[::-1], RUN // 2)
    return np.asarray(total / count.astype(np.float32), dtype=np.float32)


def _edge_places(slope: Single, line: Floats) -> tuple[NDArray[np.bool_], Floats]:
    """Sub-cell place of the strongest change within four cells of the line, per column."""
    strong = np.abs(slope)
    rows = np.arange(len(strong))
    offsets = np.arange(-4, 5)
    index = np.clip(np.round(line).astype(np.int64)[:, None] + offsets, 1, strong.shape[1] - 2)
    value = np.take_along_axis(strong, index, axis=1)
    k = index[rows, value.argmax(axis=1)]
    a, b, c = strong[rows, k - 1], strong[rows, k], strong[rows, k + 1]
    bend = np.minimum(a - 2 * b + c, -1e-9)
    place = k + np.clip(0.5 * (a - c) / bend, -1, 1)
    return b > 0.4 * float(np.median(b)), np.asarray(place)


def _robust_line(x: Floats, y: Floats) -> tuple[Floats, float]:
    weight = np.ones(len(x))
    fit = np.zeros(2)
    scatter = 1.0
    for _ in range(8):
        fit = np.polyfit(x, y, 1, w=np.sqrt(weight) + 1e-6)
        miss = y - np.polyval(fit, x)
        scatter = max(1.4826 * float(np.median(np.abs(miss))), 0.05)
        weight = np.clip(1 - (miss / (4.5 * scatter)) ** 2, 0, 1) ** 2
    return fit, float(scatter / np.sqrt(max(weight.sum() / 4, 1.0)))
