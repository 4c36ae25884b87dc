"""Results that no published worked number was found for: their worksheets say so themselves."""

from __future__ import annotations

from ribwright.core.audit import Worksheet


def say_unpublished(ws: Worksheet, what: str) -> None:
    """Note on the worksheet that a result stands on its derivation alone.

    Args:
        what: the result in the builder's words, with its verb: "the camber is".
    """
    ws.note(
        f"No published worked example was found: {what} not held against one, only derived and tried on made-up cases. "
        "Check it by a second measurement."
    )
