"""The Dunlin in a project: loaded whole, its record right, and the right aileron the left one's mirror."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from ribwright.cli.app import main
from ribwright.dunlin import dunlin
from ribwright.errors import ConflictError, ProjectExistsError, UnknownNameError
from ribwright.services.dunlin import load_dunlin, make_dunlin
from ribwright.services.mirror import mirror
from ribwright.services.operations import enter_operation, next_reference
from ribwright.services.project import Actor, Project, create_project, open_project
from ribwright.services.record import get_object, objects, set_object
from ribwright.services.seals import check
from seams import SEAM

BUILDER = Actor("Ann Bell")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("dunlin") / "p"


@pytest.fixture(scope="module")
def project(folder: Path) -> Iterator[Project]:
    with make_dunlin(folder, actor=BUILDER, request_id="demo") as made:
        yield made


def test_all_that_the_script_makes_stands_in_the_project(project: Project) -> None:
    things = {thing.ref: thing for thing in dunlin()}
    stored = {one.ref: one for one in objects(project) if one.ref != "project"}
    # the starter's systems, engine and paint are not counted beside the Dunlin's own
    assert stored.pop("plan").data == {"starter": "paper, inspection and flights"}
    assert stored.keys() == things.keys()
    for ref, one in stored.items():
        thing = things[ref]
        assert (one.noun, one.parent, one.title, one.hand) == (
            thing.noun,
            thing.parent,
            thing.title,
            thing.hand,
        )
        assert one.data == json.loads(json.dumps(thing.data))
        assert {name for name, _ in one.made_from} == set(thing.made_from)
    assert not any(one.outdated for one in stored.values())


def test_the_record_of_the_loaded_project_is_right(project: Project) -> None:
    assert not check(project).problems


def test_sent_again_it_is_not_loaded_twice(project: Project) -> None:
    before = len(objects(project))
    load_dunlin(project, actor=BUILDER, request_id="demo")
    assert len(objects(project)) == before
    with pytest.raises(ConflictError):
        load_dunlin(project, actor=BUILDER, request_id="another")


def test_mirroring_the_left_aileron_or_the_right_changes_nothing(project: Project) -> None:
    """The right one was made by the same action, and back again gives the left one's every digit."""
    for ref, to in (("DN-21", "DN-22"), ("DN-22", "DN-21")):
        digests = {one.ref: one.digest for one in objects(project)}
        other = mirror(project, actor=BUILDER, request_id=f"mirror-{ref}", ref=ref, to=to)
        assert other.made == ()
        assert other.same == 1 + len(objects(project, parent=ref))
        assert {one.ref: one.digest for one in objects(project)} == digests


def test_a_changed_left_part_marks_the_right_one_and_mirroring_brings_it_up_to_date(project: Project) -> None:
    left = get_object(project, "DN-2105")
    set_object(
        project, actor=BUILDER, request_id="thicker", noun="part", ref=left.ref, parent=left.parent, title=left.title,
        hand=left.hand, data=left.data | {"thickness": ".032"}, made_from=[name for name, _ in left.made_from],
    )  # fmt: skip
    assert get_object(project, "DN-2205").outdated
    other = mirror(project, actor=BUILDER, request_id="again", ref="DN-2105", to="DN-2205")
    assert other.made == ("DN-2205",)
    assert other.hand == "right"
    right = get_object(project, "DN-2205")
    assert right.data["thickness"] == ".032"
    assert right.hand == "right"
    assert not right.outdated


def test_what_has_no_other_hand_or_would_be_overwritten_is_refused(project: Project) -> None:
    with pytest.raises(ConflictError, match="no hand"):
        mirror(project, actor=BUILDER, request_id="m1", ref="DN-41", to="DN-43")
    with pytest.raises(ConflictError):
        mirror(project, actor=BUILDER, request_id="m2", ref="DN-2105", to="DN-2300")
    with pytest.raises(ConflictError):
        mirror(project, actor=BUILDER, request_id="m3", ref="DN-2105", to="DN-2306")
    with pytest.raises(ConflictError, match="this hand itself"):
        mirror(project, actor=BUILDER, request_id="m4", ref="DN-21", to="DN-21")
    with pytest.raises(UnknownNameError):
        mirror(project, actor=BUILDER, request_id="m5", ref="DN-99", to="DN-98")


def test_the_command_makes_it_once(tmp_path: Path) -> None:
    folder = tmp_path / "d"
    made = CliRunner().invoke(main, ["demo", str(folder)])
    assert made.exit_code == 0, made.output
    with open_project(folder) as opened:
        assert get_object(opened, "DN-21").hand == "left"
        before = len(objects(opened))
    again = CliRunner().invoke(main, ["demo", str(folder)])
    assert again.exit_code == 0, again.output
    with open_project(folder) as opened:
        assert len(objects(opened)) == before
    other = CliRunner().invoke(main, ["demo", str(folder), "--seed", "2"])
    assert isinstance(other.exception, ProjectExistsError)


def test_a_seam_mirrored_by_itself_does_not_hold_up_its_assembly(tmp_path: Path) -> None:
    """One seam first, then the whole: the mirror that stood among the left hand's goes over to the right hand's."""
    with create_project(tmp_path / "own", name="Own", actor=BUILDER, request_id="begin") as own:
        enter_operation(
            own, actor=BUILDER, request_id="seam", ref="left aileron-S01", calculation="seam", raw=SEAM,
            parent="left aileron", make_parent=True,
        )  # fmt: skip
        mirror(own, actor=BUILDER, request_id="one", ref="left aileron-S01", to="right aileron-S01")
        assert next_reference(own, "right aileron") == "right aileron-S02"
        whole = mirror(own, actor=BUILDER, request_id="all", ref="left aileron", to="right aileron")
        assert set(whole.made) == {"right aileron", "right aileron-S01"}
        right = get_object(own, "right aileron-S01")
        assert (right.parent, right.title, right.hand) == (
            "right aileron", "upper skin to spar, right aileron", "right",
        )  # fmt: skip
        assert get_object(own, "right aileron").title == "right aileron"
        assert [one.ref for one in objects(own, parent="left aileron")] == ["left aileron-S01"]
        again = mirror(own, actor=BUILDER, request_id="back", ref="right aileron", to="left aileron")
        assert again.made == ()
