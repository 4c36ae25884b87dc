"""SVG read back as XML and held against the scene."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest

from ribwright import __version__
from ribwright.core.scene import Arc, Circle, Line, Marker, Polygon, Polyline, Scene, Text, bounds, full_size
from ribwright.core.scene.strokes import drawn
from ribwright.core.writers import SVG_CSS, svg_of, svg_of_page

NS = {"s": "http://www.w3.org/2000/svg"}
SCENE = Scene(
    (
        Line((0, 0), (3, 1), "hidden"),
        Circle((4, 1), 0.3, layer="drilled"),
        Arc((1, 2), 0.7, 20, 290),
        Polyline(((0, 0), (2, 0), (2, 1)), True, "outline", "cut", (0.4, 0, -0.2)),
        Polygon(((5, 0), (6, 0), (6, 1)), fill="solid"),
        Text((1, 3), 'a < b & "c"', 0.2, "middle", 15),
        Marker((2, 2), "dimple-down", "A"),
    ),
    title="A seam <1>",
    described="Skin to spar & rib.",
)


def test_well_formed_with_its_text_equivalent():
    root = ElementTree.fromstring(svg_of(SCENE))
    title, desc = root.find("s:title", NS), root.find("s:desc", NS)
    assert title.text == "A seam <1>"
    assert desc.text == "Skin to spar & rib."
    assert root.get("aria-labelledby") == f"{title.get('id')} {desc.get('id')}"
    assert root.get("role") == "img"


def test_box_of_the_element_holds_the_drawing():
    x, y, w, h = map(float, ElementTree.fromstring(svg_of(SCENE, margin=0.0)).get("viewBox").split())
    box = bounds(SCENE)
    assert (x, y, w, h) == pytest.approx((box.left, -box.top, box.width, box.height), abs=1e-4)


def test_every_item_is_there_at_its_place():
    root = ElementTree.fromstring(svg_of(SCENE))
    parts = drawn(SCENE)
    circles = root.findall(".//s:circle", NS)
    assert [(float(c.get("cx")), -float(c.get("cy")), float(c.get("r"))) for c in circles] == [
        pytest.approx((*p.center, p.radius), abs=1e-5) for p in parts if isinstance(p, Circle)
    ]
    lines = root.findall(".//s:line", NS)
    assert len(lines) == sum(isinstance(p, Line) for p in parts)
    assert lines[0].get("class") == "rw-hidden"
    assert [t.text for t in root.findall(".//s:text", NS)] == [p.text for p in parts if isinstance(p, Text)]


def test_layers_and_styles_are_classes_never_colours():
    text = svg_of(SCENE)
    assert 'class="rw-outline rw-cut"' in text
    assert 'class="rw-outline rw-drilled"' in text
    assert "rw-solid" in text
    assert not re.search(r"(#[0-9a-f]{3,6}\b|stroke=|fill=|style=)", text.replace("url(#", ""))


def test_style_is_carried_only_by_a_file_that_stands_alone():
    assert "<style>" not in svg_of(SCENE)
    alone = svg_of(SCENE, stand_alone=True)
    assert SVG_CSS in alone
    assert f"<metadata>ribwright {__version__}</metadata>" in alone
    ElementTree.fromstring(alone)


def test_arcs_take_the_long_way_when_they_are_long():
    root = ElementTree.fromstring(svg_of(Scene((Arc((0, 0), 1, 0, 270), Arc((0, 0), 1, 0, 90)))))
    long, short = (p.get("d") for p in root.findall("s:path", NS))
    assert long == "M1,0A1,1 0 1 0 0,1"
    assert short == "M1,0A1,1 0 0 0 0,-1"


def test_bulges_turn_the_right_way():
    d = (
        ElementTree.fromstring(svg_of(Scene((Polyline(((0, 0), (2, 0)), bulges=(1.0, 0)),))))
        .find("s:path", NS)
        .get("d")
    )
    # to the left of +x in a drawing with y up the arc runs below the chord; SVG's y runs down
    assert d == "M0,0A1,1 0 0 0 2,0"


def test_fixed_width_and_fluid_width():
    assert ElementTree.fromstring(svg_of(SCENE, width_px=640)).get("width") == "640"
    assert ElementTree.fromstring(svg_of(SCENE)).get("width") is None


def test_two_drawings_on_a_page_share_no_id():
    ids = re.findall(r' id="([^"]+)"', svg_of(SCENE) + svg_of(Scene(SCENE.items[:3], "other")))
    assert len(ids) == len(set(ids)) == 4


def test_preview_of_a_page_is_the_page():
    pages = full_size(Scene((Line((0, 0), (20, 0)),), "Long"))
    for page in pages:
        root = ElementTree.fromstring(svg_of_page(page, stand_alone=True))
        assert root.get("width") == f"{page.width:g}in"
        assert float(root.get("viewBox").split()[2]) == page.width
        assert root.find(".//s:clipPath", NS) is not None
        lines = root.findall(".//s:line", NS)
        drawing = [p for p in (*drawn(page.drawing), *drawn(page.furniture)) if isinstance(p, Line)]
        assert len(lines) == len(drawing)


def test_empty_scene_is_still_an_image():
    ElementTree.fromstring(svg_of(Scene()))
