"""Following the chain: each text hashes to its digest, and names the digest before it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ribwright.core.record.canonical import canonical_text
from ribwright.core.record.entry import GENESIS


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that doesn't agree.

    Attributes:
        seq: the entry concerned, or 0 when it is no entry.
        where: the table or file, and what in it.
        what: what differs, in one sentence.
    """

    seq: int
    where: str
    what: str


def follow(project: str, rows: Iterable[tuple[int, str, str, str, str]]) -> Iterator[Problem]:
    """Walk a chain from its beginning and report each link that doesn't hold.

    Args:
        project: whose chain it is.
        rows: (seq, request_id, role, digest, text) in order.

    Yields:
        The problems, first entry first.
    """
    previous, expected = GENESIS, 1
    sha256 = hashlib.sha256
    of_project = f'","project":{canonical_text(project)},"request_id":"'
    for seq, request_id, role, digest, text in rows:
        if type(seq) is not int:
            yield Problem(expected, "entry", "its number is no number")
            continue
        if seq != expected:
            yield Problem(seq, "entry", f"entry {expected} is missing, or out of its place")
        if not (type(text) is type(digest) is str):
            # A changed byte can make another type of a stored value.
            yield Problem(seq, "entry", "its text or digest is no text")
            previous, expected = digest, seq + 1
            continue
        if sha256(text.encode("utf-8", "surrogateescape")).hexdigest() != digest:
            yield Problem(seq, "entry", "its text does not give its digest")
        # How the text must end: canonical keys are sorted, and all from "previous" on are the chain's own.
        if not text.endswith(
            f',"previous":"{previous}{of_project}{request_id}","role":"{role}","seq":"{seq}"}}'
        ):
            yield Problem(seq, "entry", "it does not follow the entry before it")
        previous, expected = digest, seq + 1
