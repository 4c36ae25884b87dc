"""Every error that the program raises on purpose, in one tree.

    RibwrightError
    ├── InputError                 what somebody entered can't be used
    │   ├── MissingError           a needed entry is absent
    │   ├── QuantityError          not a number with a unit, or the wrong kind of unit
    │   │   └── AmbiguousError     it can be read in two ways
    │   ├── OutOfRangeError        understood, but outside what is allowed
    │   ├── UnknownNameError       no such alloy, calculation, part, command …
    │   ├── GeometryError          shapes that can't be (crossing, overlapping, beyond the edge)
    │   └── FormatError            a file or message that can't be read
    ├── TableError
    │   ├── NoSuchRowError         the table has no such row
    │   └── OutsideTableError      the table ends before this value; it is never extrapolated
    ├── DrawingError
    │   └── DoesNotFitError        larger than the paper, sheet or gap it must go on
    ├── MeasuringError
    │   ├── NoScaleError           a photo or print without a confirmed scale
    │   └── UnreadablePhotoError   refused before or while decoding
    ├── FormingError               no set-up makes this shape (the sentence says why)
    ├── PlanError
    │   ├── CycleError             work that waits for itself
    │   └── NeverRunsError         a task whose needs can't be met
    ├── StoreError
    │   ├── NoProjectError         nothing there, or not a project
    │   ├── ProjectExistsError     will not be overwritten
    │   ├── NewerProjectError      written by a later version of the program
    │   ├── StaleRevisionError     somebody changed it since this page was opened
    │   ├── RecordTamperedError    the record doesn't agree with itself
    │   ├── MigrationError         bringing the project up to this version failed; the copy stands
    │   └── DiskError              full, read-only or torn
    ├── RefusedError               who asks may not do this
    ├── ConflictError              it can't be done in this state (signed, closed, still blocked)
    ├── ServeError                 the port is taken, the address can't be used
    └── Stopped                    long work was asked to stop

A leaf is raised with the facts, never with a ready sentence: ``field`` (the input as the builder
knows it), ``found`` (what was there), ``allowed`` (what would do) and ``mend`` (what to do now).
``str(error)`` builds the sentence from them.
"""

from __future__ import annotations

from typing import ClassVar


class RibwrightError(Exception):
    """Base of the tree. ``code`` is stable and public; exit codes and HTTP statuses hang on it."""

    code: ClassVar[str] = "error"
    what: ClassVar[str] = "can't be used"

    def __init__(
        self,
        field: str,
        *,
        found: object = None,
        allowed: object = None,
        mend: str = "",
        because: str = "",
    ) -> None:
        self.field = field
        self.found = None if found is None else str(found)[:300]
        self.allowed = None if allowed is None else str(allowed)[:600]
        self.mend = mend
        self.because = because
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """The message: input, what was found, what is allowed, the mend."""
        head = f"{self.field}: " + (self.because or self.what)
        if self.found:
            head += f" (found: {self.found})"
        parts = [head.rstrip(".") + "."]
        if self.allowed is not None:
            parts.append(f"Allowed: {self.allowed.rstrip('.')}.")
        if self.mend:
            mend = self.mend if self.mend.startswith("pip ") else self.mend[0].upper() + self.mend[1:]
            parts.append(mend if mend.endswith((".", "?", "!")) else mend + ".")
        return " ".join(parts)

    def as_dict(self) -> dict[str, str | None]:
        """The one error shape of command line, JSON and web."""
        return {
            "code": self.code,
            "message": self.sentence(),
            "field": self.field,
            "found": self.found,
            "allowed": self.allowed,
            "mend": self.mend or None,
        }


class InputError(RibwrightError):
    """``name`` is the input's key (``layers.1.thickness``); ``others`` are further mistakes found."""

    code = "input"
    name: str = ""
    others: tuple[InputError, ...] = ()


class MissingError(InputError):
    code = "input.missing"
    what = "nothing was entered here"


class QuantityError(InputError):
    code = "input.quantity"
    what = "this is not a value with a fitting unit"


class AmbiguousError(QuantityError):
    code = "input.ambiguous"
    what = "this can be read in more than one way"


class OutOfRangeError(InputError):
    code = "input.range"
    what = "the value is outside what can be used"


class UnknownNameError(InputError):
    code = "input.unknown"
    what = "there is nothing of this name"


class GeometryError(InputError):
    code = "input.geometry"
    what = "this shape can't be made"


class FormatError(InputError):
    code = "input.format"
    what = "this can't be read"


class TableError(RibwrightError):
    code = "table"
    what = "the table does not hold this"


class NoSuchRowError(TableError):
    code = "table.row"
    what = "the table has no such row"


class OutsideTableError(TableError):
    code = "table.outside"
    what = "the table ends before this value, and is never carried on beyond its end"


class DrawingError(RibwrightError):
    code = "drawing"
    what = "this can't be drawn"


class DoesNotFitError(DrawingError):
    code = "drawing.fit"
    what = "this does not fit"


class MeasuringError(RibwrightError):
    code = "measuring"
    what = "this can't be measured"


class NoScaleError(MeasuringError):
    code = "measuring.scale"
    what = "there is no confirmed scale"


class UnreadablePhotoError(MeasuringError):
    code = "measuring.photo"
    what = "this photo can't be used"


class FormingError(RibwrightError):
    code = "forming"
    what = "no set-up makes this shape"


class PlanError(RibwrightError):
    code = "plan"
    what = "this can't be planned"


class CycleError(PlanError):
    code = "plan.cycle"
    what = "this work waits for itself"


class NeverRunsError(PlanError):
    code = "plan.never"
    what = "this task can never run"


class StoreError(RibwrightError):
    code = "store"
    what = "the project can't be used"


class NoProjectError(StoreError):
    code = "store.none"
    what = "there is no project here"


class ProjectExistsError(StoreError):
    code = "store.exists"
    what = "there is a project here already; nothing was overwritten"


class NewerProjectError(StoreError):
    code = "store.newer"
    what = "this project was written by a later version of the program; nothing was changed"


class StaleRevisionError(StoreError):
    code = "store.stale"
    what = "this was changed after your page was opened; nothing was overwritten"


class RecordTamperedError(StoreError):
    code = "store.tampered"
    what = "the record does not agree with itself"


class MigrationError(StoreError):
    code = "store.migration"
    what = "the project could not be brought up to this version; the copy made before stands"


class DiskError(StoreError):
    code = "store.disk"
    what = "the disk refused; nothing was half written"


class RefusedError(RibwrightError):
    code = "refused"
    what = "this is not open to you"


class ConflictError(RibwrightError):
    code = "conflict"
    what = "this can't be done in its present state"


class ServeError(RibwrightError):
    code = "serve"
    what = "the app can't be served there"


class Stopped(RibwrightError):
    code = "stopped"
    what = "stopped as asked; what was finished is kept"
