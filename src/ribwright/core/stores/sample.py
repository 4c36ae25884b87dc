"""Incoming inspection of a unit that somebody else began: how many heads to look at, which, and what to measure."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS, StageSheet, TrayItem
from ribwright.core.fastening.heads import formed_head_requirements
from ribwright.core.fastening.rivets import SIZES
from ribwright.core.units import Quantity
from ribwright.errors import OutOfRangeError

STAGE = "incoming inspection"
ASK = "Measure every head of its row, note it as a discrepancy, and ask the supplier before anything is touched."


def chance_of_none(*, pieces: int, bad: int, sample: int) -> float:
    """Chance that a sample drawn without putting back shows none of the bad ones (hypergeometric, exact)."""
    if sample > pieces - bad:
        return 0.0
    return math.comb(pieces - bad, sample) / math.comb(pieces, sample)


def sample_size(*, pieces: int, bad: int, miss_share: float) -> int:
    """The least sample that overlooks all bad ones with at most this chance."""
    low, high = 0, pieces - bad + 1
    while low < high:
        middle = (low + high) // 2
        if chance_of_none(pieces=pieces, bad=bad, sample=middle) <= miss_share:
            high = middle
        else:
            low = middle + 1
    return low


def spread(counts: Sequence[int], sample: int) -> tuple[tuple[int, ...], ...]:
    """Which heads of each row: the sample shared out by length, spread evenly, never the same end each time.

    Args:
        counts: heads in each row.
        sample: heads to look at, at most all.

    Returns:
        Hole numbers from 1, one tuple a row.
    """
    total = sum(counts)
    taken, before = [], 0
    for count in counts:
        # heads of the whole, numbered through; every (total/sample)-th of them
        mine = {
            place - before + 1
            for k in range(sample)
            if before <= (place := (2 * k + 1) * total // (2 * sample)) < before + count
        }
        before += count
        taken.append(tuple(sorted(mine)))
    return tuple(taken)


@dataclass(frozen=True, slots=True)
class ForeignRow:
    """A row of rivets that somebody else set."""

    row: str = text("Row", help="which seam", example="main spar, lower cap")
    count: int = whole("Heads", help="in this row", example="84", low=1, high=20_000)


@dataclass(frozen=True, slots=True)
class ForeignUnit:
    """A part-assembled unit as it came."""

    title: str = text("Unit", help="what came", example="wing centre section, begun by the supplier")
    supplier: str = text("From whom", help="who set the rivets", example="the works", default="")
    drawing: str = text("Drawing number", help="what it was built to", example="DN-3300", default="")
    revision: str = text("Drawing revision", help="as printed on the drawing", example="B", default="")
    hand: str = choice("Hand", ("none", "left", "right"), help="which side of the aeroplane", default="none")
    size: str = choice("Rivet diameter", SIZES, help="of the rows", default="1/8")
    rows: tuple[ForeignRow, ...] = rows(ForeignRow, "Rows", help="one line a row of rivets", least=1)
    bad_share: Quantity = quantity(
        "%", "Bad heads that must not pass", help="if so many of all are bad, the sample shall show one", example="5 %", low="0.1 %", high="50 %",
        default="5 %",
    )  # fmt: skip
    chance: Quantity = quantity(
        "%", "Shown in so many of 100 units", help="how sure the sample shall be", example="95 %", low="50 %", high="99.9 %", default="95 %"
    )  # fmt: skip

    def __post_init__(self) -> None:
        if sum(row.count for row in self.rows) > 100_000:
            raise OutOfRangeError(
                "Rows",
                found=f"{sum(row.count for row in self.rows):,} heads",
                allowed="up to 100,000",
                mend="Inspect it in parts.",
            )


@calculation(
    "incoming-inspection",
    title="Incoming inspection",
    summary="Somebody else's rivets by sample: how many heads, which of each row, and what each must measure.",
    spec=ForeignUnit,
    results=("heads", "sample", "chance_of_none", "which"),
)
def incoming_inspection(spec: ForeignUnit, ws: Worksheet) -> Outcome:
    """The sample and its sheet."""
    counts = [row.count for row in spec.rows]
    total = sum(counts)
    bad = max(1, math.ceil(spec.bad_share.value * total - 1e-9))
    least = sample_size(pieces=total, bad=bad, miss_share=1 - spec.chance.value)
    # every row shows at least one head
    sample = min(total, max(least, len(counts)))
    chosen = [
        list(one) or [(count + 1) // 2] for one, count in zip(spread(counts, sample), counts, strict=True)
    ]
    said = f"{bad} bad of {total} ({spec.bad_share.text})"
    ws.worked_out("bad heads that must not pass", str(bad), said, value=float(bad))
    none = chance_of_none(pieces=total, bad=bad, sample=sample)
    ws.worked_out(
        "sample", f"{sample} of {total} heads", "hypergeometric: the least sample that shows one of them often enough, and one head of each row",
        value=float(sample),
    )  # fmt: skip
    ws.note(
        "One head that is not good rejects nothing by itself: look at every head of that row, then ask the supplier."
    )
    ws.note(
        "The heads are spread evenly over the rows: bad work in one corner shows less often than the chance says."
    )
    which = "; ".join(
        f"{row.row}: {', '.join(map(str, holes))}" for row, holes in zip(spec.rows, chosen, strict=True)
    )
    results = {
        "heads": Result("heads in all", float(total), "", places=0), "sample": Result("heads to measure", float(sum(map(len, chosen))), "", places=0),
        "chance_of_none": Result("chance to overlook them", 100 * none, "%", places=1), "which": Result("which", which),
    }  # fmt: skip
    requirements = tuple(
        replace(one, when_low=ASK, when_high=ASK) for one in formed_head_requirements(spec.size)
    )
    sheet = StageSheet(
        operation=spec.title, stage=STAGE, title=f"{STAGE}: {spec.title}", hand=spec.hand, drawing=spec.drawing, revision=spec.revision,  # type: ignore[arg-type]
        tray=(TrayItem("calipers", "", "1"), TrayItem("head gauge", spec.size, "1"), TrayItem("lamp and mirror", "", "1"), TrayItem("felt-tip pen", "", "1")),
        settings=(), trial=None,
        steps=(
            "Compare the unit with its drawing: parts, hands, rivet types, open holes.",
            *(f"{row.row}: mark and measure heads {', '.join(map(str, holes))}." for row, holes in zip(spec.rows, chosen, strict=True)),
            "Look along each row for gaps, dents, tilted heads and marks of the set; note each as a discrepancy with a photo.",
            "If one head is not good, measure every head of its row before anything is said to the supplier.",
        ),
        requirements=requirements, cautions=("Don't replace anything before the supplier has answered.",), picture=None,
    )  # fmt: skip
    return Outcome(tuple(ws.steps), results, requirements, (), CAUTIONS, None, (sheet,))
