"""Printers: what their check figures measured, and the factors that make the next print of each true.

A printer is a setting of the project: its factors, what was measured last, and whether it is the one that
full-size output is made for. A page is never scaled by anything else.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from ribwright.core.scene import Line, Polyline, Scene, Text, TitleBlock, full_size
from ribwright.core.templates.printer import THROW_AWAY, USE_IT, check_printer
from ribwright.core.units import parse
from ribwright.errors import MissingError, OutOfRangeError, UnknownNameError
from ribwright.services.entering import NewEntry, add_entries, add_entry, new_object, set_object
from ribwright.services.project import Actor, Project
from ribwright.services.record import objects
from ribwright.services.seals import dated_seal
from ribwright.store import chain
from ribwright.store.objects import StoredObject

PRINTED_WITH = ("its factors", "no correction")
"""How the print that was measured was made: with the factors kept for this printer, or as it comes."""


@dataclass(frozen=True, slots=True)
class Printer:
    """A printer as the project knows it.

    Attributes:
        name: as the builder calls it.
        short, long: factors for the short and the long edge of its paper.
        true: its last measured figure was within tolerance; factors not yet proved by a print are not.
        measured: what was measured last, in words.
        chosen: full-size output is made for it when nothing else is said.
        revision: of the setting, for the form.
    """

    name: str
    short: float = 1.0
    long: float = 1.0
    true: bool = False
    measured: str = ""
    chosen: bool = False
    revision: int = 0

    @property
    def ref(self) -> str:
        """Its reference in the record."""
        return _ref(self.name)

    @property
    def correction(self) -> tuple[float, float]:
        """Factors for the short and the long edge, as full-size pages take them."""
        return (self.short, self.long)

    @property
    def words(self) -> str:
        """For the title block: the printer and what its print is multiplied by."""
        if not self.name:
            return ""
        plain = self.short == 1.0 and self.long == 1.0
        return f"{self.name}, as it comes" if plain else f"{self.name}, {self.short:.4f} by {self.long:.4f}"


AS_IT_COMES = Printer("")
"""No printer chosen: pages without any factor."""


def _ref(name: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9]+", "-", name).strip("-").upper()
    if not plain or len(name) > 60:
        raise OutOfRangeError(
            "Printer", found=name[:60], allowed="a name of letters and digits, at most 60", mend="Call it as you do."
        )  # fmt: skip
    return f"PRINTER-{plain}"


def printers(project: Project) -> tuple[Printer, ...]:
    """All printers that were measured or chosen, by name."""
    found = [one for one in objects(project, noun="setting") if one.data.get("kind") == "printer"]
    return tuple(sorted((_printer(one) for one in found), key=lambda p: p.name.casefold()))


def _printer(one: StoredObject) -> Printer:
    data = one.data
    return Printer(
        str(data["name"]), float(data["short"]), float(data["long"]), data.get("true") == "yes", str(data.get("measured", "")),
        data.get("chosen") == "yes", one.revision,
    )  # fmt: skip


def printer_for(project: Project, name: str = "") -> Printer:
    """The printer that output is made for: the one named, else the chosen one, else none.

    Raises:
        UnknownNameError: no such printer.
    """
    known = printers(project)
    if name in ("", "none"):
        return next((p for p in known if p.chosen and not name), AS_IT_COMES)
    for one in known:
        if one.name.casefold() == name.strip().casefold() or one.ref == name:
            return one
    raise UnknownNameError(
        "printer", found=name[:60], allowed=", ".join(p.name for p in known) or "none was measured yet",
        mend="Measure its check figure first: Full size, or `ribwright printer measure`.",
    )  # fmt: skip


def measure_printer(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    name: str,
    short: str,
    long: str,
    printed_with: str = "its factors",
    seen_revision: int | None = None,
) -> tuple[Printer, str]:
    """Keep what the 4.000 in bars of a print measured, and say whether the print may be used.

    Args:
        name: of the printer, new or known.
        short, long: the bars along the short and the long edge of the paper, as measured, with or without unit.
        printed_with: one of ``PRINTED_WITH``.
        seen_revision: of the printer as the form showed it.

    Returns:
        The printer as it is now known, and the sentence for the builder.

    Raises:
        OutOfRangeError: more than 3 % off, with the usual cause; nothing is kept.
        MissingError, QuantityError: a length that is not one.
    """
    if printed_with not in PRINTED_WITH:
        raise UnknownNameError("Printed with", found=printed_with[:60], allowed=", ".join(PRINTED_WITH))
    ref = _ref(name)
    sent = _sent_before(project, request_id, ref, short, long)
    if sent is not None:
        return sent
    known = next((p for p in printers(project) if p.ref == ref), Printer(name.strip()))
    lengths = []
    for label, said in (("bar along the short edge", short), ("bar along the long edge", long)):
        if not said.strip():
            raise MissingError(
                label, allowed="its measured length", mend="Measure it from end tick to end tick."
            )
        length = parse(said, "in", field=label)
        if length.unit.symbol == "mm" and abs(float(length.number) - 100.0) < 1.0:
            raise OutOfRangeError(
                label, found=length.text, allowed="the bar marked 4.000 in, about 101.6 mm",
                because="this is the length of the 100 mm bar", mend="Measure the bar marked 4.000 in.",
            )  # fmt: skip
        lengths.append(length.value)
    before = known.correction if printed_with == "its factors" else (1.0, 1.0)
    made = check_printer(measured_short_in=lengths[0], measured_long_in=lengths[1], before=before)
    true = made.verdict == "accepted"
    data = _data(known.name, made.short_edge, made.long_edge, known.chosen or not printers(project)) | {
        "true": "yes" if true else "no",
        "measured": f"{short.strip()} by {long.strip()}, printed with {before[0]:.5f} by {before[1]:.5f}",
    }
    stored = set_object(
        project, actor=actor, request_id=request_id, noun="setting", ref=ref, data=data, title=f"printer {known.name}",
        seen_revision=seen_revision,
    )  # fmt: skip
    return _printer(stored), made.said


def _sent_before(
    project: Project, request_id: str, ref: str, short: str, long: str
) -> tuple[Printer, str] | None:
    """What the same form made when it came first: measured again from there, the correction would count twice."""
    with project.store.read() as connection:
        before = chain.by_request(connection, project.id, request_id)
    if not before or before[0].about != ref:
        return None
    body = before[0].body
    data = body.get("data") or {}
    if not str(data.get("measured", "")).startswith(f"{short.strip()} by {long.strip()}, "):
        return None  # another form under the same number: entering refuses it
    true = data.get("true") == "yes"
    made = Printer(
        str(data["name"]), float(data["short"]), float(data["long"]), true, str(data["measured"]), data.get("chosen") == "yes",
        int(body["revision"]),
    )  # fmt: skip
    return made, USE_IT if true else THROW_AWAY


def _data(name: str, short: float, long: float, chosen: bool) -> dict[str, Any]:
    # Numbers of the record are text; six decimals are a thousandth of what paper can hold.
    return {
        "kind": "printer", "name": name, "short": str(Decimal(f"{short:.6f}").normalize()), "long": str(Decimal(f"{long:.6f}").normalize()),
        "chosen": "yes" if chosen else "no",
    }  # fmt: skip


def choose_printer(project: Project, *, actor: Actor, request_id: str, name: str) -> Printer:
    """Make all full-size output for this printer; with an empty name for none.

    Raises:
        UnknownNameError: no such printer.
    """
    wanted = printer_for(project, name) if name else AS_IT_COMES
    items: list[NewEntry] = []
    for one in objects(project, noun="setting"):
        if one.data.get("kind") != "printer":
            continue
        chosen = "yes" if one.data["name"] == wanted.name else "no"
        if one.data.get("chosen") != chosen:
            items.append(new_object("setting", one.ref, one.data | {"chosen": chosen}, title=one.title))
    if items:
        add_entries(project, actor=actor, request_id=request_id, items=items)
    return printer_for(project, name) if name else AS_IT_COMES


def forget_printer(project: Project, *, actor: Actor, request_id: str, name: str, because: str) -> None:
    """Take a printer out; its entries stay in the record.

    Raises:
        UnknownNameError: no such printer.
    """
    one = printer_for(project, name)
    if not one.name:
        raise UnknownNameError("printer", found=name, allowed="the name of a printer")
    add_entry(
        project, actor=actor, request_id=request_id, kind="withdraw", about=one.ref,
        body={"because": because.strip() or "no longer used"},
    )  # fmt: skip


def check_sheet(project: Project, name: str = "", paper: str = "letter") -> bytes:
    """One page to measure, made with this printer's factors: a frame with bars of 4.000 in and 100.0 mm at its side.

    Raises:
        UnknownNameError: no such printer or paper.
    """
    from ribwright.core.writers.to_pdf import pdf_of_pages

    printer = printer_for(project, name)
    block = TitleBlock("Check figure of a printer", seal=dated_seal(project), printer=printer.words)
    frame = Scene(
        (
            Polyline(((0, 0), (6, 0), (6, 6), (0, 6)), True, "thin"),
            *(Line((n, 0), (n, 0.15 if n % 2 else 0.25), "thin") for n in range(1, 6)),
            *(Line((0, n), (0.15 if n % 2 else 0.25, n), "thin") for n in range(1, 6)),
            Line((0, 0), (6, 6), "thin"),
            Line((0, 6), (6, 0), "thin"),
            Text((3, 5.4), "6.000 in square", 0.14, "middle"),
            Text(
                (3, 0.55),
                "Measure both 4.000 in bars at the left and at the foot, tick to tick, with calipers.",
                0.09,
                "middle",
            ),
            Text((3, 0.4), "Both diagonals of the square must be equal: 8.485 in.", 0.09, "middle"),
        ),
        "Check figure of a printer",
        "Frame of 6 in with its diagonals; bars of 4.000 in and 100.0 mm in both directions.",
    )
    return pdf_of_pages(
        full_size(frame, paper, printer.correction, block, orientation="portrait", tile=False)
    )
