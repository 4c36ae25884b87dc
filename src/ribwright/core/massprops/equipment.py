"""The equipment list: what the empty weight includes, item by item, and how each revision changed it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from ribwright.core.audit import Outcome, Result, Worksheet, calculation, choice, quantity, rows, text, whole
from ribwright.core.bench import CAUTIONS
from ribwright.core.massprops.chord import arm_field
from ribwright.core.massprops.moments import moment_lb_in
from ribwright.core.massprops.unpublished import say_unpublished
from ribwright.core.units import Quantity, number_text
from ribwright.errors import GeometryError, OutOfRangeError

REQUIRED, OPTIONAL = "required", "optional"


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the list; it stays when the item is taken out, with the revision that took it out."""

    name: str = text("Item", help="with its part number", example="radio")
    place: str = text("Place", help="where it sits", example="panel, centre", default="")
    kind: str = choice(
        "Kind", (REQUIRED, OPTIONAL), help="whether the aeroplane may fly without it", default=REQUIRED
    )
    weight: Quantity = quantity(
        "lb", "Weight", help="of the item", example="2.4", low="0 lb", high="10000 lb"
    )
    arm: Quantity = arm_field("Arm", help="from the datum, positive aft", example="51.0")
    put_in: int = whole("In since revision", help="0 for the first list", example="0", low=0, high=999, default=0)  # fmt: skip
    taken_out: int | None = whole("Out since revision", help="only when it was taken out", example="2", low=1, high=999, optional=True)  # fmt: skip

    def __post_init__(self) -> None:
        if self.taken_out is not None and self.taken_out <= self.put_in:
            raise OutOfRangeError(
                "Out since revision", found=f"{self.taken_out} for {self.name}, in since {self.put_in}",
                allowed="a later revision than it was put in", mend="Check both revisions.",
            )  # fmt: skip

    def fitted(self, revision: int) -> bool:
        """Whether it is in the aeroplane at a revision."""
        return self.put_in <= revision and (self.taken_out is None or self.taken_out > revision)


@dataclass(frozen=True, slots=True)
class EquipmentList:
    """Everything that the empty weight includes beyond the bare structure."""

    title: str = text("Aeroplane", help="which one", example="Dunlin", default="")
    items: tuple[Item, ...] = rows(Item, "Items", help="one row an item, also those taken out again", least=1)
    weighed_at: int = whole(
        "Weighed at revision", help="of this list; 0 for the first", example="0", low=0, high=999, default=0
    )

    def __post_init__(self) -> None:
        twice = [
            name
            for (name, place), n in Counter((i.name.casefold(), i.place.casefold()) for i in self.items if i.taken_out is None).items()
            if n > 1
        ]  # fmt: skip
        if twice:
            raise GeometryError(
                "Items", found=f"{twice[0]} twice in one place", allowed="each item once",
                because="an item on the list twice would be weighed twice", mend="Say where each one sits, or remove one.",
            )  # fmt: skip


@calculation(
    "equipment-list",
    title="Equipment list with revisions",
    summary="What the empty weight includes, item by item; what changed since the aeroplane was weighed.",
    spec=EquipmentList,
    results=("revision", "weight", "moment", "required_weight", "since_weighed", "moment_since", "revisions"),
)
def equipment_list(spec: EquipmentList, ws: Worksheet) -> Outcome:
    """Weight and moment of what is fitted, and what to add to the last weighing."""
    newest = max([spec.weighed_at, *(i.put_in for i in spec.items), *(i.taken_out or 0 for i in spec.items)])
    lines = [
        (item, ws.step(f"moment of {item.name}", moment_lb_in, weight_lb=item.weight.value, arm_in=item.arm.value))
        for item in spec.items
    ]  # fmt: skip

    def total(revision: int, *, required: bool = False) -> tuple[float, float]:
        kept = [
            (i.weight.value, m)
            for i, m in lines
            if i.fitted(revision) and (not required or i.kind == REQUIRED)
        ]
        return sum(w for w, _ in kept), sum(m for _, m in kept)

    now, moment = total(newest)
    then, moment_then = total(spec.weighed_at)
    totals = tuple(total(revision)[0] for revision in range(newest + 1))
    if newest > spec.weighed_at:
        ws.note(
            f"Since it was weighed at revision {spec.weighed_at} the list changed by {number_text(now - then, 1)} lb and "
            f"{number_text(moment - moment_then, 0)} lb·in: add both to the empty weight and moment of that weighing."
        )
    else:
        ws.note("Nothing changed since it was weighed.")
    results = {
        "revision": Result("revision of the list", str(newest)),
        "weight": Result("equipment fitted", now, "lb", places=1),
        "moment": Result("moment of it", moment, "lb·in", places=0),
        "required_weight": Result(
            "of it required for flight", total(newest, required=True)[0], "lb", places=1
        ),
        "since_weighed": Result("change since it was weighed", now - then, "lb", places=1),
        "moment_since": Result("change of moment since", moment - moment_then, "lb·in", places=0),
        "revisions": Result("equipment fitted, revision 0 onwards", totals, "lb"),
    }
    say_unpublished(ws, "the sums of the list are")
    cautions = (
        "On board when it is weighed is what this list says is fitted, nothing else: go through it at the scales.",
        "Who signs the weighing signs this list with it.",
        *CAUTIONS,
    )
    return Outcome(tuple(ws.steps), results, cautions=cautions)
