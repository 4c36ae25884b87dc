"""Mistakes that builders make, planted one at a time: each is stopped before the step that can't be undone.

Before each planting the step is ready; after it exactly the lines of that mistake are open, the service
refuses to go on, and a neighbouring operation is not held up; taken back, the step is ready again.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import pytest

from closing_filled import BUILDER, DAY, closer_of, looked_in, make_ready, put, reading, set_up, thing
from ribwright.errors import ConflictError
from ribwright.services.closing import before_stage, refuse_unless_ready
from ribwright.services.project import Project, create_project
from ribwright.services.record import NewEntry, add_entries, get_object, history, new_object

BOX, NOSE = closer_of("DN-21-A"), closer_of("DN-31-N")
FRONT = next(
    f"DN-21-S{n:02d}" for n in range(1, 40) if thing(f"DN-21-S{n:02d}").title.startswith("upper skin to spar")
)
ROW, NEIGHBOUR_ROW = "DN-21-S12", "DN-21-S13"
STEPS = (
    (BOX, "rivet"),
    (NOSE, "rivet"),
    (FRONT, "rivet"),
    (ROW, "rivet"),
    (ROW, "dimple and countersink"),
    (ROW, "drill"),
)
STEPS += ((NEIGHBOUR_ROW, "rivet"), ("DN-31-T01", "seal"))
COUNT = itertools.count()


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Project]:
    folder = tmp_path_factory.mktemp("planted") / "p"
    with create_project(
        folder, name="Dunlin", actor=BUILDER, request_id="made", now=lambda: f"{DAY}T10:00:00Z"
    ) as made:
        put(made, "DN-21", "DN-31")
        make_ready(made, BOX)
        make_ready(made, NOSE)
        for ref in {ref for ref, stage in STEPS if stage == "rivet"}:
            enter(made, *set_up(ref))
        yield made


def enter(project: Project, *items: NewEntry) -> list[int]:
    return [e.seq for e in add_entries(project, actor=BUILDER, request_id=f"p{next(COUNT)}", items=items)]


def take_back(project: Project, about: str, seqs: Sequence[int]) -> None:
    enter(project, *(NewEntry("undo", {}, about, corrects=seq) for seq in reversed(seqs)))


def open_at(project: Project, step: tuple[str, str]) -> set[str]:
    return {line.key for line in before_stage(project, *step).open}


def material(ref: str, item: str, stage: str, **more: str) -> NewEntry:
    return NewEntry("material", {"item": item, "lot": "X9", "quantity": "1", "stage": stage, **more}, ref)


def finding(ref: str, name: str, verdict: str, **more: str) -> NewEntry:
    return NewEntry(
        "finding", {"requirement": name, "verdict": verdict, "reason": "as measured", **more}, ref
    )


# mistake -> (the step it must stop, the lines that open, what is entered)
PLANTED = {
    "two of one hand: a rib bent like the one for the other side": ((ROW, "drill"), {"hand"}, [reading("DN-2106", "hand as made", "right")]),
    "two of one hand: found when the skin goes on": ((BOX, "rivet"), {"hand"}, [reading("DN-2106", "hand as made", "right")]),
    "dimple inside out: the skin marked on the wrong side": ((ROW, "dimple and countersink"), {"dimple"}, [reading(ROW, "head side marked", "inside")]),
    "dimple inside out: found on the part": ((ROW, "rivet"), {"dimple"}, [reading(ROW, "dimples as made", "inside")]),
    "hole to stay open: another hole was marked": ((FRONT, "rivet"), {"open holes"}, [reading(FRONT, "holes marked to stay open", "5, 29, 47")]),
    "hole to stay open: only some are marked": ((FRONT, "rivet"), {"open holes"}, [reading(FRONT, "holes marked to stay open", "5")]),
    "soft rivets in the tray": ((ROW, "rivet"), {"tray"}, [material(ROW, "MS20426A3-3.5", "rivet")]),
    "soft rivets in the tray of the closing row": ((BOX, "rivet"), {"tray"}, [material(BOX, "MS20426A3-3.5", "rivet")]),
    "wrong length bag": ((ROW, "rivet"), {"tray"}, [material(ROW, "MS20426AD3-5", "rivet")]),
    "wrong head": ((ROW, "rivet"), {"tray"}, [material(ROW, "MS20470AD3-3.5", "rivet")]),
    "film left": ((BOX, "rivet"), {"film"}, [reading("DN-21-A", "protective film left", "2")]),
    "film left in the tank": ((NOSE, "rivet"), {"film"}, [reading("DN-31-N", "protective film left", "1")]),
    "expired primer": ((ROW, "rivet"), {"finish"}, [material(ROW, "PRIMER", "finish", expires="2027-02-28", day=DAY)]),
    "expired sealant in the pot": (("DN-31-T01", "seal"), {"sealing"}, [material("DN-31-T01", "SEALANT-TANK", "seal", expires="2027-02-28", day=DAY)]),
    "expired sealant in the closed tank": ((NOSE, "rivet"), {"sealing"}, [material("DN-31-T01", "SEALANT-TANK", "seal", expires="2027-02-28", day=DAY)]),
    "twist": ((BOX, "rivet"), {"twist"}, [finding("DN-21-A", "twist", "rework")]),
    "twist not told from its limit": ((BOX, "rivet"), {"twist"}, [finding("DN-21-A", "twist", "undecided")]),
    "twist beyond mending": ((BOX, "rivet"), {"twist", "discrepancy"}, [finding("DN-21-A", "twist", "refer")]),
    "loose rivet in the row": ((BOX, "rivet"), {"heads"}, [finding(ROW, "formed head height", "rework", stage="rivet", where="hole 3")]),
    "a head not told from its limit": ((BOX, "rivet"), {"heads"}, [finding(ROW, "formed head diameter", "undecided", stage="rivet", where="hole 3")]),
    "loose rivet lying inside": ((BOX, "rivet"), {"hardware"}, [reading("DN-21-A", "loose hardware missing", "1")]),
    "heads not all looked at": ((BOX, "rivet"), {"heads"}, [reading(ROW, "heads looked at", "5", "rivet")]),
    "one nut plate short": ((BOX, "rivet"), {"nut plates"}, [reading("DN-21-P02", "nut plates", "1", "rivet")]),
    "trial piece out of limits": ((ROW, "rivet"), {"trial"}, [finding(ROW, "formed head height", "rework", stage="rivet", where="trial")]),
    "rib spoiled and not settled": ((ROW, "rivet"), {"discrepancy"}, [NewEntry("discrepancy", {"what": "egg-shaped hole"}, "DN-2106")]),
    "rib spoiled, and the box about to be closed": ((BOX, "rivet"), {"discrepancy"}, [NewEntry("discrepancy", {"what": "egg-shaped hole"}, "DN-2106")]),
}  # fmt: skip


@pytest.mark.parametrize("step", STEPS, ids=str)
def test_without_a_mistake_every_step_is_ready(project: Project, step: tuple[str, str]) -> None:
    assert open_at(project, step) == set()
    refuse_unless_ready(project, *step)


@pytest.mark.parametrize("name", PLANTED)
def test_the_mistake_is_stopped_and_nothing_else(project: Project, name: str) -> None:
    step, keys, items = PLANTED[name]
    seqs = enter(project, *items)
    try:
        assert open_at(project, step) == keys
        with pytest.raises(ConflictError):
            refuse_unless_ready(project, *step)
        assert open_at(project, (NEIGHBOUR_ROW, "rivet")) == set()
        if step[0].startswith("DN-21"):
            assert open_at(project, (NOSE, "rivet")) == set()
        else:
            assert open_at(project, (BOX, "rivet")) == set()
    finally:
        take_back(project, items[0].about, seqs)
    assert open_at(project, step) == set()


def standing_entries(project: Project, about: str, kind: str, **values: str) -> list[NewEntry]:
    """Take all standing entries of this kind back; gives them, oldest first."""
    found = [
        line.entry for line in history(project, about)
        if line.stands and line.entry.kind == kind and all(line.entry.body.get(k) == v for k, v in values.items())
    ]  # fmt: skip
    take_back(project, about, [entry.seq for entry in found])
    return [NewEntry(kind, dict(entry.body), about) for entry in found]


# mistake -> (the step, the lines, what was forgotten: object, kind, values)
FORGOTTEN = {
    "nut plates left until after closing": ((BOX, "rivet"), {"work", "nut plates"}, [("DN-21-P02", "work", {"stage": "rivet"}), ("DN-21-P02", "reading", {"requirement": "nut plates"})]),
    "no primer": ((ROW, "rivet"), {"finish"}, [(ROW, "material", {"stage": "finish"})]),
    "no primer, found before closing": ((BOX, "rivet"), {"finish"}, [(ROW, "material", {"stage": "finish"})]),
    "not deburred": ((ROW, "rivet"), {"order"}, [(ROW, "work", {"stage": "deburr"})]),
    "no trial piece": ((ROW, "rivet"), {"trial"}, [(ROW, "finding", {"where": "trial"})]),
    "no photo of one bay": ((BOX, "rivet"), {"photo"}, [("DN-21-A", "photo", {"position": "bay 2"})]),
    "hardware not counted": ((BOX, "rivet"), {"hardware"}, [("DN-21-A", "reading", {"requirement": "loose hardware missing"})]),
    "twist not measured": ((BOX, "rivet"), {"twist"}, [("DN-21-A", "finding", {"requirement": "twist"})]),
    "tank not sealed": ((NOSE, "rivet"), {"work", "sealing"}, [("DN-31-T01", "work", {"stage": "seal"}), ("DN-31-T01", "material", {"stage": "seal"})]),
    "nothing taken from a bag": ((ROW, "rivet"), {"tray"}, [(ROW, "material", {"stage": "rivet"})]),
}  # fmt: skip


@pytest.mark.parametrize("name", FORGOTTEN)
def test_what_was_forgotten_is_asked_for_and_nothing_else(project: Project, name: str) -> None:
    step, keys, missing = FORGOTTEN[name]
    again = [
        item for about, kind, values in missing for item in standing_entries(project, about, kind, **values)
    ]
    assert again
    assert open_at(project, step) == keys
    with pytest.raises(ConflictError):
        refuse_unless_ready(project, *step)
    assert open_at(project, (NEIGHBOUR_ROW, "rivet")) == set()
    enter(project, *again)
    if name.startswith("nut plates") or name == "not deburred":
        # the box was riveted on since: the twist counts for what was there when it was measured
        enter(
            project,
            NewEntry(
                "finding", {"requirement": "twist", "verdict": "within limits", "reason": "0.1"}, "DN-21-A"
            ),
        )
    assert open_at(project, step) == set()


def test_an_old_drawing_revision_stops_the_first_hole(project: Project) -> None:
    old = get_object(project, "DN-2100")
    seqs = enter(
        project, new_object("drawing", "DN-2100", {"revision": "C"}, parent=old.parent, title=old.title)
    )
    assert open_at(project, (ROW, "drill")) == {"revision"}
    assert open_at(project, (BOX, "rivet")) == {"revision"}
    assert open_at(project, (NOSE, "rivet")) == set()
    take_back(project, "DN-2100", seqs)
    assert open_at(project, (ROW, "drill")) == set()


def test_a_trial_piece_of_yesterday_does_not_serve_today(project: Project) -> None:
    later = Project(project.id, project.name, project.store, lambda: "2027-03-02T19:00:00Z")
    assert open_at(later, (ROW, "rivet")) == {"trial"}
    with pytest.raises(ConflictError, match="trial piece"):
        refuse_unless_ready(later, ROW, "rivet")


def test_sealant_whose_date_in_stores_has_passed_is_stopped(project: Project) -> None:
    stock = get_object(project, "SEALANT-TANK")
    seqs = enter(
        project, new_object("stock", stock.ref, stock.data | {"expires": "2027-01-31"}, title=stock.title)
    )
    assert open_at(project, ("DN-31-T01", "seal")) == {"sealing"}
    take_back(project, stock.ref, seqs)
    assert open_at(project, ("DN-31-T01", "seal")) == set()


def test_the_builders_own_look_does_not_close_a_space(project: Project) -> None:
    visits = [
        line.entry for line in history(project, "DN-21-A") if line.entry.kind == "visit" and line.stands
    ]
    enter(
        project,
        *(NewEntry("correction", {"because": "wrong space"}, "DN-21-A", corrects=v.seq) for v in visits),
        looked_in("DN-21-A"),
    )
    assert open_at(project, (BOX, "rivet")) == {"second"}
