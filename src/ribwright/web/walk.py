"""The walk through the demonstration: its stops in order, and the strip that leads from one to the next."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request

WALK = (
    ("/airframe/DN-21", "The left aileron", "Its operations in the order of work, the parts they join, the spaces they close."),
    ("/operation/DN-21-S01", "A seam", "The row with every hole lettered by its tightest check, the stack cut through one rivet, what it comes to."),
    ("/operation/DN-21-S01/worksheet", "Its worksheet", "Each number with the formula, the source and how far that source was followed."),
    ("/stage/DN-21-S01/rivet", "Its bench sheet", "Tray, settings, trial piece, steps; readings are typed as the trade writes them, and answered at once."),
    ("/operation/DN-21-S01/like", "A series like it", "Type 4 as how many more: four further ribs, worked out before any is entered; what tapers runs straight to the last."),
    ("/operation/DN-21-S01/spoiled", "A spoiled hole", "Type .112 as the largest across the hole: within limits, how to mend it, or the page for the designer."),
    ("/operation/DN-21-R01", "A rolled nose", "Which pipe, how much tape, how far to turn, and the gap to expect."),
    ("/operation/DN-21-R01/rolled", "After the roll", "Type 3/16 as the opening, one reading with a steel rule: stop, or what next."),
    ("/operation/DN-21-R01/gauges", "A phone as a gauge", "A printed sheet; two photos; the deviation in tenths of a millimetre."),
    ("/stage/DN-21-S27/rivet", "Before you close it", "A space is not closed while one line of its list is open."),
    ("/plan", "When it flies", "What to order by when, what moves the date, whether the cash is there."),
    ("/record", "The record", "Every entry, for good; its seal stands at the foot of every page."),
)  # fmt: skip
"""Path of the page, its name, what to see there."""


def stop_path(number: int) -> str:
    """Where stop ``number`` (from 1) lies, with the strip that leads on."""
    return f"{WALK[number - 1][0]}?walk={number}"


@dataclass(frozen=True, slots=True)
class Strip:
    """Where on the walk a page is: what to see here, and the page before and after; empty at either end."""

    number: int
    name: str
    said: str
    before: str
    after: str
    after_name: str

    @property
    def stops(self) -> int:
        """How many stops the walk has."""
        return len(WALK)


def strip_of(request: Request) -> Strip | None:
    """The strip of a page that was reached by the walk; none elsewhere, nor where the address was altered."""
    asked = request.query_params.get("walk", "")
    if not (asked.isascii() and asked.isdigit() and len(asked) <= 2 and 1 <= int(asked) <= len(WALK)):
        return None
    number = int(asked)
    path, name, said = WALK[number - 1]
    if request.url.path != path:
        return None
    last = number == len(WALK)
    return Strip(
        number,
        name,
        said,
        before=stop_path(number - 1) if number > 1 else "",
        after="" if last else stop_path(number + 1),
        after_name="" if last else WALK[number][1],
    )
