"""A drawn line, a wire or a cut template on the gauge sheet becomes an outline with its uncertainty.

A mid-span station can't be photographed end-on: its shape is taken over by soft wire, pin comb or pencil and
laid on the sheet. The drawing's own paper template comes in the same way. The line is traced like a sheet's
end, as a dark band of known width, near the rough target that the sheet was made for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ribwright.core.metrology.arcs import unit_normals
from ribwright.core.metrology.camera import FocalPrior
from ribwright.core.metrology.layout import GaugeLayout, number
from ribwright.core.metrology.profile import ProfileReading, measure_profile, smooth_along
from ribwright.core.metrology.typed import ProfileInput
from ribwright.errors import UnreadablePhotoError

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TemplateOutline:
    """An outline taken from a line on the sheet.

    Attributes:
        outline_mm: shape (n, 2), middle of the line, smoothed, in the card's physical frame.
        u95_mm: shape (n,), across the line; nan where the line was not seen.
        residual_mm: root mean square of the line about its smoothed form, for the builder to see.
        reading: the profile reading behind it.
    """

    outline_mm: Floats
    u95_mm: Floats
    residual_mm: float
    reading: ProfileReading


def measure_template(
    picture: NDArray[np.uint8],
    *,
    layout: GaugeLayout,
    typed: ProfileInput,
    line_width_mm: float,
    prior: FocalPrior,
) -> TemplateOutline:
    """Trace a dark line or wire on the sheet, near the sheet's rough target (within 5 mm).

    Args:
        picture: upright, 8 bit.
        layout: the card's.
        typed: bars and the line's height over the card (half a wire's thickness; 0 for a drawn line).
        line_width_mm: width of the line or wire, measured.
        prior: focal length known beforehand.

    Raises:
        UnreadablePhotoError: the sheet is not found, or the line can't be followed.
        InputError: the width is not one.
    """
    width = number(line_width_mm, "line width", low=0.2, high=6.0)
    as_edge = replace(typed, sheet_mm=width, treatment="black", laid=True)
    reading = measure_profile(picture, layout=layout, typed=as_edge, prior=prior, has_skin=False)
    if reading.status != "measured":
        reason = reading.reason or "the line can't be followed"
        if "step that no sheet has" in reason:  # of a skin's end it is a mirrored lamp; of a line, the pencil
            raise UnreadablePhotoError(
                "photo", because="the line has steps that no sheet can follow",
                mend="Draw it again in one even stroke, or lay the paper template itself on the sheet.",
            )  # fmt: skip
        raise UnreadablePhotoError("photo", because=reason)
    contour = reading.contour_mm
    run = np.gradient(contour, axis=0)
    normal = np.column_stack([-run[:, 1], run[:, 0]]) / np.maximum(np.hypot(*run.T), 1e-12)[:, None]
    near = np.hypot(*np.moveaxis(contour[:, None] - reading.placed.arc_xy_mm[None], 2, 0)).argmin(axis=1)
    flip = np.sign((normal * reading.placed.normal_out[near]).sum(axis=1))
    middle = contour - 0.5 * width * normal * flip[:, None]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(middle, axis=0).T))])
    weight = reading.contour_seen.astype(np.float64) + 1e-6
    smooth = np.column_stack([smooth_along(along, middle[:, i], weight, along)[0] for i in (0, 1)])
    residual = float(np.sqrt(((smooth - middle)[reading.contour_seen] ** 2).sum(axis=1).mean()))
    u95 = np.where(reading.contour_seen, np.hypot(reading.u95_mm[near], 2 * residual), np.nan)
    return TemplateOutline(smooth, u95, residual, reading)


def measure_drawn(
    picture: NDArray[np.uint8], *, layout: GaugeLayout, typed: ProfileInput, prior: FocalPrior
) -> ProfileReading:
    """A wire bent over the skin or a line drawn along it, held against the target as if it were the skin.

    A wire's inner edge lay on the skin, of a line the middle: the target is moved out by so much that what is followed,
    the outer edge, is off the moved target as the skin is off its own.

    Args, errors: as ``measure_profile``.
    """
    target = layout.target
    assert target is not None
    away = typed.sheet_mm * (1.0 if typed.drawn == "wire" else 0.5)
    normal = unit_normals(target.outline_mm)
    near = np.hypot(*np.moveaxis(target.outline_mm[:, None] - target.arc_xy_mm[None], 2, 0)).argmin(axis=1)
    normal *= np.sign((normal * target.normal_out[near]).sum(axis=1))[:, None]
    moved = replace(
        target,
        outline_mm=target.outline_mm + away * normal,
        arc_xy_mm=target.arc_xy_mm + away * target.normal_out,
    )
    reading = measure_profile(
        picture, layout=replace(layout, target=moved), typed=typed, prior=prior, has_skin=False
    )
    return replace(
        reading,
        notes=(
            *reading.notes,
            f"How well the {typed.drawn} keeps the skin's shape is not in the uncertainty.",
        ),
    )
