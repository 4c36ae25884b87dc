"""Running a calculation from what somebody entered: file, standard input, flags or a form."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ribwright import __version__
from ribwright.core.audit import Calculation, Outcome, document_of_outcome, form_to_raw, read
from ribwright.core.audit.calculation import answer
from ribwright.core.audit.index import Entry, entries, load
from ribwright.core.audit.schema import schema
from ribwright.core.audit.spec import fields_of
from ribwright.core.bench import document_of_sheet
from ribwright.errors import FormatError, UnknownNameError
from ribwright.services import compute

LARGEST_TEXT = 5_000_000
NAMED_VALUES = 'named values, as {"thickness": ".032"}'
SCHEMA_VERSIONS: Mapping[str, int] = {}
"""Version of a calculation's input where it is no longer the first; when it goes up: docs/release.md."""
LONG = frozenset({"nest-blanks"})
"""Calculations that take seconds by intention: done on workers where there are some."""


@dataclass(frozen=True, slots=True)
class Done:
    """A calculation that ran: its answer as data, and on demand as text, PDF or picture."""

    calculation: Calculation
    spec: Any
    outcome: Outcome
    answer: dict[str, Any]

    def text(self, *, worksheet: bool = True) -> str:
        """For the terminal: the answer, and under it the worksheet that it comes from."""
        from ribwright.core.audit import answer_of_outcome
        from ribwright.core.writers.to_text import text_of_document

        title = self.calculation.title
        return text_of_document(answer_of_outcome(self.outcome, self.spec, title=title, worksheet=worksheet))

    def pdf(
        self,
        paper: str = "letter",
        *,
        reference: str = "",
        seal: str = "",
        correction: tuple[float, float] = (1.0, 1.0),
        printer: str = "",
    ) -> bytes:
        """Worksheet, stage sheets and full-size templates in one PDF; the templates with a printer's factors."""
        from ribwright.core.scene import TitleBlock, full_size
        from ribwright.core.writers.to_pdf import pdf_of_packet

        title = str(getattr(self.spec, "title", "") or self.calculation.title)
        drawing, revision = (
            str(getattr(self.spec, "drawing", "") or ""),
            str(getattr(self.spec, "revision", "") or ""),
        )
        named = title.lower().startswith(self.calculation.title.lower())
        heading = title if named else f"{self.calculation.title}: {title}"
        parts: list[Any] = [
            document_of_outcome(
                self.outcome, self.spec, title=heading, reference=reference, revision=revision, seal=seal
            ),
            *(document_of_sheet(sheet, reference=reference, seal=seal) for sheet in self.outcome.sheets),
            *(replace(one, reference=reference, seal=seal) for one in self.outcome.documents),
        ]
        for scene in self.outcome.templates:
            block = TitleBlock(
                title=scene.title or title, reference=reference, drawing=drawing, revision=revision,
                hand=getattr(self.spec, "hand", "none"), seal=seal, printer=printer,
            )  # fmt: skip
            parts.append(full_size(scene, paper, correction, block))
        return pdf_of_packet(parts, paper)

    def svg(self) -> str:
        """The picture alone."""
        from ribwright.core.writers.to_svg import svg_of

        if self.outcome.picture is None:
            raise UnknownNameError(
                "picture", found=self.calculation.name, allowed="a calculation with a picture"
            )
        return svg_of(self.outcome.picture, stand_alone=True)


def run_calculation(name: str, raw: Mapping[str, Any], form: Mapping[str, str] | None = None) -> Done:
    """Run the calculation of this name.

    Args:
        raw: by field name, as JSON or TOML gives it.
        form: flat names (``layers.0.thickness``) that add to or overrule ``raw``.

    Raises:
        InputError, TableError and whatever the calculation refuses; never a number for bad input.
    """
    made = load(name)
    entered = with_flags(made.spec, raw, form or {})
    spec: Any = read(made.spec, entered)
    outcome = compute.run(_outcome, name, spec) if name in LONG else made.outcome(spec)
    return Done(made, spec, outcome, answer(made, spec, outcome))


def _outcome(name: str, spec: Any) -> Outcome:
    """On a worker: name and drawing data go there, the outcome comes back."""
    return load(name).outcome(spec)


def with_flags(spec: type, raw: Mapping[str, Any], form: Mapping[str, str]) -> dict[str, Any]:
    """What a file gave, with flat names (``layers.0.thickness``) added or put in its place.

    Raises:
        UnknownNameError: the spec has no field of that name.
    """
    top = [field.name for field in fields_of(spec)]
    for key in form:
        if key.split(".")[0] not in top:
            raise UnknownNameError(
                f"--{key}", found=key, allowed=", ".join(top), mend="Write the field as it is listed."
            )
    named = {key.split(".")[0] for key in form}
    flat = form_to_raw(spec, form)
    return dict(raw) | {key: value for key, value in flat.items() if key in named}


def schema_of(name: str) -> dict[str, Any]:
    """The JSON schema of a calculation's input."""
    made = load(name)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:ribwright:calculation:{name}:{SCHEMA_VERSIONS.get(name, 1)}",
        "$comment": f"ribwright {__version__}",
        "title": made.title,
        **schema(made.spec),
    }


def read_text(text: bytes, *, name: str, toml: bool) -> dict[str, Any]:
    """JSON or TOML as named values.

    Raises:
        FormatError: too large, not text, not JSON or TOML, or not named values.
    """
    if len(text) > LARGEST_TEXT:
        raise FormatError(
            name, found="more than 5 MB", allowed="at most 5 MB", mend="Enter one calculation at a time."
        )
    try:
        decoded = text.decode("utf-8-sig")
        found = tomllib.loads(decoded) if toml else json.loads(decoded, parse_constant=_no_constant)
    except UnicodeDecodeError:
        raise FormatError(
            name, found="bytes that are no plain text", allowed="a text file, saved as UTF-8"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise FormatError(
            name,
            found=str(error),
            allowed='lines such as pitch = "1-1/8 in"',
            mend="Mend that line; nothing was entered.",
        ) from None
    except RecursionError:
        raise FormatError(name, found="values within values without end", allowed=NAMED_VALUES) from None
    except ValueError as error:
        raise FormatError(
            name, found=str(error)[:120], allowed=NAMED_VALUES, mend="Mend it there; nothing was entered."
        ) from None
    if not isinstance(found, dict):
        raise FormatError(name, found=type(found).__name__, allowed=NAMED_VALUES)
    return found


def kind_of(raw: Mapping[str, Any]) -> str:
    """Which calculation drawing data of a file are for, by the names in it: the one that takes most of them.

    Args:
        raw: named values, as a file gives them.

    Returns:
        Its name. Where two take as many, the one with fewer values still wanting; then a seam first.

    Raises:
        FormatError: no calculation knows any of the names.
    """

    def fit(one: Entry) -> tuple[int, int, bool]:
        known = {str(field["name"]) for field in one.fields}
        wanted = {str(field["name"]) for field in one.fields if not field.get("optional")}
        return len(known & raw.keys()), -len(wanted - raw.keys()), one.name == "seam"

    best = max(entries(), key=fit)
    if not fit(best)[0]:
        raise FormatError(
            "Kind of operation", found="none that knows these names", allowed='lines such as pitch = "1-1/8 in"',
            mend="Look at a file that another operation gives.",
        )  # fmt: skip
    return best.name


def toml_of(raw: Mapping[str, Any]) -> str:
    """Drawing data as TOML that a person reads and writes; ``read_text`` gives back the same values."""
    lines = [f"# ribwright {__version__}"]
    lines += [f"{key} = {_quoted(value)}" for key, value in raw.items() if not isinstance(value, list)]
    for key, value in raw.items():
        for row in value if isinstance(value, list) else ():
            lines += ["", f"[[{key}]]", *(f"{name} = {_quoted(cell)}" for name, cell in row.items())]
    return "\n".join(lines) + "\n"


def _quoted(value: object) -> str:
    # a JSON string of printable text is a TOML basic string too
    return json.dumps(str(value), ensure_ascii=False)


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number")
