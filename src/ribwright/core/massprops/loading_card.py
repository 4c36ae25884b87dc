"""The loading card: one page for the aeroplane with table, envelope and loading graph."""

from __future__ import annotations

from ribwright.core.audit import Outcome, Worksheet
from ribwright.core.massprops.envelope import envelope, worst_loadings
from ribwright.core.massprops.loading import Loading, loaded_stations
from ribwright.core.massprops.loading_picture import envelope_graph, loading_graph
from ribwright.core.scene import Block, Caution, Document, Fields, Paragraph, Picture, Table
from ribwright.core.units import number_text


def loading_card(spec: Loading, outcome: Outcome, *, reference: str = "", seal: str = "") -> Document:
    """A loading that was worked out, as its one-page card.

    Args:
        outcome: of the calculation ``loading`` with this spec.
        reference: of the operation that it was entered as.
    """
    limits = envelope([c.cg.value for c in spec.envelope], [c.weight.value for c in spec.envelope])
    stations = loaded_stations(spec, Worksheet())
    empty, arm = spec.empty_weight.value, spec.empty_cg.value
    ends = worst_loadings(
        empty_lb=empty, empty_lb_in=empty * arm, least_lb=[s.least_lb for s in stations], most_lb=[s.most_lb for s in stations],
        arm_in=[s.arm_in for s in stations], limits=limits,
    )  # fmt: skip
    got = outcome.results
    flight = (
        (_value(outcome, "weight"), _value(outcome, "cg")),
        (_value(outcome, "zero_fuel_weight"), _value(outcome, "zero_fuel_cg")),
    )
    bad = [f for f in outcome.findings if f.verdict.value != "within limits"]
    rows = [
        ("empty", empty, arm, ""),
        *((s.name, s.now_lb, s.arm_in, number_text(s.most_lb, 0)) for s in stations),
        ("loaded", *flight[0], number_text(limits.most_lb, 0)),
        ("fuel burnt", *flight[1], ""),
    ]
    blocks: list[Block] = [
        Fields(
            (
                ("Loaded", f"{got['weight'].shown} at {got['cg'].shown}"),
                ("Fuel burnt", f"{got['zero_fuel_weight'].shown} at {got['zero_fuel_cg'].shown}"),
                ("Worst forward", f"{got['most_forward_cg'].shown}; {got['most_forward_load'].shown}"),
                ("Worst aft", f"{got['most_aft_cg'].shown}; {got['most_aft_load'].shown}"),
            )
        ),
        Table(
            ("item", "weight, lb", "arm, in", "moment, lb·in", "at most, lb"),
            tuple((name, number_text(w, 1), number_text(a, 2), number_text(w * a, 0), most) for name, w, a, most in rows),
            widths=(0.36, 0.16, 0.16, 0.18, 0.14), numeric=(1, 2, 3, 4),
        ),
        *(Caution(f"{f.requirement}, {f.where}: {f.verdict.value}. {f.next}") for f in bad[:3]),
        Picture(envelope_graph(spec, limits, flight, ends), width="half"),
        Picture(loading_graph(stations), width="half"),
        Paragraph(
            "Loaded and with the fuel burnt, both points must lie inside the envelope. Weigh people and baggage. After every change "
            "to the empty weight this card is void.",
            small=True,
        ),
    ]  # fmt: skip
    return Document(spec.title or "Loading", reference, "", seal, tuple(blocks))


def _value(outcome: Outcome, name: str) -> float:
    return float(str(outcome.results[name].value))
