"""Full size on the page: the sheets that are printed, files, printers measured, the skin as data."""

from __future__ import annotations

import io
import json
import re
import tomllib
from pathlib import Path

import ezdxf
import pdfplumber
import pytest
from starlette.testclient import TestClient

from filled import ANN
from ribwright.core.scene import Marker
from ribwright.errors import FormatError, MissingError, OutOfRangeError, UnknownNameError
from ribwright.services.blanks import nest_spec, offcuts_from_text, part_blanks
from ribwright.services.calculations import run_calculation
from ribwright.services.fullsize import drawn_of, operation_full_size, whole_output
from ribwright.services.operations import enter_operation
from ribwright.services.printers import choose_printer, forget_printer, measure_printer, printer_for, printers
from ribwright.services.project import Project
from ribwright.services.record import check, set_object
from seams import REF

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


def example(name: str) -> dict[str, object]:
    return tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))


def flat(raw: dict[str, object]) -> dict[str, str]:
    form = {}
    for key, value in raw.items():
        if isinstance(value, list):
            for n, row in enumerate(value):
                form |= {f"{key}.{n}.{name}": str(cell) for name, cell in row.items()}
        else:
            form[key] = str(value)
    return form


def bars(pdf: bytes) -> tuple[float, float]:
    """Lengths of the level and the upright 4 in bar on the first page, in inches."""
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        lines = opened.pages[0].lines
        level = [line["x1"] - line["x0"] for line in lines if abs(line["top"] - line["bottom"]) < 0.01]
        upright = [line["bottom"] - line["top"] for line in lines if abs(line["x1"] - line["x0"]) < 0.01]
    near = [min((v / 72 for v in found), key=lambda v: abs(v - 4.0)) for found in (level, upright)]
    return near[0], near[1]


def measured(project: Project, request: str, short: str, long: str, **more: str) -> str:
    return measure_printer(
        project, actor=ANN, request_id=request, name="shop laser", short=short, long=long, **more
    )[1]  # type: ignore[arg-type]


def test_a_small_print_is_made_again_with_the_correction_of_its_printer(project: Project) -> None:
    assert "Throw this print away" in measured(project, "m1", "3.984", "4.016 in")
    one = printer_for(project, "shop laser")
    assert one.correction == pytest.approx((4 / 3.984, 4 / 4.016), abs=1e-6)
    assert not one.true
    assert one.chosen  # the first one measured is the one that prints
    made = operation_full_size(project, REF, paper="letter")
    page = made.templates[0].pages[0]
    upright = page.height > page.width
    short, long = bars(made.pdf()) if upright else bars(made.pdf())[::-1]
    # What the printer then prints of them is 4 in both ways.
    assert short * 3.984 / 4 == pytest.approx(4.0, abs=0.0005)
    assert long * 4.016 / 4 == pytest.approx(4.0, abs=0.0005)
    assert "shop laser" in one.words
    assert measured(project, "m2", "4.001", "101.6 mm").startswith("The print is true")
    assert printer_for(project).true
    plain = operation_full_size(project, REF, printer="none")
    assert bars(plain.pdf()) == pytest.approx((4.0, 4.0), abs=1e-4)
    assert check(project).ok


@pytest.mark.parametrize(
    ("short", "cause"),
    [("3.7", "fit to page"), ("100 mm", "100 mm bar"), ("5", "actual size")],
)
def test_beyond_three_in_a_hundred_nothing_is_kept_and_the_cause_is_named(
    project: Project, short: str, cause: str
) -> None:
    with pytest.raises(OutOfRangeError) as refused:
        measured(project, "bad", short, "4")
    assert cause in refused.value.sentence()
    assert printers(project) == ()


def test_a_print_as_small_as_the_other_bar_is_corrected_with_a_warning(project: Project) -> None:
    assert "be sure that the bar marked 4.000 in" in measured(project, "m1", "3.94", "4")
    assert printer_for(project).short == pytest.approx(4 / 3.94, abs=1e-6)


def test_what_is_no_length_or_no_name_is_refused(project: Project) -> None:
    with pytest.raises(MissingError):
        measured(project, "m3", "", "4")
    with pytest.raises(OutOfRangeError):
        measure_printer(project, actor=ANN, request_id="m4", name="///", short="4", long="4")


def test_a_form_sent_twice_counts_once_and_a_print_without_factors_starts_anew(project: Project) -> None:
    measured(project, "m1", "3.96", "4")
    measured(project, "m1", "3.96", "4")
    assert printer_for(project).short == pytest.approx(4 / 3.96, abs=1e-6)
    measured(project, "m2", "3.96", "4", printed_with="no correction")
    assert printer_for(project).short == pytest.approx(4 / 3.96, abs=1e-6)


def test_choosing_and_forgetting(project: Project) -> None:
    measured(project, "m1", "3.98", "4")
    measure_printer(project, actor=ANN, request_id="m2", name="plotter", short="4.0", long="4.0")
    assert [p.chosen for p in printers(project)] == [False, True]
    choose_printer(project, actor=ANN, request_id="c1", name="plotter")
    assert printer_for(project).name == "plotter"
    choose_printer(project, actor=ANN, request_id="c2", name="")
    assert printer_for(project).name == ""
    forget_printer(project, actor=ANN, request_id="f1", name="plotter", because="sold")
    assert [p.name for p in printers(project)] == ["shop laser"]
    with pytest.raises(UnknownNameError):
        printer_for(project, "plotter")


def test_the_page_measures_refuses_and_previews(client: TestClient) -> None:
    form = {
        "what": "measure",
        "request": "web-1",
        "name": "shop laser",
        "short": "3.984",
        "long": "4",
        "with": "its factors",
    }
    assert "Throw this print away" in client.post("/full-size", data=form).text
    refused = client.post("/full-size", data=form | {"request": "web-2", "short": "3.6"})
    assert refused.status_code == 422
    assert "fit to page" in refused.text
    assert 'value="3.6"' in refused.text
    sheet = client.get("/full-size/check-figure.pdf?printer=shop%20laser")
    assert bars(sheet.content)[0] == pytest.approx(4 * 4 / 3.984, abs=0.001)
    page = client.get(f"/operation/{REF}/full-size?paper=a3")
    assert "of A3, for shop laser" in page.text
    assert page.text.count('paper-sheet"') >= 1
    assert client.get(f"/operation/{REF}/full-size?paper=napkin").status_code in (404, 422)
    assert client.get(f"/operation/{REF}/full-size?as=exe").status_code in (409, 422)


@pytest.mark.parametrize("name", ["sight-line", "hinge-line", "form-block", "surface-section"])
def test_preview_and_print_are_the_same_drawing_and_the_files_open(client: TestClient, name: str) -> None:
    form = flat(example(name))
    page = client.post(f"/calc/{name}/full-size", data=form | {"out.paper": "tabloid"})
    assert page.status_code == 200, page.text[:300]
    pdf = client.post(f"/calc/{name}/full-size", data=form | {"out.paper": "tabloid", "out.as": "pdf"})
    with pdfplumber.open(io.BytesIO(pdf.content)) as opened:
        assert len(opened.pages) == int(re.search(r"on (\d+) sheets? of tabloid", page.text).group(1))  # type: ignore[union-attr]
        words = opened.pages[0].extract_text()
    drawn = page.text[page.text.index('paper-sheet"') :]
    for line in ("Print at actual size. Measure both figures before cutting.", "4.000 in", "100.0 mm"):
        assert line in words
        assert line in drawn
    dxf = client.post(f"/calc/{name}/full-size", data=form | {"out.as": "dxf 1"})
    document = ezdxf.read(io.StringIO(dxf.text))
    assert not document.audit().has_errors
    svg = client.post(f"/calc/{name}/full-size", data=form | {"out.as": "svg 1"})
    width = float(re.search(r'width="([\d.]+)in"', svg.text).group(1))  # type: ignore[union-attr]
    from ribwright.core.scene import bounds

    made = run_calculation(name, example(name))
    assert width == pytest.approx(bounds(made.outcome.templates[0]).width + 0.2, abs=1e-4)


def test_skin_as_data_has_station_and_arc_of_every_vertex(client: TestClient, project: Project) -> None:
    enter_operation(
        project,
        actor=ANN,
        request_id="t1",
        ref="DN-21-T01",
        calculation="profile-templates",
        raw=example("profile-templates"),
        parent="DN-21",
    )
    data = client.get("/operation/DN-21-T01/skin.json").json()
    assert len(data["vertices"]) == len(data["station"]) == len(data["arc"]) == len(data["off"])
    assert max(max(t) for t in data["triangles"]) == len(data["vertices"]) - 1
    assert client.get("/operation/DN-21-T01/skin").status_code == 200
    assert client.get(f"/operation/{REF}/skin").status_code == 409
    rolled = client.post("/calc/nose-roll/skin", data=flat(example("nose-roll")))
    assert rolled.status_code == 200
    assert "Expected at each template" in rolled.text
    assert "Nothing here was measured" in rolled.text
    assert "not measured</li>" not in rolled.text
    assert (
        client.post("/calc/nose-roll", data=flat(example("nose-roll"))).text.count("Look at it in the round")
        == 1
    )
    page = client.post("/calc/skin-view/skin", data=flat(example("skin-view")))
    inside = json.loads(re.search(r'id="skin-data">(.*?)</script>', page.text, re.DOTALL).group(1))  # type: ignore[union-attr]
    assert inside["limit"] == 0.03
    assert "outside by more than" in page.text
    assert "137 % of it" in page.text


def test_blanks_come_from_the_parts_and_offcuts_from_lines(project: Project) -> None:
    with pytest.raises(MissingError):
        nest_spec(project)
    for n, size in enumerate(((6.0, 3.0), (3.0, 8.0))):
        w, h = size
        set_object(
            project, actor=ANN, request_id=f"p{n}", noun="part", ref=f"DN-211{n}", parent="DN-21", title="gusset",
            data={"made": "sheet", "material": "6061-T6", "thickness": ".063", "outline": [["0", "0"], [str(w), "0"], [str(w), str(h)], ["0", str(h)]]},
        )  # fmt: skip
    found = part_blanks(project)
    assert [tuple(b.shape.points_in.max(axis=0)) for b in found] == [
        (6.0, 3.0),
        (8.0, 3.0),
    ]  # the long side along the grain
    rows = offcuts_from_text("name, length, width\nby the door; 24; 10 in\n, 300 mm, 12\n")
    assert [r["name"] for r in rows] == ["by the door", "offcut 3"]
    with pytest.raises(FormatError, match="line 1"):
        offcuts_from_text("24, 12")
    with pytest.raises(FormatError, match="line 2"):
        offcuts_from_text("a, 24, 12\nb, wide, 12")
    raw = nest_spec(project, offcuts=rows, seconds=0)
    done = run_calculation("nest-blanks", raw)
    assert done.answer["results"]["placed"]["value"] == 2
    assert done.answer["results"]["weight"]["value"] == pytest.approx(42 * 0.063 * 0.098)
    with pytest.raises(UnknownNameError):
        nest_spec(project, stock="2024-T3 clad .500")


def test_a_blank_has_the_holes_of_its_rows(project: Project) -> None:
    """The row's ends are the drawing's; the holes between are evenly spaced, turned with the blank, each once."""
    set_object(
        project, actor=ANN, request_id="strap", noun="part", ref="DN-2119", parent="DN-21", title="strap",
        data={"made": "sheet", "axes": "x z", "material": "6061-T6", "thickness": ".063", "outline": [["0", "0"], ["2", "0"], ["2", "6"], ["0", "6"]]},
    )  # fmt: skip
    row = {"part": "DN-2119", "row": [["1", "1"], ["1", "5"]]}
    for n, (axes, of) in enumerate((("x z", "seam"), ("x z", "seam"), ("y z", "seam"), ("x z", "bend-flat"))):
        set_object(
            project, actor=ANN, request_id=f"x{n}", noun="operation", ref=f"DN-21-X{n}", parent="DN-21", title="row",
            data={"calculation": of, "joins": [{**row, "axes": axes}], "fasteners": [{"part_number": "MS20470AD3-3", "count": "5"}]},
        )  # fmt: skip
    (blank,) = part_blanks(project)
    holes = [one for one in blank.scene.items if isinstance(one, Marker)]
    assert [one.at for one in holes] == [(5.0, 1.0), (4.0, 1.0), (3.0, 1.0), (2.0, 1.0), (1.0, 1.0)]
    assert {(one.layer, one.diameter) for one in holes} == {("drilled", 0.0625)}
    assert "5 pilot holes" in blank.scene.described


def test_the_whole_project_comes_out_file_by_file(project: Project) -> None:
    files: dict[str, bytes] = {}
    made = whole_output(project, lambda name, content: files.update({name: content}))
    assert made.files == len(files) >= 2
    assert f"{REF}.pdf" in files
    assert not made.skipped


def test_a_rolled_edge_is_drawn_alike_with_and_without_the_search() -> None:
    outcome, spec = drawn_of("nose-roll", example("nose-roll"))
    whole = run_calculation("nose-roll", example("nose-roll"))
    assert outcome.templates
    assert (outcome.templates, spec) == (whole.outcome.templates, whole.spec)


def test_a_packet_is_made_for_the_chosen_printer(project: Project) -> None:
    from ribwright.services.packet import make_packet

    measured(project, "m1", "3.98", "4")
    made = make_packet(project, REF, paper="letter")
    with pdfplumber.open(io.BytesIO(made.pdf)) as opened:
        # REF is an operation: its worksheet comes last, the full-size sheet just before.
        found = [
            line
            for page in opened.pages
            if "Print at actual size" in page.extract_text()
            for line in page.lines
        ][:400]
        lengths = [line["x1"] - line["x0"] for line in found] + [
            line["bottom"] - line["top"] for line in found
        ]
    wanted = 72 * 4 * 4 / 3.98
    assert min(abs(v - wanted) for v in lengths) < 0.01


def test_a_kept_layout_is_offered_from_the_answer_and_enters_as_it_is(
    client: TestClient, project: Project
) -> None:
    raw = example("nest-blanks") | {"seconds": "0"}
    page = client.post("/calc/nest-blanks", data=flat(raw)).text
    form = page[page.index('action="/operation/new"') :].split("</form>")[0]
    fields = dict(re.findall(r'name="([^"]+)" value="([^"]*)"', form))
    assert fields["kept.0.piece"] == "DN-2105 rib"
    shown = client.post("/operation/new", data=fields)
    assert shown.status_code == 200
    assert 'name="kept.8.x"' in shown.text
    del fields["remove:kept:9999"]
    entered = client.post(
        "/operation/new", data=fields | {"ref": "DN-21-L01", "parent": "DN-21", "request": "n1", "seen": "0"}
    )
    assert entered.status_code == 303, entered.text[600:2600]
    assert client.get("/operation/DN-21-L01").status_code == 200


def test_a_rolled_edge_of_the_project_is_looked_at_in_the_round(client: TestClient, project: Project) -> None:
    enter_operation(
        project, actor=ANN, request_id="t2", ref="DN-21-R09", calculation="nose-roll", raw=example("nose-roll"), parent="DN-21",
    )  # fmt: skip
    assert 'href="/operation/DN-21-R09/skin"' in client.get("/operation/DN-21-R09").text
    page = client.get("/operation/DN-21-R09/skin")
    assert page.status_code == 200
    assert "can be rolled from flat sheet" in page.text
    data = client.get("/operation/DN-21-R09/skin.json").json()
    assert data["limit"] == pytest.approx(1 / 32)
    assert len(data["expected"]) == 3
