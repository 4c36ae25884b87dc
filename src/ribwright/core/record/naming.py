"""What entries and the values in them are called where a person reads them."""

from __future__ import annotations

KIND_WORDS = {
    "set": "entered", "work": "worked", "withdraw": "withdrew", "material": "used", "sign": "signed", "undo": "took back",
    "correction": "put right", "visit": "visit", "disposition": "decided", "question": "asked", "answer": "answer",
}  # fmt: skip
"""What somebody did, for the kinds of entry whose own name is no word of the trade."""

DATA_WORDS = {
    "arm_in": "arm, in aft of the datum", "weight_lb": "weight, lb", "made": "made from", "axes": "axes of its flat outline",
    "origin": "measured from", "stock": "kept in stores as", "primary": "primary structure", "cut_length": "cut length, in",
    "noun": "kind", "ref": "reference", "parent": "belongs to", "made_from": "made from", "u": "plus or minus", "done": "finished",
    "worked_with": "tables used", "after": "comes after", "closes": "closes the space", "holds": "held by", "as": "worked as",
    "report": "copy for reports", "thumb": "small copy", "digest": "mark of the file", "second_person": "second person looks",
    "inputs": "drawing data", "joins": "rows in its parts",
}  # fmt: skip
"""Names under which things are kept, where they are no words that a builder would use."""

FILED = frozenset(
    {
        "noun",
        "ref",
        "hand",
        "parent",
        "revision",
        "digest",
        "thumb",
        "report",
        "media",
        "margin",
        "unit",
        "name",
    }
)
"""What an entry keeps for the program; left out where it is told in one line."""


def did(kind: str) -> str:
    """What was done, for an entry of this kind."""
    return KIND_WORDS.get(kind, kind.replace("-", " "))


def named(name: str) -> str:
    """A value's name as a builder says it."""
    return DATA_WORDS.get(name, name.replace("_", " "))
