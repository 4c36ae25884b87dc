"""All seams of an aeroplane at once: chosen, laid out and checked as columns of numbers.

What :mod:`~ribwright.core.fastening.seam` writes out step by step for one seam, this does for thousands in
one pass; a property test holds the two against each other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ribwright.core.bench import verdict_codes
from ribwright.core.fastening.length import head_diameter_in, rivet_length_in
from ribwright.core.fastening.rivets import SIZES, Rivet, read_part_number
from ribwright.core.fastening.spacing import least_edge_distance_in, least_pitch_in
from ribwright.core.tables import table

if TYPE_CHECKING:
    from ribwright.core.fastening.seam_spec import Seam

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CHECKS = {
    "E": "edge distance",
    "N": "distance to the part's end",
    "P": "pitch",
    "H": "head that the length makes",
}
"""Letters of the seam map; a hole bears the one with the least margin for its limit."""

REFUSALS = (
    "",
    "the last hole does not lie beyond the first",
    "more than 2,001 holes in a row",
    "thicker than the largest rivet known here",
    "the rivet can't form a head in this stack",
    "a hole cuts an edge or an end",
    "neighbouring holes overlap",
)
MOST_LAYERS = 6
MOST_SPACES = 2000


@dataclass(frozen=True, slots=True)
class SeamColumns:
    """Seams as columns, one entry a seam; ``nan`` where the drawing is silent, 0 thickness where there is no layer.

    Shapes: ``thickness_in`` and ``edge_in`` (n, layers), all others (n,). ``size_32`` 0 means work it out;
    ``length_in`` nan likewise.
    """

    thickness_in: Floats
    edge_in: Floats
    flush: NDArray[np.bool_]
    size_32: Ints
    length_in: Floats
    first_in: Floats
    last_in: Floats
    pitch_in: Floats
    part_length_in: Floats


@dataclass(frozen=True, slots=True)
class SeamChecks:
    """What the seams came to.

    By seam: ``size_32``, ``length_32`` (length in 1/32 in), ``grip_in``, ``holes``, ``pitch_in``, ``refused``
    (index into :data:`REFUSALS`, 0 when it can be made), ``verdict`` (0 within limits … 3 refer).
    By hole, seams one after the other, ``start`` their first index (n + 1): ``position_in``, ``letter``
    (index into the keys of :data:`CHECKS`), ``margin`` (of the limit: .25 is a quarter more than needed).
    """

    size_32: Ints
    length_32: Ints
    grip_in: Floats
    holes: Ints
    pitch_in: Floats
    refused: NDArray[np.int8]
    verdict: NDArray[np.int8]
    start: Ints
    position_in: Floats
    letter: NDArray[np.int8]
    margin: NDArray[np.float32]

    def letters(self, seam: int = 0) -> tuple[str, ...]:
        """Letters of one seam's holes."""
        keys = tuple(CHECKS)
        return tuple(keys[k] for k in self.letter[self.start[seam] : self.start[seam + 1]])


def columns_of(seams: Sequence[Seam], *, rivets: Sequence[Rivet] = ()) -> SeamColumns:
    """Columns from seams as entered; ``rivets`` are taken as called out where they are given."""
    n, nan = len(seams), float("nan")
    thickness, edge = np.zeros((n, MOST_LAYERS)), np.full((n, MOST_LAYERS), nan)
    size, length = np.zeros(n, np.int64), np.full(n, nan)
    first, last, pitch, part = (np.full(n, nan) for _ in range(4))
    flush = np.zeros(n, bool)
    widest = max((len(s.layers) for s in seams), default=0)
    if widest > MOST_LAYERS:
        thickness, edge = np.zeros((n, widest)), np.full((n, widest), nan)
    for i, seam in enumerate(seams):
        for k, layer in enumerate(seam.layers):
            thickness[i, k] = layer.thickness.value
            if layer.edge_distance is not None:
                edge[i, k] = layer.edge_distance.value
        made = rivets[i] if rivets else read_part_number(seam.rivet) if seam.rivet else None
        if made is not None:
            size[i], length[i] = made.diameter_32, made.length_in
        elif seam.size is not None:
            size[i] = int(Fraction(seam.size) * 32)
        flush[i] = seam.head.startswith("flush")
        first[i], last[i] = seam.first.value, seam.last.value
        if seam.pitch is not None:
            pitch[i] = seam.pitch.value
        if seam.part_length is not None:
            part[i] = seam.part_length.value
    return SeamColumns(thickness, edge, flush, size, length, first, last, pitch, part)


@dataclass(frozen=True, slots=True)
class _Rules:
    """Table values as small arrays, indexed by size or by head; read once a call."""

    sizes_in: Floats
    hole_in: Floats
    step_in: Floats
    extra: float
    edge_ratio: Floats
    pitch_ratio: float
    head_ratio: float


def _rules() -> _Rules:
    lengths, edges = table("rivets/length"), table("rivets/edge-distance")
    steps = [
        lengths.cell("half size" if s in ("3/32", "1/8") else "standard head", "step").canonical
        for s in SIZES
    ]
    return _Rules(
        np.array([float(Fraction(s)) for s in SIZES]),
        np.array([table("rivets/nominal-hole").cell(s, "diameter").canonical for s in SIZES]),
        np.array(steps),
        lengths.cell("standard head", "extra").value,
        np.array([edges.cell("protruding", "least").value, edges.cell("flush", "least").value]),
        table("rivets/pitch").cell("single row", "least").value,
        table("rivets/formed-head-criteria").cell("default", "least diameter").value,
    )


def check_seams(columns: SeamColumns) -> SeamChecks:
    """Choose, lay out and check every seam; refused ones get no holes.

    Cost is linear in the number of holes; nothing is done hole by hole in Python.
    """
    from ribwright.core.fastening.row import USUAL_PITCH_D

    rules = _rules()
    c = columns
    n = len(c.first_in)
    grip = c.thickness_in.sum(1)
    real = np.where(c.thickness_in > 0, c.thickness_in, np.inf)
    thinnest, thickest = real.min(1), c.thickness_in.max(1)
    wanted = np.maximum(np.maximum(3 * thinnest, thickest), rules.sizes_in[0])
    off = np.abs(rules.sizes_in[None, :] - wanted[:, None])
    off[rules.sizes_in[None, :] < thickest[:, None] - 1e-9] = np.inf
    chosen = np.where(np.isfinite(off).any(1), off.argmin(1), -1)
    by_32 = np.rint(rules.sizes_in * 32).astype(np.int64)
    called = np.searchsorted(by_32, c.size_32)
    index = np.where(c.size_32 > 0, np.minimum(called, len(by_32) - 1), chosen)
    too_thick = index < 0
    index = np.maximum(index, 0)
    d, hole, step = rules.sizes_in[index], rules.hole_in[index], rules.step_in[index]

    worked = rivet_length_in(grip_in=grip, extra_ratio=rules.extra, diameter_in=d)
    worked = np.ceil(np.round(worked / step, 6)) * step
    length = np.where(np.isnan(c.length_in), worked, c.length_in)
    proud = length - grip

    run = c.last_in - c.first_in
    pitch_asked = np.where(np.isnan(c.pitch_in), USUAL_PITCH_D * d, c.pitch_in)
    with np.errstate(invalid="ignore", divide="ignore"):
        spaces = np.maximum(1.0, np.ceil(run / pitch_asked - 0.001 / pitch_asked))
    spaces = np.nan_to_num(spaces, nan=1.0, posinf=1e9)
    with np.errstate(invalid="ignore", divide="ignore"):
        pitch = run / spaces
    tail = c.part_length_in - c.last_in
    edge = np.nanmin(np.where(np.isnan(c.edge_in), np.inf, c.edge_in), axis=1, initial=np.inf)
    end = np.minimum(np.where(np.isnan(tail), np.inf, c.first_in), np.where(np.isnan(tail), np.inf, tail))
    refused = np.select(
        [
            ~(run > 0), spaces > MOST_SPACES, too_thick, proud <= 0.2 * d, (edge <= hole / 2) | (end <= hole / 2), pitch <= hole,
        ],
        [1, 2, 3, 4, 5, 6], 0,
    ).astype(np.int8)  # fmt: skip

    least_edge = least_edge_distance_in(edge_ratio=rules.edge_ratio[c.flush.astype(int)], diameter_in=d)
    least_pitch = least_pitch_in(pitch_ratio=rules.pitch_ratio, diameter_in=d)
    head = head_diameter_in(
        proud_in=np.maximum(proud, 0.0), diameter_in=d, hole_in=hole, grip_in=grip, head_height_in=0.5 * d
    )
    worst = np.zeros(n, np.int8)
    for value, least in ((edge, least_edge), (end, least_edge), (pitch, least_pitch)):
        code = verdict_codes(
            value=np.minimum(value, 1e9), low=least, high=np.inf, refer_low=least, refer_high=np.inf
        )
        worst = np.maximum(worst, code)

    count = np.where(refused == 0, spaces.astype(np.int64) + 1, 0)
    start = np.concatenate([[0], np.cumsum(count)])
    seam = np.repeat(np.arange(n), count)
    number = np.arange(start[-1]) - start[seam]
    position = c.first_in[seam] + pitch[seam] * number
    margins = np.empty((4, start[-1]), np.float32)
    margins[0] = (edge / least_edge - 1)[seam]
    to_end = np.minimum(position, (c.part_length_in[seam] - position))
    margins[1] = np.where(np.isnan(to_end), np.inf, to_end / least_edge[seam] - 1)
    margins[2] = (pitch / least_pitch - 1)[seam]
    margins[3] = (head / (rules.head_ratio * d) - 1)[seam]
    letter = margins.argmin(0)
    return SeamChecks(
        by_32[index],
        np.rint(length * 32).astype(np.int64),
        grip,
        count,
        pitch,
        refused,
        np.where(refused == 0, worst, 3).astype(np.int8),
        start,
        position,
        letter.astype(np.int8),
        margins[letter, np.arange(start[-1])] if start[-1] else np.zeros(0, np.float32),
    )
