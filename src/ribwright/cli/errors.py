"""The one map from error to exit code."""

from __future__ import annotations

from ribwright.errors import (
    ConflictError,
    InputError,
    MeasuringError,
    NewerProjectError,
    RecordTamperedError,
    RefusedError,
    RibwrightError,
    ServeError,
    StaleRevisionError,
    Stopped,
    StoreError,
)

EXIT_CODES: dict[type[RibwrightError], int] = {
    RecordTamperedError: 5,
    NewerProjectError: 4,
    StaleRevisionError: 6,
    StoreError: 4,
    RefusedError: 6,
    ConflictError: 6,
    ServeError: 7,
    Stopped: 130,
    InputError: 3,
    MeasuringError: 3,
    RibwrightError: 3,
}
"""0 done, 1 a check failed (asked for with ``--fail``), 2 usage, 3 input, 4 project, 5 record tampered,
6 refused or changed meanwhile, 7 can't be served, 130 stopped. The nearest ancestor in the tree counts."""


def exit_code(error: RibwrightError) -> int:
    """The exit code of an error: its own class's, else its nearest ancestor's."""
    for cls in type(error).__mro__:
        if cls in EXIT_CODES:
            return EXIT_CODES[cls]
    return 3
