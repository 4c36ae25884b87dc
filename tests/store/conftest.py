"""Projects for the store's tests: each runs in a project folder and, where it is there, in PostgreSQL."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from ribwright.services.project import Actor, Project, create_project
from ribwright.services.record import set_object

BUILDER = Actor("Ann Bell", "builder")


@pytest.fixture
def place(tmp_path: Path) -> str | Path:
    return tmp_path / "dunlin"


@pytest.fixture
def project(place: str | Path) -> Iterator[Project]:
    with create_project(place, name="Dunlin", actor=BUILDER, request_id="made") as made:
        yield made


@pytest.fixture
def seam(project: Project) -> str:
    """One operation on one part of the left aileron."""
    set_object(project, actor=BUILDER, request_id="o1", noun="aircraft", ref="DN", data={})
    set_object(
        project,
        actor=BUILDER,
        request_id="o2",
        noun="part",
        ref="DN-2101",
        parent="DN",
        data={"thickness": ".020"},
    )
    set_object(
        project,
        actor=BUILDER,
        request_id="o3",
        noun="operation",
        ref="DN-2101/seam",
        parent="DN-2101",
        data={"rivet": "AN426AD3"},
        made_from=["DN-2101"],
    )
    return "DN-2101/seam"


@pytest.fixture
def enter(project: Project) -> Callable[..., int]:
    """Make an entry as the builder; gives its number."""
    from ribwright.services.record import add_entry

    count = iter(range(10_000))

    def enter(
        kind: str, about: str = "", *, actor: Actor = BUILDER, corrects: int | None = None, **body: object
    ) -> int:
        return add_entry(
            project,
            actor=actor,
            request_id=f"e{next(count)}",
            kind=kind,
            about=about,
            body={name.rstrip("_"): value for name, value in body.items()},
            corrects=corrects,
        ).seq

    return enter
