"""A spoiled hole of a seam: only the hole is typed, the answer comes at once, the page for the designer is ready."""

from __future__ import annotations

import io
import json
import subprocess
import sys

from pdfplumber import open as open_pdf
from PIL import Image
from starlette.testclient import TestClient

from filled import ANN
from ribwright.services.photos import add_photo
from ribwright.services.project import Project
from ribwright.services.record import discrepancies, get_object
from ribwright.services.spoiled import from_the_seam
from seams import REF

HEADERS = {"origin": "http://127.0.0.1:8370"}


def typed(**more: str) -> dict[str, str]:
    return {
        "request": "spoiled-12345678",
        "what": "oversize hole",
        "hole": "7",
        "largest": ".112",
        "uncertainty": ".002",
        **more,
    }


def test_the_seam_gives_stack_head_size_and_drawing(project: Project) -> None:
    raw = from_the_seam(project, REF)
    assert raw["size"] == "3/32"
    assert raw["head"].startswith("flush")
    assert raw["layers"][0]["thickness"].startswith(".020")
    assert raw["drawing"]
    assert raw["drawn_edge"]


def test_the_answer_comes_without_typing_the_stack_and_nothing_is_entered_yet(
    client: TestClient, project: Project
) -> None:
    before = len(discrepancies(project))
    page = client.post(f"/operation/{REF}/spoiled", data=typed(), headers=HEADERS)
    assert page.status_code == 200
    assert "next larger" in page.text or "1/8" in page.text
    assert "%" in page.text
    assert "Put it in the record" in page.text
    assert len(discrepancies(project)) == before


def test_entered_it_blocks_and_its_page_carries_numbers_percent_and_photo(
    client: TestClient, project: Project
) -> None:
    out = io.BytesIO()
    Image.new("RGB", (320, 240), (120, 60, 40)).save(out, "JPEG")
    add_photo(
        project, actor=ANN, request_id="photo-of-hole-1", content=out.getvalue(), about=REF, caption="hole 7, steel rule"
    )  # fmt: skip
    form = typed(enter="yes", what="short edge distance", edge=".14", drawn_edge="5/16")
    for _ in range(2):
        answer = client.post(f"/operation/{REF}/spoiled", data=form, headers=HEADERS)
        assert answer.status_code == 303
    rows = [row for row in discrepancies(project) if "hole 7" in row["what"]]
    assert len(rows) == 1
    pdf = client.get(f"/discrepancy/{rows[0]['ref']}/question.pdf")
    with open_pdf(io.BytesIO(pdf.content)) as read:
        words = " ".join((page.extract_text() or "") for page in read.pages)
        assert len(read.pages) == 1
        pictures = sum(len(page.images) for page in read.pages)
    for said in ("edge distance found", "0.140 in", "As built against as drawn", "hole 7, steel rule", "%"):
        assert said in words
    assert pictures >= 1


def test_a_mistyped_number_is_named_and_what_was_typed_is_kept(client: TestClient) -> None:
    page = client.post(f"/operation/{REF}/spoiled", data=typed(largest="3 furlongs"), headers=HEADERS)
    assert page.status_code == 422
    assert "Largest across the hole" in page.text
    assert "3 furlongs" in page.text


def test_on_a_primary_part_nothing_is_proposed(client: TestClient) -> None:
    page = client.post(f"/operation/{REF}/spoiled", data=typed(primary="yes"), headers=HEADERS)
    assert "none until the designer answers" in page.text


def test_the_command_gives_the_same_answer_and_enters_it(project: Project, tmp_path_factory) -> None:  # type: ignore[no-untyped-def]
    pdf = tmp_path_factory.mktemp("q") / "q.pdf"
    words = [
        "--what",
        "oversize hole",
        "--hole",
        "9",
        "--largest",
        ".112",
        "--enter",
        "--question",
        str(pdf),
        "--json",
    ]
    done = subprocess.run(
        [sys.executable, "-m", "ribwright", "operation", "spoiled", REF, *words, "--project", str(project.store.folder)],
        capture_output=True, text=True,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert said["results"]["answer"]["value"] in ("within limits", "mend", "ask")
    assert said["discrepancy"] in {row["ref"] for row in discrepancies(project)}
    assert pdf.read_bytes().startswith(b"%PDF")
    assert get_object(project, REF).ref == REF


def test_the_hand_of_the_seam_goes_onto_the_sheet_and_the_page_for_the_designer(project: Project) -> None:
    from ribwright.services.spoiled import judge_spoiled

    said = get_object(project, REF).hand
    assert said in ("left", "right")
    done = judge_spoiled(project, REF, {"what": "oversize hole", "largest": ".2"})
    assert done.spec.hand == said
    assert {sheet.hand for sheet in done.outcome.sheets} == {said}
    assert f"{said.upper()} HAND" in str(done.outcome.results["question"].value)
    other = "right" if said == "left" else "left"
    assert judge_spoiled(project, REF, {"hand": other, "largest": ".2"}).spec.hand == other


def test_what_is_wanting_is_named_and_a_hole_that_the_row_has_not_is_refused(project: Project) -> None:
    import pytest

    from ribwright.errors import OutOfRangeError
    from ribwright.services.calculations import run_calculation
    from ribwright.services.spoiled import judge_spoiled

    with pytest.raises(OutOfRangeError, match="Hole number"):
        judge_spoiled(project, REF, {"hole": "999", "largest": ".112"})
    said = {
        name: str(run_calculation("mistake", {"title": "row", "head": "universal", "largest": ".112", **more}).outcome.results["why"].value)
        for name, more in {
            "both": {}, "edge": {"pitch": "1 in"}, "neighbour": {"edge": ".3"}, "near": {"edge": ".1", "pitch": "1 in"}, "good": {"edge": ".3", "pitch": "1 in"},
        }.items()
    }  # fmt: skip
    assert "its edge distance and distance to the nearest neighbour were not entered" in said["both"]
    assert "its edge distance was not entered: measure and enter it" in said["edge"]
    assert "its distance to the nearest neighbour was not entered" in said["neighbour"]
    assert said["near"].endswith("its edge distance does not hold.")
    assert "cleans the hole up" in said["good"]
