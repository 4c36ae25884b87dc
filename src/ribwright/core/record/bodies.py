"""What the body of each kind of entry must hold. More may stand in it; what must be there must fit."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from ribwright.core.record.bookings import DECISIONS
from ribwright.core.record.entry import check_ref
from ribwright.errors import FormatError, MissingError, OutOfRangeError, UnknownNameError

NOUNS = (
    "aircraft",
    "assembly",
    "part",
    "operation",
    "drawing",
    "stock",
    "tool",
    "person",
    "order",
    "task",
    "setting",
    "space",
)
HANDS = ("left", "right", "none")
VERDICTS = ("within limits", "rework", "refer", "undecided")
WORKED_AS = ("builder", "helper", "paid")
MOVES = ("counted", "received", "used", "discarded", "credited", "mixed")
"""What a ``material`` entry about something in the stores does to it; about an operation it is used there."""

_NEEDED = {
    "set": ("noun", "ref", "revision"),
    "withdraw": ("because",),
    "work": ("hours",),
    "reading": ("requirement", "value"),
    "finding": ("requirement", "verdict", "reason"),
    "photo": ("digest", "media"),
    "material": ("item",),
    "notice": ("words",),
    "departure": ("words",),
    "visit": ("words",),
    "discrepancy": ("what",),
    "disposition": ("discrepancy", "decision"),
    "question": ("words",),
    "answer": ("question", "words"),
    "sign": (),
    "correction": ("because",),
    "undo": (),
    "note": ("words",),
}
_TEXTS = (
    "because",
    "hours",
    "value",
    "unit",
    "u",
    "instrument",
    "margin",
    "reason",
    "next",
    "digest",
    "report",
    "thumb",
    "media",
    "name",
    "caption",
    "taken_at",
    "position",
    "item",
    "move",
    "crate",
    "listed",
    "claim_by",
    "expires",
    "low",
    "high",
    "lot",
    "supplier",
    "quantity",
    "words",
    "what",
    "discrepancy",
    "decision",
    "authority",
    "closes",
    "closing_reading",
    "who",
    "stage",
    "person",
    "as",
    "from",
    "to",
    "day",
    "done",
    "title",
    "parent",
)
_COUNT = re.compile(r"[1-9]\d{0,11}")


def check_body(kind: str, body: Mapping[str, Any]) -> None:
    """Refuse a body that its kind can't have.

    Args:
        kind: one of ``ENTRY_KINDS``.
        body: as it will be hashed.

    Raises:
        MissingError, FormatError, OutOfRangeError, UnknownNameError: naming the field.
    """
    if not isinstance(body, Mapping):
        raise FormatError("entry", found=type(body).__name__, allowed="named values")
    for name in _NEEDED[kind]:
        value = body.get(name)
        if value is None or value == "" or value == {}:
            raise MissingError(f"{kind}: {name}", mend=f"Say what the {name} is")
    for name in _TEXTS:
        value = body.get(name, "")
        if not isinstance(value, str) and not (value is None and name not in _NEEDED[kind]):
            raise FormatError(f"{kind}: {name}", found=value, allowed="text")
    check = _CHECKS.get(kind)
    if check is not None:
        check(body)


def _check_set(body: Mapping[str, Any]) -> None:
    _one_of("set: noun", body["noun"], NOUNS)
    check_ref(body["ref"])
    if body.get("parent"):
        check_ref(body["parent"], "belongs to")
        if body["parent"] == body["ref"]:
            raise OutOfRangeError("belongs to", found=body["parent"], allowed="another object than itself")
    _one_of("set: hand", body.get("hand") or "none", HANDS)
    _count("set: revision", body["revision"])
    if not isinstance(body.get("data") or {}, Mapping):
        raise FormatError("set: data", found=type(body["data"]).__name__, allowed="named values")
    made_from = body.get("made_from") or []
    seen: set[str] = set()
    if not isinstance(made_from, list | tuple):
        raise FormatError("set: made_from", found=made_from, allowed="a list of references with their marks")
    for item in made_from:
        if not isinstance(item, Mapping) or not all(
            isinstance(item.get(key), str) for key in ("ref", "digest")
        ):
            raise FormatError("set: made_from", found=item, allowed="reference and mark, both text")
        check_ref(item["ref"], "made from")
        if item["ref"] == body["ref"] or item["ref"] in seen:
            raise OutOfRangeError("made from", found=item["ref"], allowed="each other object once")
        seen.add(item["ref"])


def _check_work(body: Mapping[str, Any]) -> None:
    try:
        hours = Decimal(body["hours"])
    except InvalidOperation:
        hours = Decimal("NaN")
    if not hours.is_finite() or not 0 <= hours <= 24:
        raise OutOfRangeError("hours", found=body["hours"], allowed="0 to 24 in one entry, such as 1.25")
    if body.get("as"):
        _one_of("work: as", body["as"], WORKED_AS)
    if body.get("done"):
        _one_of("work: done", body["done"], ("yes", "no"))


def _check_requirement(body: Mapping[str, Any]) -> None:
    if not isinstance(body["requirement"], str | Mapping):
        raise FormatError("requirement", found=body["requirement"], allowed="a name, or named values")


def _check_finding(body: Mapping[str, Any]) -> None:
    _check_requirement(body)
    _one_of("finding: verdict", body["verdict"], VERDICTS)
    if body.get("reading"):
        _count("finding: reading", body["reading"])


def _check_photo(body: Mapping[str, Any]) -> None:
    for name in ("digest", "report", "thumb"):
        value = body.get(name) or ("" if name != "digest" else "-")
        if value and not re.fullmatch(r"[0-9a-f]{64}", value):
            raise FormatError(f"photo: {name}", found=value, allowed="the mark of a kept photo")


def _check_material(body: Mapping[str, Any]) -> None:
    if not body.get("move"):
        return
    _one_of("material: move", body["move"], MOVES)
    for name in ("quantity", "low", "high", "listed"):
        if body.get(name):
            _amount(f"material: {name}", body[name])
    if not body.get("quantity"):
        raise MissingError("material: quantity", mend="Say how many.")


def _amount(field: str, text: object) -> None:
    try:
        value = Decimal(text) if isinstance(text, str) else Decimal("NaN")
    except InvalidOperation:
        value = Decimal("NaN")
    if not value.is_finite() or not 0 <= value <= 10**9:
        raise OutOfRangeError(field, found=text, allowed="a number from 0, as text")


def _check_disposition(body: Mapping[str, Any]) -> None:
    _one_of("disposition: decision", body["decision"], DECISIONS)
    if body["decision"] == "use as is":
        for name in ("reason", "authority"):
            if not body.get(name):
                raise MissingError(
                    f"disposition: {name}",
                    because="to use it as it is needs a reason and an authority",
                    mend="Write who allows it, and why it is good enough",
                )
    if body.get("closing_reading"):
        _count("disposition: closing_reading", body["closing_reading"])
    _one_of("disposition: closes", body.get("closes") or "yes", ("yes", "no"))


def _check_answer(body: Mapping[str, Any]) -> None:
    _count("answer: question", body["question"])


def _check_correction(body: Mapping[str, Any]) -> None:
    if not isinstance(body.get("instead") or {}, Mapping):
        raise FormatError("correction: instead", found=body["instead"], allowed="named values")


_CHECKS = {
    "set": _check_set,
    "work": _check_work,
    "reading": _check_requirement,
    "finding": _check_finding,
    "photo": _check_photo,
    "material": _check_material,
    "disposition": _check_disposition,
    "answer": _check_answer,
    "correction": _check_correction,
}


def _one_of(field: str, value: object, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise UnknownNameError(field, found=value, allowed=", ".join(allowed))


def _count(field: str, value: object) -> None:
    if not isinstance(value, str) or not _COUNT.fullmatch(value):
        raise FormatError(field, found=value, allowed="a whole number from 1, as text")
