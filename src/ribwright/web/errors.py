"""The one map from error to HTTP status."""

from __future__ import annotations

from ribwright.errors import (
    ConflictError,
    DiskError,
    InputError,
    MeasuringError,
    RecordTamperedError,
    RefusedError,
    RibwrightError,
    StaleRevisionError,
    StoreError,
    UnknownNameError,
)

STATUS: dict[type[RibwrightError], int] = {
    RecordTamperedError: 409,
    StaleRevisionError: 409,
    ConflictError: 409,
    RefusedError: 403,
    DiskError: 507,
    StoreError: 503,
    MeasuringError: 422,
    UnknownNameError: 404,
    InputError: 422,
    RibwrightError: 422,
}


def status_of(error: RibwrightError) -> int:
    """The HTTP status of an error: its own class's, else its nearest ancestor's."""
    return next((STATUS[cls] for cls in type(error).__mro__ if cls in STATUS), 422)
