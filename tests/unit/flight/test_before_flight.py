"""Papers, the inspection's lines, cards: what must hold whatever the aeroplane."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from ribwright.core.flight.cards import card, card_document, cards, phase
from ribwright.core.flight.inspection import Looked, looks
from ribwright.core.flight.paper import papers, path
from ribwright.core.planning.papers import paper_tasks
from ribwright.core.planning.tasks import Plan
from ribwright.core.writers.to_pdf import pdf_of_document
from ribwright.errors import CycleError, OutOfRangeError, UnknownNameError

FIRST = date(2027, 9, 1)


def test_every_paper_is_begun_before_what_waits_for_it() -> None:
    dues = path(papers(), first_flight=FIRST, done={})
    begin = {due.paper.key: due.begin_by for due in dues}
    assert len(begin) == 15
    for due in dues:
        assert due.begin_by + timedelta(days=due.paper.lead_days) <= FIRST
        for need in due.paper.needs:
            ready = begin[need] + timedelta(days=next(d.paper.lead_days for d in dues if d.paper.key == need))
            assert ready <= due.begin_by
        assert due.paper.rule
        assert due.paper.says
        assert due.paper.evidence
        assert due.paper.read


def test_a_rule_from_memory_is_not_said_to_be_read() -> None:
    for one in papers():
        assert (one.read == "not read") == (one.rung in ("memory", "practice"))


def test_a_country_puts_its_own_rows_over_ours() -> None:
    own = papers(
        {
            "repairman": {"drop": "yes"},
            "noise": {"what": "Noise certificate", "rule": "local", "lead_days": "40", "needs": "weighing"},
        }
    )
    keys = {one.key for one in own}
    assert "noise" in keys
    assert "repairman" not in keys
    assert next(one for one in own if one.key == "noise").rung == "practice"
    with pytest.raises(CycleError):
        papers({"weighing": {"needs": "application"}})
    with pytest.raises(OutOfRangeError, match="lead_days"):
        papers({"weighing": {"lead_days": "soon"}})
    with pytest.raises(UnknownNameError, match="colour"):
        papers({"weighing": {"colour": "red"}})
    with pytest.raises(UnknownNameError, match="rung"):
        papers({"weighing": {"rung": "compared"}})


def test_papers_hang_in_the_plan() -> None:
    from ribwright.core.planning.network import network
    from ribwright.core.planning.problems import checked

    tasks = paper_tasks(papers(), {"ownership": "bill of sale"}, after={})
    by_key = {task.key: task for task in tasks}
    assert by_key["paper-ownership"].done
    assert by_key["paper-registration"].cure_hours == 60 * 24
    assert set(by_key["paper-inspection"].needs) <= set(by_key)
    plan, faults = checked(Plan(FIRST, tasks))
    assert not faults
    assert network(plan) is not None


def test_the_lines_come_from_what_was_built() -> None:
    operations = [
        {"ref": "A", "title": "Wing attach bolts", "primary": True, "stages": ["fit", "bolt"], "words": ""},
        {"ref": "B", "title": "Interior trim panel", "primary": False, "stages": ["fit"], "words": ""},
        {
            "ref": "C",
            "title": "Aileron control rods",
            "primary": False,
            "stages": ["fit"],
            "words": "cotter pins",
        },
    ]
    made = {
        one.key: one for one in looks(operations, [{"ref": "D7", "about": "A", "what": "hole too large"}])
    }
    assert {"built-A", "torque-A", "built-C", "safety-C", "discrepancy-D7"} <= set(made)
    assert not [key for key in made if key.endswith("-B")]
    assert sum(one.kind == "controls" for one in made.values()) == 6
    critical = made["built-A"]
    assert Looked(critical, ()).open == "nobody has looked yet"
    assert Looked(critical, (("Ann", "fine"),)).open == "a second person has to look"
    assert Looked(critical, (("Ann", "fine"), ("Bob", "fine"))).open == ""


def test_cards_and_hours_are_both_asked_for() -> None:
    every = [(one.key, 4.0, True) for one in cards()]
    assert phase(every, asked=40).complete
    assert not phase(every, asked=60).complete
    short = phase([(k, h, k != "08") for k, h, _ in every], asked=20)
    assert short.left == ("08",)
    assert not short.complete
    assert phase([("01", 5.0, True)], asked=40).hours == 0.0  # taxiing is no flight time
    with pytest.raises(OutOfRangeError):
        phase([], asked=0)
    with pytest.raises(UnknownNameError):
        card("99")


def test_every_card_says_when_to_stop_and_fits_a_kneeboard() -> None:
    import io

    import pdfplumber

    for one in cards():
        assert one.entry
        assert one.limits
        assert one.abort
        assert one.data
        with pdfplumber.open(io.BytesIO(pdf_of_document(card_document(one), "half-letter"))) as made:
            assert len(made.pages) == 1, one.key
            assert (made.pages[0].width, made.pages[0].height) == (5.5 * 72, 8.5 * 72)
            assert "Break off" in made.pages[0].extract_text()


def test_the_first_flight_s_numbers_are_the_published_ones() -> None:
    """AC 90-89A, page 46: an hour at most, 20° of bank, 5,000 ft above the ground."""
    said = " ".join(card("03").limits)
    for printed in ("1 hour at most", "20°", "5,000 ft"):
        assert printed in said
    assert card("03").rung == "seen"
