"""What the builder types beside a photo: bars as measured, heights, thickness, limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ribwright.core.metrology.layout import GaugeLayout, bar_words, mapping, need, number, rows
from ribwright.errors import FormatError, NoScaleError, OutOfRangeError, UnknownNameError

TREATMENTS = ("bare", "white", "black", "green")
MOUNTS = ("held", "laid", "wire", "line")
IN_A_ROW = ("formed heads", "flush heads", "holes", "dimples")


@dataclass(frozen=True, slots=True)
class PrintScale:
    """Physical over nominal size of the print, from the typed bars.

    Attributes:
        x: scale along x.
        y: scale along y.
        u95_x: how well the bar along x was measured, relative, 95 %.
        u95_y: the same along y.
        notes: sentences for the builder (bars that differ, one bar missing).
    """

    x: float
    y: float
    u95_x: float
    u95_y: float
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ProfileInput:
    """Typed for one profile photo. Heights are positive towards the camera, above the card.

    ``drawn``: a "wire" bent over the skin or a "line" drawn along it, ``sheet_mm`` wide, laid on the uncut card in the
    part's place; else "".
    """

    scale: PrintScale
    edge_height_mm: float
    sheet_mm: float
    tolerance_mm: float
    treatment: str
    laid: bool
    drawn: str = ""


@dataclass(frozen=True, slots=True)
class RowInput:
    """Typed for one photo of a rivet row; ``what`` is one of ``IN_A_ROW``."""

    scale: PrintScale
    what: str
    above: bool
    shank_mm: float
    count: int
    pitch_mm: float
    strip_mm: float
    head_height_mm: float
    d_min_mm: float
    d_max_mm: float
    ovality_max: float
    edge_min_mm: float

    @property
    def formed(self) -> bool:
        """A barrel that stands on the sheet, not a rim in its surface."""
        return self.what == "formed heads"


@dataclass(frozen=True, slots=True)
class KnownSizeInput:
    """Typed for a photo of a thing of known size.

    Attributes:
        scale: of the print.
        size_mm: its width.
        round_: a shank, whose outline lies at half its height; else a stack on edge.
        outline_height_mm: of the outline seen, over what the thing lies on.
        below_mm: how far that lies below the print's face.
        above: beside a strip: True if it lies above the strip in the print's frame.
    """

    scale: PrintScale
    size_mm: float
    round_: bool
    outline_height_mm: float
    below_mm: float
    above: bool


CALIPER_U95_MM = 0.1  # reading a printed bar with a caliper: stated to the builder as "to 0.1 mm"


def print_scale(layout: GaugeLayout, typed: object) -> PrintScale:
    """Scale of the print from the bars as measured; it can't be seen in the photo.

    Raises:
        NoScaleError: a bar of the layout has no measured length.
        OutOfRangeError: the print is smaller than 95 % or larger than 105 %.
    """
    measured: dict[str, float] = {}
    for entry in rows(typed if typed is not None else [], "bars_measured"):
        given = mapping(entry, "bars_measured")
        name = str(need(given, "name", "bars_measured"))
        if given.get("measured_mm") is None:
            continue
        # whether it can be this bar's is said below, with the bar's own limits
        measured[name] = number(given["measured_mm"], bar_words(name), low=-1e9, high=1e9)
    scale: dict[str, float] = {}
    u95: dict[str, float] = {}
    for bar in layout.bars:
        if bar.name not in measured:
            raise NoScaleError(
                bar_words(bar.name),
                found="no measured length",
                allowed=f"about {bar.nominal_mm:g} mm",
                mend="Measure the printed bar with a caliper and type its length to 0.1 mm",
            )
        ratio = measured[bar.name] / bar.nominal_mm
        if not 0.95 <= ratio <= 1.05:
            hint = "That looks like inches; type millimetres" if abs(ratio * 25.4 - 1) < 0.06 else ""
            if min(abs(ratio / 10 - 1), abs(ratio * 10 - 1)) < 0.06:
                hint = "That is ten times too much or too little: mind the decimal point"
            others = [one.nominal_mm for one in layout.bars if one.name != bar.name]
            if any(abs(measured[bar.name] / other - 1) <= 0.05 for other in others):
                hint = "That is the other bar's length: are the two exchanged?"
            raise OutOfRangeError(
                bar_words(bar.name),
                found=f"{measured[bar.name]:g} mm",
                allowed=f"{0.95 * bar.nominal_mm:g} to {1.05 * bar.nominal_mm:g} mm (95 to 105 %)",
                mend=hint or "Measure the bar again; if it is right, print the sheet again at 100 %",
            )
        scale[bar.axis] = ratio
        u95[bar.axis] = CALIPER_U95_MM / bar.nominal_mm
    if not scale:
        raise NoScaleError("bars", found="the layout has no bar", mend="Make the gauge sheet again")
    notes = []
    if len(scale) == 2 and abs(scale["x"] - scale["y"]) > 0.01:
        notes.append(
            f"The print is stretched: {100 * scale['x']:.1f} % along x, {100 * scale['y']:.1f} % along y. "
            "Both are taken into account; measure both bars once more to be sure."
        )
    first = next(iter(scale))
    missing = {"x", "y"} - set(scale)
    for axis in missing:  # one bar only: printers differ by up to about .3 % between the two directions
        scale[axis], u95[axis] = scale[first], u95[first] + 0.003
    return PrintScale(scale["x"], scale["y"], u95["x"], u95["y"], tuple(notes))


def profile_input(layout: GaugeLayout, entry: object) -> ProfileInput:
    """Check what was typed for a profile photo.

    Raises:
        InputError: one of its kinds, naming the entry.
        NoScaleError: a bar was not typed.
    """
    data = mapping(entry, "input")
    if layout.target is None:
        raise FormatError("layout", found="a strip", allowed="a card with a target")
    treatment = str(data.get("edge_treatment", "bare"))
    if treatment not in TREATMENTS:
        raise UnknownNameError("edge_treatment", found=treatment, allowed=", ".join(TREATMENTS))
    mount = str(data.get("mount", "held"))
    if mount not in MOUNTS:
        raise UnknownNameError("mount", found=mount, allowed=", ".join(MOUNTS))
    drawn = mount if mount in ("wire", "line") else ""
    height = data.get("edge_height_above_card_mm", 0.0)
    return ProfileInput(
        scale=print_scale(layout, data.get("bars_measured")),
        edge_height_mm=number(height, "edge_height_above_card_mm", low=-30, high=60),
        sheet_mm=number(data.get("sheet_thickness_mm"), "sheet_thickness_mm", low=0.2, high=6.0),
        tolerance_mm=number(data.get("tolerance_mm"), "tolerance_mm", low=0.05, high=20.0),
        treatment="black" if drawn else treatment,
        laid=mount != "held",
        drawn=drawn,
    )


def row_input(layout: GaugeLayout, entry: object) -> RowInput:
    """Check what was typed for a rivet row photo; limits are multiples of the shank diameter D.

    Raises:
        InputError: one of its kinds, naming the entry.
        NoScaleError: the strip's length was not typed.
    """
    data = mapping(entry, "input")
    if layout.target is not None:
        raise FormatError("layout", found="a card", allowed="a strip to lay beside a row")
    what = _in_the_row(data)
    above = _above(data)
    shank = number(data.get("rivet_D_mm"), "rivet_D_mm", low=1.0, high=12.0)
    count = number(data.get("expected_count"), "expected_count", low=1, high=200)
    if count != int(count):
        raise OutOfRangeError("expected_count", found=f"{count:g}", allowed="a whole number of rivets")
    limits = mapping(need(data, "limits", "input"), "limits")
    low, high = _limit(limits, "d_min_over_D", 0.2, 4), _limit(limits, "d_max_over_D", 0.2, 4)
    if low >= high:
        raise OutOfRangeError("limits", found=f"{low:g} and {high:g}", allowed="smallest below largest")
    # only a formed head stands up from the sheet, whatever height is typed
    height = data.get("nominal_head_height_mm", 0.5 * shank) if what == "formed heads" else 0.0
    return RowInput(
        scale=print_scale(layout, data.get("bars_measured")),
        what=what,
        above=above,
        shank_mm=shank,
        count=int(count),
        pitch_mm=number(data.get("pitch_nominal_mm"), "pitch_nominal_mm", low=1.5 * shank, high=200.0),
        strip_mm=number(data.get("strip_thickness_mm", 0.13), "strip_thickness_mm", low=0, high=5),
        head_height_mm=number(height, "nominal_head_height_mm", low=0, high=12),
        d_min_mm=low * shank,
        d_max_mm=high * shank,
        ovality_max=_limit(limits, "ovality_max", 0.001, 1),
        edge_min_mm=_limit(limits, "edge_distance_min_over_D", 0, 20) * shank,
    )


def _limit(limits: Mapping[str, object], key: str, low: float, high: float) -> float:
    return number(limits.get(key), f"limits: {key}", low=low, high=high)


def _in_the_row(data: Mapping[str, object]) -> str:
    """What the row shows: named, or by ``flush`` alone heads of the one or the other kind."""
    flush = data.get("flush", False)
    if not isinstance(flush, bool):
        raise FormatError("flush", found=repr(flush), allowed="true or false")
    what = str(data.get("what") or ("flush heads" if flush else "formed heads"))
    if what not in IN_A_ROW:
        raise UnknownNameError("what", found=what, allowed=", ".join(IN_A_ROW))
    return what


def _above(data: Mapping[str, object]) -> bool:
    row = str(data.get("row", "below the strip"))
    if row not in ("below the strip", "above the strip"):
        raise UnknownNameError("row", found=row, allowed="below the strip, above the strip")
    return row == "above the strip"


def known_size_input(layout: GaugeLayout, entry: object) -> KnownSizeInput:
    """Check what was typed for a thing of known size on the sheet.

    Raises:
        InputError: one of its kinds, naming the entry.
        NoScaleError: a bar was not typed.
    """
    data = mapping(entry, "input")
    thing = str(data.get("known_thing", "shank"))
    if thing not in ("shank", "stack"):
        raise UnknownNameError("known_thing", found=thing, allowed="shank, stack")
    size = number(data.get("known_size_mm"), "known_size_mm", low=1.0, high=25.0)
    height = (
        0.5 * size
        if thing == "shank"
        else number(data.get("known_height_mm"), "known_height_mm", low=0, high=25)
    )
    strip = layout.target is None
    below = (
        number(data.get("strip_thickness_mm", 0.13), "strip_thickness_mm", low=0, high=5) if strip else 0.0
    )
    return KnownSizeInput(
        scale=print_scale(layout, data.get("bars_measured")),
        size_mm=size,
        round_=thing == "shank",
        outline_height_mm=height,
        below_mm=below,
        above=_above(data),
    )
