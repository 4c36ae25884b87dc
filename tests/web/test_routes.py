"""The route table walked: every page answers, no form ever gives a 500."""

from __future__ import annotations

import random
import re
import tomllib
from pathlib import Path

import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from filled import ANN
from ribwright import __version__
from ribwright.services.operations import enter_operation
from ribwright.services.plan import plan_view
from ribwright.services.project import Project
from ribwright.services.record import check, discrepancies, photos, set_object
from ribwright.web.app import routes
from seams import NOSE_REF, REF

SAMPLES: dict[str, dict[str, str]] = {
    "drawing_css": {}, "bench": {}, "live": {"ref": REF}, "say": {"ref": REF}, "tally": {"ref": REF}, "twist": {"ref": REF, "stage": "rivet"}, "worker": {}, "waiting": {}, "airframe": {}, "object": {"ref": "DN-21"}, "new_operation": {}, "operation": {"ref": REF},
    "edit_operation": {"ref": REF}, "worksheet": {"ref": REF}, "packet": {"ref": REF}, "template_dxf": {"ref": REF, "number": "1"},
    "stage": {"ref": REF, "stage": "rivet"}, "sheet_pdf": {"ref": REF, "stage": "rivet"}, "calculations": {}, "calculation": {"name": "seam"},
    "checks": {}, "record": {}, "entry": {"seq": "3"}, "new_assembly": {}, "check_record": {}, "change_entry": {"seq": "5"},
    "sign_operation": {"ref": REF}, "note_discrepancy": {"ref": REF}, "discrepancy": {"ref": "D"}, "question_pdf": {"ref": "D"},
    "add_photo": {"ref": REF}, "photo": {"mark": "photo"}, "evidence_pdf": {}, "plan": {}, "plan_calendar": {}, "plan_tasks": {}, "stop_plan": {}, "go_on_with_plan": {}, "take_in_tasks": {}, "make_or_buy": {}, "while_waiting": {}, "order_of_work": {}, "stop_order_of_work": {}, "plan_settings": {}, "new_order": {}, "task_list": {}, "new_task": {}, "task": {"key": "weighing"}, "order": {"ref": "engine"}, "weight": {}, "loading_card": {"ref": "DN-W1"}, "closing_twist": {"ref": "DN-21-A"}, "flight": {}, "performance_pdf": {}, "card_pdf": {"key": "03"}, "flight_data": {"name": "stall-speed"},
    "enter_note": {"kind": "notice"}, "walk": {}, "take_in": {}, "like_ones": {"ref": REF}, "spoiled": {"ref": REF}, "rolled": {"ref": NOSE_REF}, "gauges": {"ref": NOSE_REF}, "gauge": {"ref": f"{REF}-G01"}, "gauge_pdf": {"ref": f"{REF}-G01"}, "photos": {}, "place_photos": {}, "drawing_data": {"ref": REF}, "other_hand": {"ref": "DN-21"},
    "full_size": {}, "printer_sheet": {}, "project_blanks": {}, "operation_full_size": {"ref": REF}, "operation_skin": {"ref": "DN-21-T01"},
    "skin_json": {"ref": "DN-21-T01"}, "calculation_full_size": {"name": "seam"}, "calculation_skin": {"name": "skin-view"},
    "enter": {}, "trust": {}, "authority_file": {}, "phones": {}, "advisers": {},
    "stores": {}, "stores_tonight": {}, "stores_csv": {}, "stores_mix": {}, "stores_item": {"ref": "BAG"}, "portion": {}, "portion_claim": {"key": "W01"},
}  # fmt: skip
ROUTES = routes()
NOT_WRITTEN = {"live", "drawing_css", "worker", "authority_file"}
"""A stream, parts of the program itself, and a certificate of the builder's own."""
MADE_BY = re.compile(rb"(?i)ribwright(//Plan)? " + re.escape(__version__.encode()))


def example(name: str) -> dict[str, object]:
    """The committed example of a calculation."""
    path = Path(__file__).parents[2] / "docs" / "examples" / f"{name}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


@pytest.fixture(autouse=True)
def _made_by_the_project(project: Project) -> None:
    """References that the record makes: of the discrepancy and of the photo."""
    SAMPLES["discrepancy"]["ref"] = SAMPLES["question_pdf"]["ref"] = discrepancies(project)[0]["ref"]
    enter_operation(
        project, actor=ANN, request_id="nose", ref="DN-21-T01", calculation="profile-templates", raw=example("profile-templates"), parent="DN-21"
    )  # fmt: skip
    enter_operation(
        project, actor=ANN, request_id="loading", ref="DN-W1", calculation="loading", raw=example("loading")
    )
    set_object(project, actor=ANN, request_id="space", noun="space", ref="DN-21-A", data={"twist": "yes"}, parent="DN-21")  # fmt: skip
    SAMPLES["photo"]["mark"] = photos(project, REF)[0]["thumb"]


def path_of(route: Route) -> str:
    assert route.name in SAMPLES, f"the route {route.name} has no sample row in this test"
    return re.sub(
        r"\{(\w+)(:\w+)?\}", lambda m: SAMPLES[route.name][m.group(1)].replace(" ", "%20"), route.path
    )


def test_every_route_has_a_sample_row_and_no_row_is_left_over() -> None:
    assert {route.name for route in ROUTES} == set(SAMPLES)


@pytest.mark.parametrize("route", [r for r in ROUTES if "GET" in (r.methods or ())], ids=lambda r: r.name)
def test_every_page_answers(client: TestClient, project: Project, route: Route) -> None:
    answer = client.get(path_of(route))
    if answer.status_code == 503 and "retry-after" in answer.headers:  # worked out beside the pages
        plan_view(project)
        answer = client.get(path_of(route))
    assert answer.status_code == 200, answer.text[:400]
    assert "content-security-policy" in answer.headers
    if answer.headers["content-type"].startswith("text/html"):
        assert "The designer’s drawings win" in answer.text
        assert "style=" not in answer.text, "the policy forbids inline styles"
        assert "<script>" not in answer.text
    if route.name not in NOT_WRITTEN:
        assert MADE_BY.search(answer.content), "what is written names program and version"


@pytest.mark.parametrize(
    "ref", ["none", "..%2F..%2Fetc%2Fpasswd", "%00", "a" * 300, "%F0%9F%9B%A9", "DN-21%2Frivet", "' OR 1=1--"]
)
def test_hostile_references_are_not_found(client: TestClient, ref: str) -> None:
    for path in (
        f"/airframe/{ref}",
        f"/operation/{ref}",
        f"/stage/{ref}/rivet",
        f"/operation/{ref}/worksheet",
        f"/calc/{ref}",
    ):
        assert client.get(path).status_code in (400, 404, 422)


def test_two_thousand_malformed_requests_give_no_500_and_leave_the_record_whole(
    client: TestClient, project: Project
) -> None:
    rng = random.Random(11)
    junk = [
        "",
        "nan",
        "1,500",
        "\x00",
        "é" * 40,
        "9" * 400,
        "-1",
        "1e999",
        "' OR 1=1",
        "<script>",
        "../..",
        "{}",
        "rivet",
        REF,
        "seam",
        "5 kg",
    ]
    keys = [
        "request", "seen", "what", "hours", "done", "as", "value.0", "where.0", "requirement.0", "u", "instrument", "calculation", "parent", "ref",
        "title", "first", "last", "layers.0.part", "layers.0.thickness", "layers.99999.part", "layers.x.part", "add:layers", "remove:layers:0",
        "remove:layers:-5", "copy:layers:999999", "add:", "words", "before", "name", "exceptions.0.hole", "hand",
    ]  # fmt: skip
    seen: dict[int, int] = {}
    for _ in range(2000):
        route = rng.choice(ROUTES)
        method = rng.choice([*sorted(route.methods or {"GET"}), "POST", "PUT"])
        path = re.sub(
            r"\{(\w+)(:\w+)?\}",
            lambda m, row=SAMPLES[route.name]: rng.choice([row.get(m.group(1), "x"), "x", "7"]).replace(
                " ", "%20"
            ),
            route.path,
        )
        if path.endswith((".pdf", ".dxf")):
            continue
        data = {rng.choice(keys): rng.choice(junk) for _ in range(rng.randrange(8))}
        headers = {
            "content-type": rng.choice(
                [
                    "application/x-www-form-urlencoded",
                    "multipart/form-data",
                    "multipart/form-data; boundary=x",
                    "text/plain",
                    "application/json",
                ]
            )
        }
        if method == "POST" and rng.random() < 0.7:
            answer = client.request(method, path, data=data)
        else:
            answer = client.request(
                method,
                path,
                content=b"--x\r\n" + rng.randbytes(rng.randrange(60)),
                headers=headers,
                params={k: v for k, v in data.items() if "\x00" not in v},
            )
        seen[answer.status_code] = seen.get(answer.status_code, 0) + 1
        later = answer.status_code == 503 and "retry-after" in answer.headers
        assert answer.status_code < 500 or later, (method, path, data, answer.text[:300])
        assert "Traceback" not in answer.text
    assert len(seen) > 3, seen
    assert check(project).ok


def test_other_names_other_sites_and_large_bodies_are_refused(client: TestClient) -> None:
    assert client.get("/", headers={"host": "evil.example"}).status_code == 421
    assert client.get("/", headers={"host": ""}).status_code == 421
    form = {"ref": "DN-99", "name": "x", "request": "q1"}
    assert (
        client.post("/airframe/new", data=form, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    )
    assert (
        client.post("/airframe/new", data=form, headers={"origin": "http://evil.example"}).status_code == 403
    )
    assert client.post("/airframe/new", data=form, headers={"origin": "null"}).status_code == 403
    assert (
        client.post(
            "/airframe/new",
            content=b"a=" + b"x" * 2_100_000,
            headers={"content-type": "application/x-www-form-urlencoded"},
        ).status_code
        == 413
    )
    assert client.get("/airframe/DN-99").status_code == 404
    answer = client.post(
        "/airframe/new",
        data=form,
        headers={"origin": "http://127.0.0.1:8370", "sec-fetch-site": "same-origin"},
    )
    assert answer.status_code == 303
