"""How wide lettering runs and how a length is written in a shop: no fonts are opened here."""

from __future__ import annotations

from fractions import Fraction

CAPITAL_HEIGHT = 0.718
"""Height of capitals over type size, of the sans-serif face that every PDF reader carries."""

# Advance widths of characters 32 to 126 in thousandths of the type size (Adobe's metrics of Helvetica).
_WIDTHS = (
    278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
    556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
    1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778,
    667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
    333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556,
    556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584,
)  # fmt: skip
_OTHERS = {"°": 400, "×": 584, "±": 584, "½": 834, "¼": 834, "¾": 834, "µ": 556, "·": 278}


def width_of(text: str, height: float, *, bold: bool = False) -> float:
    """Width of a line of lettering whose capitals are ``height`` high, in the same unit."""
    total = 0
    for letter in text:
        code = ord(letter) - 32
        total += _WIDTHS[code] if 0 <= code < len(_WIDTHS) else _OTHERS.get(letter, 584)
    return total / 1000 * height / CAPITAL_HEIGHT * (1.07 if bold else 1.0)


def lettering_for(width_in: float, *, shown_in: float = 7.0, printed_in: float = 0.1) -> float:
    """Letter height for a drawing ``width_in`` wide that will be shown ``shown_in`` wide on paper."""
    return printed_in * width_in / shown_in


def length_text(length_in: float, *, finest: int = 64, within_in: float = 0.0005) -> str:
    """A length as a shop writes it: ``1-3/16`` when it is such a fraction, otherwise three decimals.

    Args:
        length_in: the length.
        finest: the smallest part of an inch used (a power of two).
        within_in: how near the fraction has to be; otherwise decimals say it better.
    """
    near = Fraction(round(length_in * finest), finest)
    if abs(float(near) - length_in) > within_in:
        shown = f"{length_in:.3f}"
        return shown[1:] if shown.startswith("0.") else shown
    whole, part = divmod(near, 1)
    if not part:
        return f"{whole}"
    return f"{whole}-{part}" if whole else f"{part}"
