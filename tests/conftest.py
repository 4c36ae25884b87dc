"""What holds over the whole run of the tests."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from ribwright.store import objects


@pytest.fixture(scope="session", autouse=True)
def _nobody_changes_what_was_read() -> Iterator[None]:
    """The reading of an object is shared by everyone: at the end each still says what its text says."""
    kept: dict[str, dict[str, Any]] = {}
    read = objects._data

    def noting(text: str) -> dict[str, Any]:
        return kept.setdefault(text, read(text))

    objects._data = noting  # type: ignore[assignment]
    yield
    objects._data = read
    changed = [text[:200] for text, data in kept.items() if json.loads(text) != data]
    assert not changed, changed[:3]
