"""Control travels: measured by phone, level, protractor or at the trailing edge, against the designer's limits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text
from ribwright.core.bench import CAUTIONS, Because, Finding, Reading, Requirement, compare
from ribwright.core.massprops.angles import edge_travel_deg
from ribwright.core.massprops.rigging_picture import travels_picture
from ribwright.core.massprops.unpublished import say_unpublished
from ribwright.core.tables import table
from ribwright.core.units import Quantity, shown
from ribwright.errors import GeometryError, MissingError

EDGE = "trailing edge"
INSTRUMENTS = ("phone", "digital level", "protractor", EDGE)
_EDGE_U_IN = 1 / 16  # a rule held at the trailing edge: common practice, no source


@dataclass(frozen=True, slots=True)
class Travel:
    """One surface moved one way, from neutral to its stop."""

    surface: str = text("Surface", help="which control surface", example="aileron")
    side: str = choice("Side", ("centre", "left", "right"), help="left or right", default="centre")
    way: str = choice("Way", ("up", "down", "left", "right"), help="which way it went")
    instrument: str = choice("Measured with", INSTRUMENTS, help="what the angle was read on")
    neutral: Quantity | None = quantity(
        "deg", "Reading at neutral", help="surface in line with what it is hinged to", example="0.4", low="-180 deg", high="180 deg", optional=True
    )  # fmt: skip
    deflected: Quantity | None = quantity(
        "deg", "Reading at the stop", help="the same way round", example="24.8", low="-180 deg", high="180 deg", optional=True
    )  # fmt: skip
    edge: Quantity | None = quantity(
        "in", "Trailing edge moved", help="straight, from neutral to the stop", example="4.5", low="0 in", high="60 in", optional=True
    )  # fmt: skip
    radius: Quantity | None = quantity(
        "in", "Hinge to trailing edge", help="there where it was measured", example="11.2", low="1 in", high="100 in", optional=True
    )  # fmt: skip
    least: Quantity | None = quantity(
        "deg", "Limit, least", help="the designer's", example="24", low="0 deg", high="90 deg", optional=True
    )  # fmt: skip
    most: Quantity | None = quantity(
        "deg", "Limit, greatest", help="the designer's", example="26", low="0 deg", high="90 deg", optional=True
    )  # fmt: skip

    def __post_init__(self) -> None:
        if self.instrument == EDGE:
            if self.edge is None or self.radius is None:
                raise MissingError(
                    "Trailing edge moved", found=f"{self.surface}, {self.way}", allowed="the distance and the radius",
                    mend="Measure both at one place along the span.",
                )  # fmt: skip
            if self.edge.value > 2 * self.radius.value * 0.99:
                raise GeometryError(
                    "Trailing edge moved", found=f"{self.edge.text} at {self.radius.text}", allowed="less than twice the radius",
                    mend="Check both lengths.",
                )  # fmt: skip
        elif self.neutral is None or self.deflected is None:
            raise MissingError(
                "Reading at neutral", found=f"{self.surface}, {self.way}", allowed="both readings",
                because="their difference is the travel, and the instrument's own error drops out", mend="Read at neutral and at the stop.",
            )  # fmt: skip
        if self.least is not None and self.most is not None and self.least.value >= self.most.value:
            raise GeometryError(
                "Limit, greatest", found=f"{self.most.text}, least {self.least.text}", allowed="above the least",
                mend="Check the two limits.",
            )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Travels:
    """All travels of the controls."""

    title: str = text("Controls", help="which aeroplane", example="Dunlin", default="")
    drawing: str = text("Drawing number", help="that gives the travels", example="DN-8100", default="")
    revision: str = text("Drawing revision", help="as printed", example="B", default="")
    travels: tuple[Travel, ...] = rows(Travel, "Travels", help="one row a surface and way", least=1)
    same_within: Quantity | None = quantity(
        "deg", "Left and right alike within", help="the designer's, if given", example="1", low="0.1 deg", high="20 deg", optional=True
    )  # fmt: skip


@calculation(
    "control-travels",
    title="Travels of the controls",
    summary="Travel of each surface with its band against the designer's limits; left held against right.",
    spec=Travels,
    results=("travels", "bands", "left_right"),
)
def control_travels(spec: Travels, ws: Worksheet) -> Outcome:
    """One travel a row, with the band that its instrument allows."""
    findings: list[Finding] = []
    requirements: list[Requirement] = []
    travels: list[float] = []
    bands: list[float] = []
    for t in spec.travels:
        value, u = _travel(t, ws)
        travels.append(value)
        bands.append(u)
        if t.least is None and t.most is None:
            continue
        where = " ".join(part for part in ("" if t.side == "centre" else t.side, t.surface, t.way) if part)
        needed = Requirement(
            name="travel", unit="deg", low=None if t.least is None else t.least.value, nominal=None, high=None if t.most is None else t.most.value,
            because=Because.drawing(spec.drawing, spec.revision, "travel as drawn"), how="a digital level or a protractor instead of the phone, read at neutral and at the stop",
            when_low="Set the stop: too little travel.", when_high="Set the stop: too much travel. Nothing may touch before the stop does.",
        )  # fmt: skip
        requirements.append(needed)
        findings.append(compare(needed, Reading(value, "deg", u, t.instrument, where)))
    apart = _sides(spec, travels, bands, requirements, findings)
    if not findings:
        ws.note("No limit entered, so nothing is judged: travels come from the designer's drawing.")
    results = {
        "travels": Result("travels, in the order of the rows", tuple(travels), "deg"),
        "bands": Result("each, plus or minus", tuple(bands), "deg"),
        "left_right": Result(
            "left and right differ at most by", max((abs(d) for d, _, _ in apart), default=0.0), "deg"
        )
        if apart
        else Result("left and right differ at most by", "no pair entered"),
    }
    say_unpublished(ws, "travels worked out from the trailing edge's way are")
    cautions = (
        "Stick and surface both on their stops; full and free with the wings bent and a person in each seat.",
        "Right way round: stick left, left aileron up; stick back, elevator up. Have a second person say what moves.",
        *CAUTIONS,
    )
    picture = travels_picture(
        [
            (t.surface if t.side == "centre" else f"{t.side} {t.surface}", t.way, value, u)
            for t, value, u in zip(spec.travels, travels, bands, strict=True)
        ]
    )
    return Outcome(tuple(ws.steps), results, tuple(requirements), tuple(findings), cautions, picture=picture)


def _travel(t: Travel, ws: Worksheet) -> tuple[float, float]:
    label = f"{t.side} {t.surface} {t.way}"
    if t.instrument == EDGE:
        assert t.edge is not None
        assert t.radius is not None
        # both lengths in one ratio: the formula holds at any size, so it is taken at a radius of 50 in
        scale = 50.0 / t.radius.value
        edge = t.edge.value * scale
        value = (
            ws.step(label, edge_travel_deg, edge_in=edge, radius_in=50.0)
            if edge <= 30.0
            else float(edge_travel_deg(edge_in=edge, radius_in=50.0))
        )
        half = edge / 100.0
        slope = float(np.degrees(1 / (50.0 * np.sqrt(1 - half**2))))  # degrees an inch of edge at that radius
        return value, slope * float(np.hypot(_EDGE_U_IN * scale, edge * _EDGE_U_IN / t.radius.value))
    assert t.neutral is not None
    assert t.deflected is not None
    value = abs(t.deflected.value - t.neutral.value)
    if value > 180:
        value = 360 - value
    ws.worked_out(
        label, shown(value, "deg"), f"{t.deflected.text} less {t.neutral.text}", value=value, unit="deg"
    )
    return value, ws.look_up(
        f"{t.instrument} good to", table("massprops/angle-instruments").cell(t.instrument, "band")
    )


def _sides(
    spec: Travels,
    travels: list[float],
    bands: list[float],
    requirements: list[Requirement],
    findings: list[Finding],
) -> list[tuple[float, float, str]]:
    """Left less right of every surface and way that was measured on both sides; an aileron's up against the other's up."""
    known = {(t.surface.casefold(), t.way, t.side): (v, u) for t, v, u in zip(spec.travels, travels, bands, strict=True)}  # fmt: skip
    apart = []
    for (surface, way, side), (left, u_left) in known.items():
        other = known.get((surface, way, "right"))
        if side == "left" and other is not None:
            apart.append((left - other[0], float(np.hypot(u_left, other[1])), f"{surface} {way}"))
    if spec.same_within is not None:
        within = spec.same_within.value
        for off, u, where in apart:
            alike = Requirement(
                name="left against right", unit="deg", low=-within, nominal=0.0, high=within,
                because=Because.drawing(spec.drawing, spec.revision, "both sides alike"), how="one digital level for both sides",
                when_low="Trim the rods or cables until both sides agree.", when_high="Trim the rods or cables until both sides agree.",
            )  # fmt: skip
            requirements.append(alike)
            findings.append(compare(alike, Reading(off, "deg", u, where=where)))
    return apart
