"""What counts as a word."""

from __future__ import annotations

from ribwright.core.record.entry import GENESIS, make_entry
from ribwright.core.record.words import words_in, words_of


def test_letters_and_digits_without_case_and_accents() -> None:
    assert words_in("Déburred AN470AD4-5, 3/32 “Größe”") == ("deburred", "an470ad4", "5", "3", "32", "grosse")
    assert words_in("") == ()
    assert words_in("--- / “”") == ()


def test_other_scripts_keep_their_beginnings() -> None:
    (whole,) = words_in("нервюра")
    (start,) = words_in("нерв")
    assert whole.startswith(start)
    assert whole.isascii()
    assert whole.isalnum()


def test_words_of_an_entry_leave_digests_out_and_do_not_depend_on_order() -> None:
    def words(body: dict[str, object]) -> str:
        entry, _ = make_entry(
            project="p", seq=1, request_id="r", kind="note", about="DN-1", at="2026-03-01T18:00:00Z",
            by="Ann", role="builder", body=body, corrects=None, previous=GENESIS,  # type: ignore[arg-type]
        )  # fmt: skip
        return words_of(entry)

    assert (
        words({"a": "rib", "b": ["spar", {"c": "skin rib"}], "d": "f" * 64}) == "note dn 1 ann rib spar skin"
    )
    assert words({"b": "x", "a": "y"}) == words({"a": "y", "b": "x"})
