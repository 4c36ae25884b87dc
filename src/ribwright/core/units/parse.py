"""Text to quantity: the trade's fractions, drills, feet and inches, metric; ambiguity is refused."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

from ribwright.core.units.quantity import UNITS, Quantity, Unit, unit
from ribwright.errors import AmbiguousError, MissingError, QuantityError

_ALIASES = {
    '"': "in", "inch": "in", "inches": "in", "in.": "in", "''": "in",
    "'": "ft", "feet": "ft", "foot": "ft", "ft.": "ft",
    "millimetre": "mm", "millimeter": "mm", "metre": "m", "meter": "m",
    "thou": "mil", "nm": "NM",
    "lbs": "lb", "pound": "lb", "pounds": "lb", "#": "lb", "ounce": "oz", "ounces": "oz",
    "lb_f": "lbf", "lbs.": "lb", "lb.": "lb", "oz.": "oz",
    "KSI": "ksi", "PSI": "psi", "MSI": "Msi", "mpa": "MPa", "gpa": "GPa", "Mpa": "MPa", "mb": "hPa", "mbar": "hPa",
    "inhg": "inHg", "in hg": "inHg", "in.hg": "inHg", "inh2o": "inH2O", "in h2o": "inH2O",
    "°": "deg", "degree": "deg", "degrees": "deg",
    "lb-in": "lb·in", "in-lb": "lb·in", "in·lb": "lb·in", "lbin": "lb·in", "inlb": "lb·in", "lb in": "lb·in",
    "in lb": "lb·in", "in-lbs": "lb·in",
    "lb-ft": "lb·ft", "ft-lb": "lb·ft", "ft·lb": "lb·ft", "lb ft": "lb·ft", "ft lb": "lb·ft",
    "Nm": "N·m", "N m": "N·m", "N-m": "N·m",
    "lb-in/in": "lb·in/in", "in-lb/in": "lb·in/in",
    "lbf/in": "lb/in", "sq in": "in²", "in2": "in²", "in^2": "in²", "sq ft": "ft²", "ft2": "ft²", "mm2": "mm²",
    "m2": "m²", "in3": "in³", "in^3": "in³", "cu in": "in³", "l": "L", "litre": "L", "liter": "L",
    "gallon": "gal", "gallons": "gal", "quart": "qt", "quarts": "qt", "US gal": "gal",
    "lb/in3": "lb/in³", "lb/in^3": "lb/in³", "g/cm3": "g/cm³", "kg/L": "g/cm³",
    "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "minute": "min", "minutes": "min", "sec": "s", "day": "d",
    "days": "d", "knot": "kt", "knots": "kt", "kts": "kt", "kph": "km/h",
    "fpm": "ft/min", "gph": "gal/h", "GPH": "gal/h",
    "F": "°F", "C": "°C", "degF": "°F", "degC": "°C", "° F": "°F", "° C": "°C",
    "percent": "%", "/in": "per in", "amp": "A", "amps": "A", "volt": "V", "volts": "V",
}  # fmt: skip

_VULGAR = {
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "⅛": "1/8",
    "⅜": "3/8",
    "⅝": "5/8",
    "⅞": "7/8",
    "⅓": "1/3",
    "⅔": "2/3",
}
_SAME = {
    "−": "-",
    "–": "-",
    "⁄": "/",
    "″": '"',
    "”": '"',
    "“": '"',
    "′": "'",
    "’": "'",
    "\u00a0": " ",
    "\u202f": " ",
}

_NUMBER = re.compile(
    r"""(?P<sign>[+-]?)\s*(?:
        (?P<whole>\d+)\s*[-\s]\s*(?P<num>\d+)/(?P<den>\d+)          # 1-1/2, 1 1/2
      | (?P<fnum>\d+)/(?P<fden>\d+)                                 # 3/16
      | (?P<dec>(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)           # .032, 12, 1e-3
    )""",
    re.VERBOSE | re.ASCII,
)
_MAX_TEXT = 80


def parse(
    text: str,
    symbol: str,
    *,
    field: str = "value",
    named: Mapping[str, Fraction] | None = None,
) -> Quantity:
    """Read what the builder wrote.

    Args:
        text: for example ``1/2 in``, ``1-1/2``, ``.032``, ``3/16"``, ``2 ft 3 in``, ``0.8 mm``, ``#30``, ``47 ksi``.
        symbol: the field's own unit, taken by a bare number; it also fixes what may be measured.
        field: the builder's name of the input, for the sentence of an error.
        named: sizes with a name of their own, in inches (drills: ``#30``, ``F``); lengths only.

    Raises:
        MissingError: empty text.
        AmbiguousError: two readings (``1,500``); the sentence lists them.
        QuantityError: not a number, or a unit of something else.
    """
    own = unit(symbol)
    cleaned = text.strip()
    for there, here in {**_SAME, **{k: f" {v}" for k, v in _VULGAR.items()}}.items():
        cleaned = cleaned.replace(there, here)
    cleaned = " ".join(cleaned.split())
    if not cleaned:
        raise MissingError(field, allowed=_like(own), mend="Enter a value.")
    if len(cleaned) > _MAX_TEXT:
        raise QuantityError(field, found=text[:40] + "…", allowed=f"at most {_MAX_TEXT} characters")
    if own.dimension == "length" and named:
        name = cleaned.upper().removesuffix("DRILL").strip().replace("NO.", "#").replace(" ", "")
        # a small letter alone is a slip of the finger more often than a letter drill
        drill = None if len(cleaned) == 1 and cleaned.islower() else named.get(name)
        if drill is not None:
            return Quantity(drill, UNITS["in"], cleaned)
        if cleaned.startswith("#"):
            raise QuantityError(
                field, found=cleaned, allowed="a number drill from #1 to #80", mend="Check the drill."
            )
    _refuse_ambiguous(cleaned, field, own)
    number, chosen = _terms(cleaned, field, own)
    return Quantity(number, chosen, cleaned)


def _refuse_ambiguous(text: str, field: str, own: Unit) -> None:
    if "," in text:
        plain = text.replace(",", ".", 1)
        if re.search(r"\d,\d{3}(?!\d)", text):
            joined = text.replace(",", "")
            raise AmbiguousError(
                field,
                found=text,
                allowed=f"{joined}, or {plain}",
                mend="Write it without the comma, as you mean it.",
            )
        raise QuantityError(field, found=text, allowed="a point before the decimals", mend=f"Write {plain}.")
    if re.fullmatch(r"[+-]?\d+ \d+(\.\d*)?( *[^\d\s./].*)?", text, re.ASCII):
        first, rest = text.split(" ", 1)
        raise AmbiguousError(
            field,
            found=text,
            allowed=f"{first}{rest}, or {first}.{rest}",
            mend="Write it without the gap, as you mean it.",
        )
    if re.fullmatch(r"\d+(\.\d*)? ?- ?\d+(\.\d*)?( *[^\d\s./].*)?", text, re.ASCII):
        raise AmbiguousError(
            field,
            found=text,
            allowed="one value; 1-1/2 is read as one and a half",
            mend="Enter one of the two values.",
        )


def _terms(text: str, field: str, own: Unit) -> tuple[Fraction, Unit]:
    """One term, or feet and inches, or pounds and ounces."""
    terms: list[tuple[Fraction, Unit | None]] = []
    rest = text
    while rest:
        match = _NUMBER.match(rest)
        if match is None:
            raise QuantityError(
                field, found=text, allowed=_like(own), mend="Enter a number, with its unit if it is another."
            )
        number = _number(match, text, field)
        rest = rest[match.end() :].lstrip()
        name = re.match(r"[^\d.+-]+", rest)
        symbol = name.group(0).strip() if name else ""
        # units such as in2 or inH2O carry a digit: try the longest name first
        whole = rest.strip()
        if _known(whole) is not None:
            terms.append((number, _known(whole)))
            rest = ""
            continue
        chosen = _known(symbol) if symbol else None
        if symbol and chosen is None:
            raise QuantityError(
                field, found=text, allowed=_like(own), mend=f"“{symbol}” is not a unit known here."
            )
        terms.append((number, chosen))
        rest = rest[len(symbol) :].lstrip() if symbol else rest
        if not symbol and rest:
            raise QuantityError(field, found=text, allowed=_like(own), mend="Enter one value.")
        if len(terms) > 2:
            raise QuantityError(field, found=text, allowed=_like(own), mend="Enter one value.")
    if len(terms) == 2:
        return _compound(terms, text, field, own)
    number, chosen = terms[0]
    chosen = chosen or own
    if chosen.dimension != own.dimension:
        if {chosen.symbol, own.dimension} == {"lb", "force"}:  # the trade says "lb" for both
            chosen = UNITS["lbf"]
        elif chosen.symbol == "%" or own.symbol == "%":
            raise QuantityError(field, found=text, allowed=_like(own))
        else:
            raise QuantityError(
                field, found=f"{text}, {chosen.measures}", allowed=f"{own.measures}, {_like(own)}"
            )
    return number, chosen


def _compound(
    terms: list[tuple[Fraction, Unit | None]], text: str, field: str, own: Unit
) -> tuple[Fraction, Unit]:
    (big, big_unit), (small, small_unit) = terms
    pair = (big_unit.symbol if big_unit else "", small_unit.symbol if small_unit else "")
    if (
        pair in (("ft", "in"), ("ft", ""), ("lb", "oz"), ("deg", "min"))
        and small >= 0
        and big_unit is not None
    ):
        lower = {"ft": UNITS["in"], "lb": UNITS["oz"], "deg": UNITS["deg"]}[pair[0]]
        steps = {"ft": 12, "lb": 16, "deg": 60}[pair[0]]
        if small >= steps:
            raise QuantityError(field, found=text, allowed=f"the second part below {steps}")
        if big_unit.dimension != own.dimension:
            raise QuantityError(field, found=f"{text}, {big_unit.measures}", allowed=own.measures)
        signed = -small if text.startswith("-") else small
        if pair[0] == "deg":
            return big + signed / 60, lower
        return big * steps + signed, lower
    raise QuantityError(field, found=text, allowed=_like(own), mend="Enter one value with one unit.")


def _known(symbol: str) -> Unit | None:
    if symbol in UNITS and symbol:
        return UNITS[symbol]
    alias = _ALIASES.get(symbol) or _ALIASES.get(symbol.lower())
    if alias is None and symbol.lower() in UNITS and symbol:
        alias = symbol.lower()
    return UNITS[alias] if alias else None


def _number(match: re.Match[str], text: str, field: str) -> Fraction:
    parts = match.groupdict()
    try:
        if parts["whole"] is not None:
            if int(parts["num"]) >= int(parts["den"]):
                raise AmbiguousError(
                    field, found=text, allowed="a whole number and a fraction below one, as 1-1/2"
                )
            number = int(parts["whole"]) + Fraction(int(parts["num"]), int(parts["den"]))
        elif parts["fnum"] is not None:
            number = Fraction(int(parts["fnum"]), int(parts["fden"]))
        else:
            number = Fraction(parts["dec"])
    except ZeroDivisionError:
        raise QuantityError(field, found=text, allowed="a fraction whose lower part is not 0") from None
    if abs(number) > Fraction(10) ** 12 or 0 < abs(number) < Fraction(1, 10**12):
        raise QuantityError(field, found=text, allowed="between 1e-12 and 1e12 in size")
    return -number if parts["sign"] == "-" else number


def _like(own: Unit) -> str:
    examples = {
        "length": '1/2 in, .032, 3/16", 0.8 mm',
        "mass": "12.5 lb, 5 kg, 3 lb 4 oz",
        "stress": "47 ksi, 324 MPa",
        "angle": "5.5 deg",
        "temperature": "59 °F, 15 °C",
        "time": "2.5 h, 90 min",
        "number": "a plain number",
    }
    return (
        f"for example {examples[own.dimension]}" if own.dimension in examples else f"a value in {own.symbol}"
    )
