"""A gauge sheet from the operation to the paper and back: its print has the markers where its layout says, and a
photo on it ends as reading, finding and overlay in the record."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from starlette.testclient import TestClient

from filled import ANN, filled
from photo.render_camera import sheet_texture
from ribwright.core.metrology.two_photos import together
from ribwright.core.scene import Table
from ribwright.errors import OutOfRangeError, UnknownNameError
from ribwright.services.entering import add_entries, new_object
from ribwright.services.evidence import evidence_document
from ribwright.services.gauge import make_sheet, sheet_of, sheet_pdf, take_template, typed_for
from ribwright.services.gauge_measure import IN_ROW, PROFILE
from ribwright.services.operations import operation_view
from ribwright.services.project import Project
from ribwright.services.record import findings, get_object, history, photos, readings
from ribwright.services.seals import check
from ribwright.web.app import create_app
from seams import NOSE_REF, REF

ROW = f"{IN_ROW['formed heads']}, by photo"
DATA = Path(__file__).parent.parent / "data" / "photo"
HEADERS = {"origin": "http://127.0.0.1:8370"}


def _png_header(width: int, height: int) -> bytes:
    """The beginning of a picture that says how large it is, and little more."""
    about = b"IHDR" + width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes((8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n\0\0\0\r" + about + zlib.crc32(about).to_bytes(4, "big") + b"\0" * 200


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Project:
    made = filled(tmp_path_factory.mktemp("gauge") / "p")
    for ref, name, about, kind in (
        (f"{NOSE_REF}-G90", "a01.card", NOSE_REF, "profile"),
        (f"{REF}-G90", "b02.strip", REF, "row"),
        (f"{REF}-G91", "own_holes.strip", REF, "row"),
    ):
        layout = (DATA / f"{name}.json").read_text()
        data = {"gauge": kind, "for": about, "paper": "a4", "layout": layout}
        add_entries(
            project := made, actor=ANN, request_id=f"layout-{ref}", items=[new_object("tool", ref, data)]
        )
    return project


@pytest.fixture(scope="module")
def client(project: Project) -> TestClient:
    return TestClient(
        create_app(project, actor=ANN), base_url="http://127.0.0.1:8370", follow_redirects=False
    )


@pytest.mark.parametrize(
    ("about", "kind", "paper"),
    [(NOSE_REF, "profile", "letter"), (NOSE_REF, "profile", "a4"), (REF, "row", "letter")],
)
def test_the_print_has_every_marker_where_the_layout_says(
    project: Project, about: str, kind: str, paper: str
) -> None:
    import cv2

    sheet = make_sheet(
        project,
        actor=ANN,
        request_id=f"print-{kind}-{paper}",
        about=about,
        kind=kind,
        place="0" if kind == "profile" else "",
        paper=paper,
    )
    with pypdfium2.PdfDocument(sheet_pdf(project, sheet.ref)) as pdf:
        assert len(pdf) == 2
        px = pdf[0].render(scale=200 / 72).to_numpy()[..., 0]
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_250)
    found, ids, _ = cv2.aruco.ArucoDetector(book).detectMarkers(px)
    asked = {marker["id"]: np.array(marker["corners"]) for marker in sheet.layout["markers"]}
    assert ids is not None
    assert {int(i) for i in ids.ravel()} == set(asked)
    mm = {int(i): c.reshape(4, 2) * 25.4 / 200 for i, c in zip(ids.ravel(), found, strict=True)}
    off = np.array([mm[i] - asked[i] for i in asked]).reshape(-1, 2)
    # a strip lies somewhere on its page; what counts is that all markers lie alike
    off -= off.mean(axis=0) if kind == "row" else np.array([0.0, 0.0])
    # pixels of .127 mm; all markers alike to far less than one
    assert np.abs(off).max() < 0.2
    assert np.abs(off.mean(axis=0)).max() < 0.07
    widths = np.array([np.ptp(mm[i], axis=0) - np.ptp(asked[i], axis=0) for i in asked])
    assert np.abs(widths.mean()) < 0.13


@pytest.mark.parametrize("place", ["0", "10"])
def test_the_print_is_black_and_white_where_the_rendered_sheets_are(project: Project, place: str) -> None:
    """Thresholds are set on rendered sheets: what is printed must be the same, above all round the window."""
    import cv2

    sheet = make_sheet(
        project, actor=ANN, request_id=f"same-{place}", about=NOSE_REF, kind="profile", place=place, paper="a4"
    )  # fmt: skip
    with pypdfium2.PdfDocument(sheet_pdf(project, sheet.ref)) as pdf:
        printed = pdf[0].render(scale=10 * 25.4 / 72).to_numpy()[..., 0] > 127
        assert pdf[0].get_size() == pytest.approx(pdf[1].get_size()[::-1], abs=1.0)  # both of one paper
    drawn = sheet_texture(json.loads(json.dumps(sheet.layout)), 10.0) > 0.45
    high, wide = min(printed.shape[0], drawn.shape[0]), min(printed.shape[1], drawn.shape[1])
    differs = (printed[:high, :wide] != drawn[:high, :wide]).astype(np.uint8)
    # edges a texel off and thin lines apart, half a millimetre and more: nothing, on the whole board and in its window
    differs = cv2.morphologyEx(differs, cv2.MORPH_OPEN, np.ones((5, 5), np.uint8))
    assert differs[150:1950, 160:].sum() == 0
    white = drawn[150:1950, 160:].mean()
    assert 0.3 < white < 0.8


def test_a_profile_photo_ends_in_the_record_with_its_overlay(client: TestClient, project: Project) -> None:
    typed = json.loads((DATA / "a01.input.json").read_text())
    truth = json.loads((DATA / "a01.truth.json").read_text())
    form = {
        "request": "photo-12345678", "stage": "roll", "tolerance_mm": str(typed["tolerance_mm"]), "edge_treatment": typed["edge_treatment"],
        "edge_height_above_card_mm": str(typed["edge_height_above_card_mm"]), "sheet_thickness_mm": str(typed["sheet_thickness_mm"]), "mount": typed["mount"],
        **{f"bar.{bar['name']}": str(bar["measured_mm"]) for bar in typed["bars_measured"]},
    }  # fmt: skip
    content = (DATA / "a01.jpg").read_bytes()
    answer = client.post(
        f"/photo/gauge/{NOSE_REF}-G90", data=form, files={"photo": ("a01.jpg", content), "photo2": ("again.jpg", content)}, headers=HEADERS
    )  # fmt: skip
    assert answer.status_code == 200, answer.text[:600]
    read = [row for row in readings(project, NOSE_REF) if row["requirement"] == PROFILE]
    assert len(read) == 1
    worst = float(np.nanmax(np.abs(np.array(truth["truth"]["deviation_bestfit_mm"], dtype=float))))
    assert float(read[0]["value"]) == pytest.approx(worst, abs=0.15)
    assert findings(project, NOSE_REF)[-1]["requirement"] == PROFILE
    names = [photo["name"] for photo in photos(project, NOSE_REF)]
    assert names.count("overlay.jpg") >= 1
    assert "a01.jpg" in names
    assert "Two photos agree" in answer.text
    assert "Largest deviation" in answer.text
    # how sure is what it is at the worst place, and its unit stands with it on page and paper
    u = float(read[0]["u"])
    assert u < 0.3
    story = client.get(f"/operation/{NOSE_REF}").text
    assert f"{read[0]['value']} ± {read[0]['u']} mm" in story
    evidence = "".join(
        block.rows[0][2]
        for block in evidence_document(project).blocks
        if isinstance(block, Table) and block.header[:2] == ("stage", "measured")
    )
    assert f"{read[0]['value']} ± {read[0]['u']} mm" in evidence


def test_a_bar_not_typed_is_refused_and_what_is_no_photo_is_not_kept(
    client: TestClient, project: Project
) -> None:
    sent = {"photo": ("a.jpg", (DATA / "b02.jpg").read_bytes())}
    answer = client.post(
        f"/photo/gauge/{REF}-G90", data={"request": "no-bar-123456"}, files=sent, headers=HEADERS
    )
    assert answer.status_code == 422
    assert "row of squares: " in answer.text
    before = len(photos(project, REF))
    sent = {"photo": ("a.jpg", b"GIF89a not a photo")}
    answer = client.post(
        f"/photo/gauge/{REF}-G90",
        data={"request": "no-photo-123456", "bar.strip_length": "140.0"},
        files=sent,
        headers=HEADERS,
    )
    assert answer.status_code in (415, 422)
    assert len(photos(project, REF)) == before
    with pytest.raises(UnknownNameError):
        sheet_of(project, "DN-2101")
    with pytest.raises(UnknownNameError):
        make_sheet(project, actor=ANN, request_id="wrong-12345678", about=REF, kind="profile")
    for place in ("9999", "-1 in"):
        with pytest.raises(OutOfRangeError):
            make_sheet(
                project, actor=ANN, request_id="off-12345678", about=NOSE_REF, kind="profile", place=place
            )
    between = make_sheet(project, actor=ANN, request_id="between-1", about=NOSE_REF, kind="profile", place="0.5")  # fmt: skip
    assert "cut for the template at" in between.title


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("cut.jpg", (DATA / "b02.jpg").read_bytes()[:200_000], "cut short"),
        ("phone.heic", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 400, "pip install pi-heif"),
        ("far-too-large.png", _png_header(60_000, 60_000), "Too many pixels"),
    ],
)
def test_a_photo_that_cannot_be_opened_is_kept_as_it_was_sent_with_its_refusal(
    client: TestClient,
    project: Project,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    content: bytes,
    said: str,
) -> None:
    monkeypatch.setitem(sys.modules, "pi_heif", None)  # as where it is not installed
    before = len(photos(project, REF))
    answer = client.post(
        f"/photo/gauge/{REF}-G90",
        data={"request": f"cannot-{name}", "bar.strip_length": "140.0"},
        files={"photo": (name, content)},
        headers=HEADERS,
    )
    assert answer.status_code == 200, answer.text[:600]
    assert said in answer.text
    kept = photos(project, REF)
    assert len(kept) == before + 1
    last = max(kept, key=lambda one: int(one["seq"]))
    assert said in last["caption"]
    assert last["name"] == name
    assert not last["report"]
    assert not last["thumb"]
    page = client.get(f"/operation/{REF}")
    assert f'href="/photo/{last["digest"]}"' in page.text
    assert f'src="/photo/{last["digest"]}"' not in page.text
    sent = client.get(f"/photo/{last['digest']}")
    assert sent.content == content
    if name != "cut.jpg":  # no browser is made to open what this program would not
        assert sent.headers["content-disposition"] == "attachment"
        assert sent.headers["content-type"] == "application/octet-stream"
    assert not check(project).problems


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_a_straight_edge_strip_fits_the_paper_it_is_made_for(project: Project, paper: str) -> None:
    made = make_sheet(
        project, actor=ANN, request_id=f"straight-{paper}", about=REF, kind="straightness", paper=paper
    )
    with pypdfium2.PdfDocument(sheet_pdf(project, made.ref)) as pdf:
        wide, high = pdf[0].get_size()
        assert wide > high
        assert f"{made.bars[0][1]:g} mm" in pdf[1].get_textpage().get_text_range()


def test_a_photo_of_a_straightness_strip_that_cannot_be_opened_is_a_retake_too(
    client: TestClient, project: Project
) -> None:
    made = make_sheet(project, actor=ANN, request_id="straight-12345678", about=REF, kind="straightness")
    before = len(photos(project, REF))
    answer = client.post(
        f"/photo/gauge/{made.ref}",
        data={"request": "straight-cut-short"} | {f"bar.{name}": f"{mm:.2f}" for name, mm in made.bars},
        files={"photo": ("cut.jpg", (DATA / "b02.jpg").read_bytes()[:200_000])},
        headers=HEADERS,
    )
    assert answer.status_code == 200, answer.text[:600]
    assert "cut short" in answer.text
    assert len(photos(project, REF)) == before + 1


def test_a_row_photo_gives_a_finding_a_head(client: TestClient, project: Project) -> None:
    typed = json.loads((DATA / "b02.input.json").read_text())
    form = {
        "request": "row-12345678",
        "stage": "rivet",
        "row": typed["row"],
        "expected_count": str(typed["expected_count"]),
    }
    form |= {
        name: str(typed[name])
        for name in ("rivet_D_mm", "pitch_nominal_mm", "strip_thickness_mm", "nominal_head_height_mm")
    }
    form |= {f"bar.{bar['name']}": str(bar["measured_mm"]) for bar in typed["bars_measured"]}
    answer = client.post(
        f"/photo/gauge/{REF}-G90",
        data=form,
        files={"photo": ("b02.jpg", (DATA / "b02.jpg").read_bytes())},
        headers=HEADERS,
    )
    assert answer.status_code == 200, answer.text[:600]
    read = [row for row in readings(project, REF) if row["requirement"] == ROW]
    if "take it again" in answer.text:  # an honest refusal keeps the photo with its reason
        assert "not measured" in photos(project, REF)[-1]["caption"]
        assert not read
    else:
        assert len(read) == typed["expected_count"]
        assert len([f for f in findings(project, REF) if f["requirement"] == ROW]) == len(read)
        kept = photos(project, REF)
        assert [one["name"] for one in kept][-2:] == ["b02.jpg", "overlay.jpg"]
        assert f"/photo/{kept[-1]['report']}" in answer.text
        assert "Limits of formed heads for a shank of" in answer.text


def test_a_hole_that_the_photo_can_not_judge_is_for_a_pin_and_not_for_the_rivet_gauge(
    client: TestClient, project: Project
) -> None:
    typed = json.loads((DATA / "own_holes.input.json").read_text())
    form = {"request": "holes-12345678", "stage": "rivet", "what": "holes", "row": typed["row"]}
    form |= {
        name: str(typed[name])
        for name in ("expected_count", "rivet_D_mm", "pitch_nominal_mm", "strip_thickness_mm")
    }
    form |= {f"bar.{bar['name']}": str(bar["measured_mm"]) for bar in typed["bars_measured"]}
    answer = client.post(
        f"/photo/gauge/{REF}-G91",
        data=form,
        files={"photo": ("holes.jpg", (DATA / "own_holes.jpg").read_bytes())},
        headers=HEADERS,
    )
    assert answer.status_code == 200, answer.text[:600]
    made = [f for f in findings(project, REF) if f["requirement"] == "hole, by photo"]
    assert len(made) == typed["expected_count"]
    spoiled = [
        json.loads(f["body"])["where"]
        for f in made
        if "out of round" in f["reason"] and f["verdict"] == "rework"
    ]
    assert spoiled == ["number 4 from the left"]  # the one drilled twice
    unsure = [f for f in made if f["verdict"] == "undecided"]
    assert unsure
    for one in unsure:
        assert "pin" in one["next"]


def test_a_shank_on_the_page_says_how_far_phone_and_printer_are_off(
    client: TestClient, project: Project
) -> None:
    sheet = make_sheet(project, actor=ANN, request_id="known", about=REF, kind="row", paper="letter")
    form = {
        "bar.strip_length": "140.02",
        "known_size_mm": "6.35",
        "known_thing": "shank",
        "ask": "known",
        "request": "known-1",
    }
    sent = {"photo": ("shank.jpg", (DATA / "own_shank.jpg").read_bytes())}
    answer = client.post(f"/photo/gauge/{sheet.ref}", data=form, files=sent, headers=HEADERS)
    assert answer.status_code == 200
    assert "Your phone and printer" in answer.text
    assert "That agrees" in answer.text
    assert any(
        "thing of known size" in str(line.entry.body.get("words", "")) for line in history(project, REF)
    )
    wrong = client.post(
        f"/photo/gauge/{sheet.ref}",
        data=form | {"known_size_mm": "thick", "request": "known-2"},
        files=sent,
        headers=HEADERS,
    )
    assert wrong.status_code == 422
    assert "Its size" in wrong.text
    # its form stands open with what was typed, and the photo is with the operation
    assert 'value="thick"' in wrong.text
    assert "<details open>" in wrong.text
    assert "Its size" in photos(project, REF)[-1]["caption"]


def test_a_photo_refused_for_what_was_typed_is_kept_and_measured_without_sending_it_again(
    client: TestClient, project: Project
) -> None:
    typed = json.loads((DATA / "b02.input.json").read_text())
    form = {"request": "mend-1", "stage": "trial", "rivet_D_mm": str(typed["rivet_D_mm"]), "bar.strip_length": "139,9",
            "expected_count": str(typed["expected_count"]), "pitch_nominal_mm": str(typed["pitch_nominal_mm"]), "what": "formed heads"}  # fmt: skip
    content = (DATA / "b02.jpg").read_bytes()
    refused = client.post(
        f"/photo/gauge/{REF}-G90", data=form, files={"photo": ("row.jpg", content)}, headers=HEADERS
    )
    assert refused.status_code == 422
    assert "the photo is kept" in refused.text
    assert "Write 139.9." in refused.text
    kept = photos(project, REF)[-1]
    assert kept["name"] == "row.jpg"
    assert "row of squares" in kept["caption"]
    mark = re.search(r'name="kept\.photo" value="([0-9a-f]{64})"', refused.text)
    assert mark is not None
    assert mark[1] == kept["digest"]
    measured = str(next(bar["measured_mm"] for bar in typed["bars_measured"]))
    again = form | {"request": "mend-2", "bar.strip_length": measured, "kept.photo": mark[1], "name.photo": "row.jpg"}  # fmt: skip
    answer = client.post(f"/photo/gauge/{REF}-G90", data=again, headers=HEADERS)
    assert answer.status_code == 200, answer.text[:500]
    assert photos(project, REF)[-1]["name"] == "overlay.jpg"
    other = client.post(
        f"/photo/gauge/{REF}-G90", data=again | {"kept.photo": "../../etc", "request": "mend-3"}, headers=HEADERS
    )  # fmt: skip
    assert other.status_code in (404, 422)


def test_the_command_makes_a_sheet_and_measures_on_one(project: Project, tmp_path: Path) -> None:
    def run(*words: str) -> dict[str, object]:
        command = [
            sys.executable,
            "-m",
            "ribwright",
            "photo",
            *words,
            "--project",
            str(project.store.folder),
            "--json",
        ]
        done = subprocess.run(command, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        return dict(json.loads(done.stdout))

    made = run(
        "sheet", REF, "--kind", "row", "--pdf", str(tmp_path / "s.pdf"), "--layout", str(tmp_path / "s.json")
    )
    assert str(made["ref"]).startswith(f"{REF}-G")
    assert json.loads((tmp_path / "s.json").read_text())["kind"] == "B"
    assert (tmp_path / "s.pdf").read_bytes().startswith(b"%PDF")
    typed = json.loads((DATA / "b02.input.json").read_text())
    bars = [f"--bar={bar['name']}={bar['measured_mm']}" for bar in typed["bars_measured"]]
    said = run(
        "measure",
        f"{REF}-G90",
        str(DATA / "b02.jpg"),
        *bars,
        "--set",
        f"expected_count={typed['expected_count']}",
    )
    assert said["status"] in ("measured", "retake")
    assert said["next"]


def test_two_photos_that_differ_beyond_their_limits_are_not_averaged() -> None:
    places = np.linspace(-1, 1, 61)
    first = (0.1 * places, np.full(61, 0.05))
    same = together(first, (0.1 * places + 0.03, np.full(61, 0.06)))
    assert same.agree
    np.testing.assert_allclose(same.deviation_mm, 0.1 * places + 0.015)
    np.testing.assert_allclose(same.u95_mm, 0.06)
    other = together(first, (0.1 * places + 0.3 * (places > 0.4), np.full(61, 0.06)))
    assert not other.agree
    assert "0.30 mm" in other.reason
    half = np.where(places < 0.1, np.nan, 0.0)
    assert not together(first, (half, np.full(61, 0.05) + half)).agree or np.isfinite(half).mean() >= 0.5


def test_a_scanned_line_becomes_the_template_of_the_edge_and_it_is_planned_anew(project: Project) -> None:
    """A scan of the project's own sheet with a pencil line 2 mm inside its target."""
    import cv2

    sheet = make_sheet(
        project, actor=ANN, request_id="scan-12345678", about=NOSE_REF, kind="profile", place="0"
    )
    with pypdfium2.PdfDocument(sheet_pdf(project, sheet.ref)) as pdf:
        scan = np.ascontiguousarray(pdf[0].render(scale=200 / 72).to_numpy()[..., :3])
    target = np.array(sheet.layout["target"]["outline_xy"])
    run = np.gradient(target, axis=0)
    normal = np.column_stack([run[:, 1], -run[:, 0]]) / np.hypot(*run.T)[:, None]
    drawn = target - 2.0 * normal * np.sign((normal * (target - target.mean(axis=0))).sum(axis=1).mean())
    px = np.rint(drawn * 200 / 25.4 * 16).astype(np.int32)
    cv2.polylines(scan, [px], False, (30, 30, 30), round(0.8 * 200 / 25.4), cv2.LINE_AA, 4)
    scan = cv2.GaussianBlur((25 + 0.75 * scan).astype(np.uint8), (0, 0), 0.8)
    content = cv2.imencode(".png", scan)[1].tobytes()
    typed = typed_for(project, sheet) | {
        "bars_measured": [{"name": name, "measured_mm": nominal} for name, nominal in sheet.bars]
    }
    before = get_object(project, NOSE_REF).revision
    take_template(
        project, actor=ANN, request_id="take-12345678", sheet=sheet, photo=("line.png", content), typed=typed, line_width_mm=0.8
    )  # fmt: skip
    made = operation_view(project, NOSE_REF)
    assert made.object.revision == before + 1
    assert made.worked is not None
    points = np.array([(float(p.x.value), float(p.y.value)) for p in made.worked.spec.points])
    # the target's outer radius is the inner one and the sheet; the line lay 2 mm inside it
    radius = 1.083 + 0.020 - 2.0 / 25.4
    round_part = points[np.hypot(points[:, 0], points[:, 1]) < 1.2 * radius]
    found = np.hypot(round_part[:, 0], round_part[:, 1] - radius)
    assert np.abs(found - radius).max() * 25.4 < 0.3
    assert "taken from a photo" in history(project, NOSE_REF)[-1].entry.body["words"]
