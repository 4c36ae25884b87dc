"""The guide is whole: the index lists every page, every page has its picture, no picture is too large or unused."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "docs" / "guide"
PICTURES = ROOT / "docs" / "pictures"
PAGES = sorted(p for p in GUIDE.glob("*.md") if p.name != "index.md")
PICTURE = re.compile(r"!\[([^\]]+)\]\(([^)]+)\)")


def test_the_index_lists_every_page_once() -> None:
    listed = re.findall(r"\]\(([\w-]+\.md)\)", (GUIDE / "index.md").read_text(encoding="utf-8"))
    assert sorted(listed) == [p.name for p in PAGES]


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_a_page_has_one_picture_said_in_words(page: Path) -> None:
    found = PICTURE.findall(page.read_text(encoding="utf-8"))
    assert len(found) == 1
    said, target = found[0]
    assert len(said.split()) >= 3, "what a reader who can't see it is told"
    assert (page.parent / target).is_file()


def test_every_picture_is_small_and_shown_somewhere() -> None:
    shown = set()
    for page in [ROOT / "README.md", *PAGES]:
        for _, target in PICTURE.findall(page.read_text(encoding="utf-8")):
            shown.add((page.parent / target).resolve())
    made = {p.resolve() for p in PICTURES.iterdir()}
    assert made == shown
    assert [p.name for p in made if p.stat().st_size > 150_000] == []
