"""Every calculation that draws at full size: its DXF opens clean with its areas, its sheets hold all of it."""

from __future__ import annotations

import io
import tomllib
from pathlib import Path

import ezdxf
import numpy as np
import pdfplumber
import pytest
from ezdxf.math import area as dxf_area
from shapely.geometry import Polygon as Area

from ribwright.core.geometry import Outline, flattened
from ribwright.core.scene import Polyline, bounds, full_size, tile_map
from ribwright.core.writers import dxf_of, pdf_of_pages
from ribwright.errors import GeometryError
from ribwright.services.calculations import run_calculation

EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"
DRAWN = (
    "profile-templates", "section-templates", "traced-template", "flat-skin", "form-block", "nose-cradle", "hinge-line", "sight-line",
    "head-gauge", "edge-gauge", "trailing-edge-gauge", "guide-plate", "fan-strip", "surface-section", "flat-blank", "hole-layout", "patch",
    "check-row", "nose-roll",
)  # fmt: skip


@pytest.mark.parametrize("name", DRAWN)
def test_its_files_are_the_drawing(name):
    raw = tomllib.loads((EXAMPLES / f"{name}.toml").read_text(encoding="utf-8"))
    templates = run_calculation(name, raw).outcome.templates
    assert templates
    scene = templates[0]
    document = ezdxf.read(io.StringIO(dxf_of(scene).decode()))
    assert not document.audit().has_errors
    kinds = {entity.dxftype() for entity in document.modelspace()}
    assert kinds <= {"LINE", "CIRCLE", "ARC", "LWPOLYLINE", "TEXT", "SOLID", "HATCH"}
    assert {entity.dxf.layer for entity in document.modelspace()} <= {"CUT", "DRILL", "MARK", "PRINT"}
    closed = [i for i in scene.items if isinstance(i, Polyline) and i.closed and i.layer == "cut"]
    ours = [
        Area(
            flattened(
                Outline(np.array(i.points), np.array(i.bulges or [0.0] * len(i.points)), True),
                chord_error_in=1e-5,
            )
        ).area
        for i in closed
    ]
    theirs = []
    for entity in document.modelspace().query('LWPOLYLINE[layer=="CUT"]'):
        if entity.closed:
            path = ezdxf.path.make_path(entity)
            theirs.append(dxf_area(list(path.flattening(1e-5))))
    assert sorted(theirs)[-len(ours) :] == pytest.approx(sorted(ours), rel=1e-4)
    pages = full_size(scene, "letter")
    with pdfplumber.open(io.BytesIO(pdf_of_pages(pages))) as pdf:
        assert len(pdf.pages) == len(pages)
        for page in pdf.pages:
            assert float(page.width) in (612.0, 792.0)
    # The sheets of the map hold the drawing, and neighbours lap.
    mapped = bounds(tile_map(scene, pages))
    box = bounds(scene)
    assert mapped.left <= box.left + 1e-9
    assert mapped.right >= box.right - 1e-9
    assert mapped.bottom <= box.bottom + 1e-9
    assert mapped.top >= box.top - 1e-9


BOW_TIE = (("0", "0"), ("4", "4"), ("4", "0"), ("0", "4"))


def test_outlines_that_cross_themselves_are_named():
    corners = [{"blank": "gusset", "x": x, "y": y} for x, y in BOW_TIE]
    raw = {
        "blanks": [{"name": "gusset"}],
        "outlines": corners,
        "sheets": [{"name": "s", "length": "20", "width": "20"}],
        "seconds": "0",
    }
    with pytest.raises(GeometryError, match="gusset"):
        run_calculation("nest-blanks", raw)
    points = [
        {"x": x, "y": y}
        for x, y in (
            ("4", "1"),
            ("2", "1.2"),
            ("0", "0"),
            ("2", "-1"),
            ("3", "1.6"),
            ("1", "1.5"),
            ("4", "0"),
            ("5", "-1"),
        )
    ]
    with pytest.raises(GeometryError):
        run_calculation(
            "traced-template",
            {"part": "rib", "station": "0", "points": points, "reading": "0", "thickness": ".025"},
        )
