"""A small project that web, browser and command-line tests share."""

from __future__ import annotations

import atexit
import functools
import io
import shutil
import tempfile
from pathlib import Path

from PIL import Image

from ribwright.services.discrepancies import ask, open_discrepancy
from ribwright.services.gauge import make_sheet
from ribwright.services.operations import enter_operation, enter_work
from ribwright.services.photos import add_photo
from ribwright.services.project import Actor, Project, create_project, open_project
from ribwright.services.record import set_object
from ribwright.services.stage_readings import enter_readings
from seams import NOSE, NOSE_REF, REF, SEAM

ANN = Actor("Ann Bell")


def filled(folder: Path) -> Project:
    """A new project with an assembly, a part, a seam with readings, and an order of work: a copy of the first one."""
    shutil.copytree(_made_once(), folder, dirs_exist_ok=True)
    return open_project(folder)


@functools.cache
def _made_once() -> Path:
    """Made by the program, entry for entry, once in a run of the tests."""
    passing = Path(tempfile.mkdtemp(prefix="filled-"))
    atexit.register(shutil.rmtree, passing, ignore_errors=True)
    _entered(passing / "p").close()
    return passing / "p"


def _entered(folder: Path) -> Project:
    project = create_project(folder, name="Test aeroplane", actor=ANN, request_id="begin")
    set_object(
        project,
        actor=ANN,
        request_id="r1",
        noun="assembly",
        ref="DN-21",
        data={},
        title="Left aileron",
        hand="left",
    )
    set_object(
        project, actor=ANN, request_id="r2", noun="part", ref="DN-2101", data={"material": "2024-T3 clad", "thickness": ".020 in"},
        parent="DN-21", title="upper skin", hand="left",
    )  # fmt: skip
    enter_operation(
        project, actor=ANN, request_id="r3", ref=REF, calculation="seam", raw=SEAM, parent="DN-21"
    )
    enter_work(
        project, actor=ANN, request_id="r4", ref=REF, stage="fit", hours="1.5", done=True, words="no gap"
    )
    enter_readings(
        project, actor=ANN, request_id="r5", ref=REF, stage="rivet",
        values=[{"requirement": "formed head height", "value": ".047", "where": "trial"}, {"requirement": "formed head height", "value": ".030", "where": "4"}],
    )  # fmt: skip
    found = open_discrepancy(
        project, actor=ANN, request_id="r6", about="DN-2101", kind="scratch", where="20 in from the inboard end", words="across the grain",
        measured={"depth": ".002 in ± .001"},
    )  # fmt: skip
    ask(project, actor=ANN, request_id="r7", discrepancy=f"D{found.seq}", words="May it be blended out?")
    # entered as it is, not worked out: only the tests that open it pay for that
    set_object(
        project, actor=ANN, request_id="r9", noun="operation", ref=NOSE_REF, parent="DN-21", title=NOSE["title"], hand="left",
        data={"calculation": "nose-roll", "inputs": NOSE, "stages": [{"name": "roll", "hours": "2"}]},
    )  # fmt: skip
    make_sheet(project, actor=ANN, request_id="r10", about=REF, kind="row")
    picture = io.BytesIO()
    Image.new("RGB", (64, 48), (90, 120, 150)).save(picture, "PNG")
    add_photo(
        project,
        actor=ANN,
        request_id="r8",
        content=picture.getvalue(),
        about=REF,
        name="bay.png",
        caption="bay 1",
    )
    set_object(
        project, actor=ANN, request_id="r-bag", noun="stock", ref="BAG", data={"kind": "hardware", "unit": "piece", "on_hand": "100", "lot": "B1"},
        title="rivets",
    )  # fmt: skip
    return project
