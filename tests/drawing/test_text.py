from __future__ import annotations

from drawing.test_pdf import SHEET
from ribwright.core.scene import Document, Fields, Heading, Picture, Scene, Table
from ribwright.core.writers import text_of_document


def test_everything_is_said_and_no_line_is_too_long():
    text = text_of_document(SHEET)
    for part in (
        "STAGE SHEET",
        "[ ] #40 drill",
        "2. second",
        "CAUTION  Never",
        "[drawing] The set-up",
        "____",
    ):
        assert part in text
    assert max(map(len, text.splitlines())) <= 88
    assert text.endswith("\n")


def test_numbers_line_up_right():
    table = Table(("what", "n"), (("a", "1"), ("b", "100")), numeric=(1,))
    lines = text_of_document(Document("t", blocks=(table,))).splitlines()
    assert "a       1" in lines
    assert "b     100" in lines


def test_wide_tables_wrap():
    table = Table(("a", "b"), (("x" * 70, "word " * 30),))
    assert max(map(len, text_of_document(Document("t", blocks=(table,))).splitlines())) <= 88


def test_a_drawing_without_caption_speaks_its_description():
    doc = Document("t", blocks=(Heading("h", 3), Picture(Scene(described="A row of holes.")), Fields(())))
    assert "[drawing] A row of holes." in text_of_document(doc)
