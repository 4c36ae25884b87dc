"""What is kept from the objects stays right: hours and notes leave it alone, anything that moves an object drops it."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from ribwright.core.record.projections import MOVE_OBJECTS
from ribwright.services.bench import network, next_on_bench
from ribwright.services.project import Actor, Project
from ribwright.services.record import get_object, objects, set_object
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
