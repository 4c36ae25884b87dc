"""Before you close it, from the store: each kind of line, taken back once, keeps the space open."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

import pytest

from closing_filled import BUILDER, DAY, NEIGHBOUR, closer_of, looked_in, make_ready, of_stage, put, reading
from ribwright.errors import ConflictError, FormatError, UnknownNameError
from ribwright.services.bench import about_to_close
from ribwright.services.closing import (
    before_closing,
    before_stage,
    blocked_closings,
    refuse_unless_ready,
    spaces,
)
from ribwright.services.dunlin import load_dunlin
from ribwright.services.lines import enter_line
from ribwright.services.project import Actor, Project, create_project
from ribwright.services.record import NewEntry, add_entries, get_object, history, new_object

SPACE, TANK = "DN-21-A", "DN-31-N"
COUNT = itertools.count()


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Project]:
    folder = tmp_path_factory.mktemp("closing") / "p"
    with create_project(
        folder, name="Dunlin", actor=BUILDER, request_id="made", now=lambda: f"{DAY}T10:00:00Z"
    ) as made:
        put(made, "DN-21", "DN-31")
        make_ready(made, closer_of(SPACE))
        make_ready(made, closer_of(TANK))
        yield made


def enter(project: Project, item: NewEntry, actor: Actor = BUILDER) -> int:
    return add_entries(project, actor=actor, request_id=f"t{next(COUNT)}", items=[item])[0].seq


def undo(project: Project, about: str, kind: str, actor: Actor = BUILDER, **values: str) -> NewEntry:
    """Take the newest standing entry of this kind back; gives it, to be entered again."""
    for line in reversed(history(project, about)):
        body = line.entry.body
        if (
            line.stands
            and line.entry.kind == kind
            and all(body.get(name) == value for name, value in values.items())
        ):
            add_entries(
                project, actor=actor, request_id=f"t{next(COUNT)}", items=[NewEntry("undo", {}, about, corrects=line.entry.seq)]
            )  # fmt: skip
            return NewEntry(kind, dict(body), about)
    raise AssertionError(f"nothing of this kind about {about}")


def open_keys(project: Project, space: str = SPACE) -> set[str]:
    return {line.key for line in before_closing(project, closer_of(space)).open}


@pytest.mark.parametrize("space", [SPACE, TANK])
def test_it_is_ready_when_no_line_is_open(project: Project, space: str) -> None:
    standing = before_closing(project, closer_of(space))
    assert standing.open == ()
    assert standing.ready
    assert standing.space == space
    kinds = {line.key for line in standing.lines}
    assert {"work", "heads", "finish", "film", "hardware", "photo", "second", "discrepancy", "hand"} <= kinds


def test_every_line_has_its_own_words(project: Project) -> None:
    """A line is entered by its words: two with the same could never both be done."""
    for space in (SPACE, TANK):
        said = [line.text for line in before_closing(project, closer_of(space)).lines]
        assert len(said) == len(set(said))


def test_what_is_counted_is_a_number(project: Project) -> None:
    undo(project, "DN-21-P02", "reading", requirement="nut plates")
    closer = closer_of(SPACE)
    stage, text = next(
        (stage["name"], line.text)
        for stage in get_object(project, closer).data["stages"]
        for line in before_stage(project, closer, stage["name"]).lines
        if line.about == "DN-21-P02" and line.key == "nut plates"
    )

    def counted(value: str) -> bool:
        return enter_line(
            project, actor=BUILDER, request_id=f"c{next(COUNT)}", ref=closer, stage=stage, text=text, value=value
        ).done  # fmt: skip

    with pytest.raises(FormatError, match="a whole number"):
        counted("two")
    assert not counted("1")
    assert counted(str(get_object(project, "DN-21-P02").data["nut_plates"]))


@pytest.mark.parametrize(
    ("key", "about", "kind", "values"),
    [
        ("work", "DN-21-S01", "work", {"stage": "rivet"}),
        ("heads", "DN-21-S12", "reading", {"requirement": "heads looked at"}),
        ("nut plates", "DN-21-P02", "reading", {"requirement": "nut plates"}),
        ("finish", "DN-21-S03", "material", {"stage": "finish"}),
        ("film", SPACE, "reading", {"requirement": "protective film left"}),
        ("hardware", SPACE, "reading", {"requirement": "loose hardware missing"}),
        ("twist", SPACE, "finding", {"requirement": "twist"}),
        ("photo", SPACE, "photo", {"position": "bay 4"}),
        ("second", SPACE, "visit", {}),
        ("sealing", "DN-31-T01", "material", {"stage": "seal"}),
        ("sealing", "DN-31-T01", "work", {"stage": "seal"}),
    ],
)
def test_one_line_taken_back_keeps_it_open(
    project: Project, key: str, about: str, kind: str, values: dict[str, str]
) -> None:
    space = SPACE if about.startswith("DN-21") else TANK
    actor = NEIGHBOUR if kind == "visit" else BUILDER
    if kind == "visit":
        again = _withdraw_visit(project)
    else:
        again = undo(project, about, kind, **values)
    assert key in open_keys(project, space)
    assert not before_closing(project, closer_of(space)).ready
    with pytest.raises(ConflictError):
        refuse_unless_ready(project, closer_of(space), "rivet")
    assert closer_of(space) in blocked_closings(project, about_to_close(project))
    enter(project, again, actor)
    if key == "work":
        # riveted again after the look and the twist: both count for what was there then
        enter(project, reading(about, "heads looked at", _count(project, about), "rivet"))
        enter(
            project,
            NewEntry("finding", {"requirement": "twist", "verdict": "within limits", "reason": "0.1"}, SPACE),
        )
    assert open_keys(project, space) == set()


def _count(project: Project, ref: str) -> str:
    return str(get_object(project, ref).data["fasteners"][0]["count"])


def _withdraw_visit(project: Project) -> NewEntry:
    """A visit is put right by a correction that points at it."""
    (line,) = [h for h in history(project, SPACE) if h.entry.kind == "visit" and h.stands]
    add_entries(
        project, actor=BUILDER, request_id=f"t{next(COUNT)}",
        items=[NewEntry("correction", {"because": "it was the other wing"}, SPACE, corrects=line.entry.seq)],
    )  # fmt: skip
    return looked_in(SPACE)


def test_an_open_discrepancy_keeps_it_open_until_it_is_settled(project: Project) -> None:
    seq = enter(project, NewEntry("discrepancy", {"what": "figure-eight hole in rib 2"}, "DN-2106"))
    assert open_keys(project) == {"discrepancy"}
    body = {"discrepancy": f"D{seq}", "decision": "replace", "reason": "new rib", "authority": "the builder"}
    enter(project, NewEntry("disposition", body, "DN-2106"))
    assert open_keys(project) == set()


def test_riveting_after_the_twist_was_measured_asks_for_it_again(project: Project) -> None:
    enter(project, of_stage("DN-21-S12", "rivet")[0])
    assert open_keys(project) == {"twist", "heads"}
    enter(project, reading("DN-21-S12", "heads looked at", _count(project, "DN-21-S12"), "rivet"))
    enter(
        project,
        NewEntry("finding", {"requirement": "twist", "verdict": "within limits", "reason": "0.1"}, SPACE),
    )
    assert open_keys(project) == set()


def test_the_builders_own_look_is_not_a_second_persons(project: Project) -> None:
    _withdraw_visit(project)
    enter(project, looked_in(SPACE))
    assert open_keys(project) == {"second"}
    enter(project, NewEntry("visit", {"words": "looked in", "who": f" the  {BUILDER.name.upper()}"}, SPACE))
    assert open_keys(project) == {"second"}
    enter(project, looked_in(SPACE), NEIGHBOUR)
    assert open_keys(project) == set()


def test_a_changed_drawing_keeps_it_open(project: Project) -> None:
    old = get_object(project, "DN-2100")
    enter(project, new_object("drawing", "DN-2100", {"revision": "C"}, parent=old.parent, title=old.title))
    assert "revision" in open_keys(project)
    undo(project, "DN-2100", "set")
    assert open_keys(project) == set()


def test_what_is_not_its_turn_is_not_blocked_by_the_list(project: Project) -> None:
    assert set(blocked_closings(project, about_to_close(project))) == set()
    assert {space.ref for space, _, _ in spaces(project)} >= {SPACE, TANK}
    assert not any(closed for _, _, closed in spaces(project))


def test_what_cant_be_is_refused(project: Project) -> None:
    with pytest.raises(UnknownNameError):
        before_closing(project, "DN-2101")
    with pytest.raises(UnknownNameError):
        before_stage(project, closer_of(SPACE), "paint")
    with pytest.raises(ConflictError):
        load_dunlin(project, actor=BUILDER, request_id="again")
