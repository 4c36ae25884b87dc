"""What is kept from the objects stays right: hours and notes leave it alone, anything that moves an object drops it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ribwright.core.record.projections import MOVE_OBJECTS
from ribwright.services.bench import network, next_on_bench, planned
from ribwright.services.project import Actor, Project
from ribwright.services.record import get_object, history, objects, set_object
from ribwright.services.remembered import of_each
from ribwright.store import objects as stored

ANN = Actor("Ann Bell", "builder")
STAGES = [{"name": "drill"}, {"name": "rivet"}]


def _as_stored(project: Project) -> tuple[stored.StoredObject, ...]:
    with project.store.read() as connection:
        return stored.some(connection, project.id)


def _stages(project: Project, ref: str) -> None:
    one = get_object(project, ref)
    set_object(
        project, actor=ANN, request_id="stages", noun="operation", ref=ref, parent=one.parent, data={**one.data, "stages": STAGES},
        made_from=[above for above, _ in one.made_from],
    )  # fmt: skip


def test_hours_notes_and_findings_leave_the_objects_where_they_are(
    project: Project, seam: str, enter: Callable[..., int]
) -> None:
    _stages(project, seam)
    kept, drawn = objects(project), network(project)
    made = {
        "note": enter("note", seam, words="cold today"),
        "work": enter("work", seam, stage="drill", hours="1", done="yes"),
        "reading": enter("reading", seam, stage="drill", requirement="diameter", value="0.1 in"),
        "discrepancy": enter("discrepancy", seam, what="one hole is oval"),
    }
    made["question"] = enter("question", seam, words="may it stay?")
    made["correction"] = enter(
        "correction",
        seam,
        corrects=made["work"],
        because="it was two",
        instead={"stage": "drill", "hours": "2", "done": "yes"},
    )
    assert not set(made) & set(MOVE_OBJECTS)
    assert objects(project) is kept
    assert network(project) is drawn
    assert kept == _as_stored(project)
    # what depends on the hours too is another matter: drilling is done, the hole holds up the rest
    assert [line.stage for line in next_on_bench(project).waiting] == ["rivet"]


@pytest.mark.parametrize("how", ["entered anew", "withdrawn", "taken back", "made from something that moved"])
def test_an_object_that_moves_is_read_again(
    project: Project, seam: str, enter: Callable[..., int], how: str
) -> None:
    _stages(project, seam)
    kept, drawn = objects(project), network(project)
    assert kept == _as_stored(project)
    if how == "entered anew":
        set_object(
            project,
            actor=ANN,
            request_id="anew",
            noun="operation",
            ref=seam,
            parent="DN-2101",
            data={"stages": STAGES[:1]},
        )
    elif how == "withdrawn":
        enter("withdraw", seam, because="not needed")
    elif how == "taken back":
        enter("undo", seam, corrects=get_object(project, seam).seq)
    else:
        set_object(
            project,
            actor=ANN,
            request_id="anew",
            noun="part",
            ref="DN-2101",
            parent="DN",
            data={"thickness": ".025"},
        )
    assert objects(project) != kept
    assert objects(project) == _as_stored(project)
    if how != "made from something that moved":
        assert network(project).operations != drawn.operations


def test_of_each_object_only_what_moved_is_read_again(
    project: Project, seam: str, enter: Callable[..., int]
) -> None:
    read: list[str] = []

    @of_each("operation", "part")
    def titles(one: stored.StoredObject) -> str | None:
        read.append(one.ref)
        return one.title or None

    def as_stored() -> dict[str, str]:
        return {one.ref: one.title for one in _as_stored(project) if one.noun in ("operation", "part") and one.title}  # fmt: skip

    def enter_part(ref: str, title: str) -> int:
        set_object(project, actor=ANN, request_id=f"{ref}-{len(title)}", noun="part", ref=ref, parent="DN", data={}, title=title)  # fmt: skip
        return get_object(project, ref).seq

    enter_part("DN-5", "rib")
    assert titles(project) == as_stored()
    kept = titles(project)
    enter("work", seam, stage="drill", hours="1")
    read.clear()
    assert titles(project) is kept
    assert not read
    steps: list[Callable[[], object]] = [
        lambda: enter_part("DN-4", "spar"),
        lambda: enter_part("DN-5", "nose rib"),
        lambda: enter("undo", "DN-5", corrects=get_object(project, "DN-5").seq),
        lambda: enter("withdraw", "DN-4", because="not needed"),
        lambda: enter("withdraw", "DN-5", because="not needed"),
        lambda: enter("undo", "DN-5", corrects=history(project, "DN-5")[-1].entry.seq),
        lambda: enter_part("DN-6", ""),
        lambda: enter("undo", "DN-6", corrects=get_object(project, "DN-6").seq),
    ]
    for step in steps:
        read.clear()
        step()
        made = titles(project)
        assert made == as_stored()
        assert list(made) == sorted(made)
        assert set(read) <= {"DN-4", "DN-5", "DN-6"}, "others are left alone"
    kept = titles(project)
    enter_part("DN-7", "")
    assert titles(project) is kept, "nothing of it has changed"


def test_an_assembly_in_which_nothing_changed_is_taken_over(
    project: Project, seam: str, enter: Callable[..., int]
) -> None:
    _stages(project, seam)
    for ref in ("DN-7", "DN-8"):
        set_object(project, actor=ANN, request_id=ref, noun="assembly", ref=ref, data={})
    for ref, parent, after in (("DN-7-S1", "DN-7", []), ("DN-8-S1", "DN-8", ["DN-7-S1"])):
        set_object(project, actor=ANN, request_id=ref, noun="operation", ref=ref, parent=parent, data={"stages": STAGES, "after": after})  # fmt: skip
    before = network(project)
    assert [line.ref for line in next_on_bench(project).waiting] == ["DN-8-S1"]
    set_object(project, actor=ANN, request_id="less", noun="operation", ref="DN-7-S1", parent="DN-7", data={"stages": STAGES[:1]})  # fmt: skip
    after_it = network(project)
    assert after_it.assemblies["DN-8"] is before.assemblies["DN-8"]
    assert after_it.assemblies["DN-7"] is not before.assemblies["DN-7"]
    assert set(planned(project)) == set(before.operations)
    # finishing it in its own assembly frees what waits for it in the other
    enter("work", "DN-7-S1", stage="drill", hours="1", done="yes")
    made = next_on_bench(project)
    assert not made.waiting
    assert (made.done, made.stages) == (1, 5)
    set_object(project, actor=ANN, request_id="ring", noun="operation", ref="DN-7-S1", parent="DN-7", data={"stages": STAGES, "after": ["DN-8-S1"]})  # fmt: skip
    assert "waits for" in next_on_bench(project).problems[0]
