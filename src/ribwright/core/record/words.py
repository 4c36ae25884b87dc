"""Words of an entry, as search sees them: the same for every database.

Search is done by the database's own index, but what counts as a word is decided here, so that two
databases can't give different answers.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from typing import Any

from ribwright.core.record.entry import Entry

_WORD = re.compile(r"[0-9a-z]+|[^\W_a-z0-9]+")
MAX_WORD = 40
MAX_WORDS = 4000


def words_in(text: str) -> tuple[str, ...]:
    """Lower-case words without accents; letters and digits only.

    Example:
        >>> words_in("Rivet AN470AD4-5, déburr")
        ('rivet', 'an470ad4', '5', 'deburr')
    """
    if text.isascii():
        plain = text.lower()
    else:
        folded = unicodedata.normalize("NFKD", text.casefold())
        plain = "".join(character for character in folded if not unicodedata.combining(character)).casefold()
    return tuple(_spelled(word[:MAX_WORD]) for word in _WORD.findall(plain))


def _spelled(word: str) -> str:
    """Other scripts by their code numbers: every database then sees plain letters and digits, and
    the beginning of a word is still the beginning of its spelling."""
    return word if word.isascii() else "".join(f"u{ord(character):05x}" for character in word)


def words_of(entry: Entry) -> str:
    """The words by which an entry is found, each once, parted by spaces."""
    seen: dict[str, None] = {}
    for text in (entry.kind, entry.about, entry.by, *_texts(entry.body)):
        seen.update(dict.fromkeys(words_in(text)))
        if len(seen) > MAX_WORDS:
            break
    return " ".join(list(seen)[:MAX_WORDS])


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        # A digest is never what somebody looks for, and would swell the index.
        if len(value) != 64 or not value.isalnum():
            yield value
    elif isinstance(value, Mapping):
        for _, item in sorted(value.items()):  # as in the canonical text, not as it was typed
            yield from _texts(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _texts(item)
