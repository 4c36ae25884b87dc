"""What open pages are told while they are open: entries that came, and where the rule and the marks stand.

An entry is the record's; the line that the rule stands on, a mark just called across the row and the angle of
a lever are not: they are passed from page to page and forgotten when the server stops.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import math
from collections.abc import AsyncIterator, Mapping
from typing import Any

from starlette.concurrency import run_in_threadpool

from ribwright.core.fastening.tally import MARKS
from ribwright.errors import FormatError, OutOfRangeError, UnknownNameError
from ribwright.services.moved import head, moved_since
from ribwright.services.project import Project

LOOK_S = 1.0
"""How often another process's entries are looked for while a page listens."""

HEARTBEAT_S = 15.0
MOST_WAITING = 200
MOST_OPERATIONS = 64
MOST_SAID = 2500
ENDS = ("lever", "far")


class Live:
    """The open pages of one app, by operation."""

    def __init__(self, project: Project) -> None:
        self._project = project
        self._streams: dict[str, set[asyncio.Queue[str | None]]] = {}
        self._said: dict[str, dict[str, dict[str, str]]] = {}
        self._wake: asyncio.Event | None = None
        self._watch: asyncio.Task[None] | None = None
        self._head = 0

    def look(self) -> None:
        """An entry may just have been made here: look now instead of at the next turn."""
        if self._wake is not None:
            self._wake.set()

    def knows(self, ref: str) -> bool:
        """Whether something has been said about this operation before."""
        return ref in self._said

    def say(self, ref: str, message: dict[str, str], *, key: str) -> None:
        """Pass something on to every open page of an operation; the last of each key is told to pages opened later."""
        if ref not in self._said and len(self._said) >= MOST_OPERATIONS:
            self._said.pop(next(iter(self._said)))
        said = self._said.setdefault(ref, {})
        if key in said or len(said) < MOST_SAID:
            said[key] = message
        self._send(ref, _event("said", message))

    def forget(self, ref: str, kind: str, stage: str) -> None:
        """What was passed on has become an entry."""
        said = self._said.get(ref, {})
        for key in [key for key in said if key.startswith(f"{kind}/{stage}/")]:
            del said[key]

    def state(self, ref: str, at: int) -> str:
        """What a page needs first: where the record stands and what was said last."""
        return _event("state", {"head": at, "said": list(self._said.get(ref, {}).values())}, number=at)

    async def snapshot(self, ref: str) -> str:
        """The state as one event, for whoever can't listen."""
        return self.state(ref, await run_in_threadpool(head, self._project))

    async def listen(self, ref: str, since: int | None) -> AsyncIterator[str]:
        """The stream of one page.

        Args:
            ref: of the operation.
            since: number of the newest entry that the page knows, or None.
        """
        waiting: asyncio.Queue[str | None] = asyncio.Queue(MOST_WAITING)
        self._streams.setdefault(ref, set()).add(waiting)
        try:
            at = await run_in_threadpool(head, self._project)
            if self._watch is None or self._watch.done():
                self._head = at
                self._wake = asyncio.Event()
                self._watch = asyncio.create_task(self._watching(self._wake))
            yield "retry: 1500\n\n" + self.state(ref, at)
            if since is not None and since < at:
                missed = (await run_in_threadpool(moved_since, self._project, since)).get(ref)
                if missed is not None:
                    yield _moved(missed.seq, missed.kinds, missed.by)
            while True:
                try:
                    text = await asyncio.wait_for(waiting.get(), HEARTBEAT_S)
                except TimeoutError:
                    text = ": still here\n\n"
                if text is None:
                    return  # it was too slow; it comes again and says what it knew last
                yield text
        finally:
            listening = self._streams.get(ref, set())
            listening.discard(waiting)
            if not listening:
                self._streams.pop(ref, None)

    async def _watching(self, wake: asyncio.Event) -> None:
        """One look serves every page; it ends with the last of them."""
        while self._streams:
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(wake.wait(), LOOK_S)
            wake.clear()
            at = await run_in_threadpool(head, self._project)
            if at == self._head:
                continue
            moved = await run_in_threadpool(moved_since, self._project, self._head)
            self._head = at
            for ref in [ref for ref in moved if ref in self._streams]:
                one = moved[ref]
                self._send(ref, _moved(one.seq, one.kinds, one.by))

    def _send(self, ref: str, text: str) -> None:
        for waiting in list(self._streams.get(ref, ())):
            if waiting.full():
                while not waiting.empty():
                    waiting.get_nowait()
                waiting.put_nowait(None)
            else:
                waiting.put_nowait(text)


def read_message(form: Mapping[str, str]) -> tuple[str, dict[str, str]]:
    """What a page says to the others, checked: (key, message).

    Raises:
        UnknownNameError, FormatError, OutOfRangeError: it is none of the things that are passed on.
    """
    kind, stage, sender = form.get("kind", ""), form.get("stage", "")[:80], form.get("from", "")[:40]
    if kind == "ruler":
        row, at = _whole("list", form, 0, 20), _whole("at", form, -1, 500)
        return f"ruler/{stage}/{row}", {"kind": kind, "stage": stage, "list": row, "at": at, "from": sender}
    if kind == "mark":
        hole, mark = _whole("hole", form, 1, 2000), form.get("mark", "")
        if mark and mark not in MARKS:
            raise UnknownNameError("mark", found=mark, allowed=", ".join(MARKS))
        return f"mark/{stage}/{hole}", {
            "kind": kind,
            "stage": stage,
            "hole": hole,
            "mark": mark,
            "from": sender,
        }
    if kind == "angle":
        end = form.get("end", "")
        if end not in ENDS:
            raise UnknownNameError("end", found=end, allowed=", ".join(ENDS))
        return f"angle/{stage}/{end}", {
            "kind": kind, "stage": stage, "end": end, "deg": _degrees("deg", form), "peak": _degrees("peak", form), "from": sender,
        }  # fmt: skip
    raise UnknownNameError("kind", found=kind, allowed="ruler, mark, angle")


def _whole(name: str, form: Mapping[str, str], low: int, high: int) -> str:
    text = form.get(name, "")
    digits = text.removeprefix("-")
    if not (digits.isascii() and digits.isdigit() and len(digits) < 6):
        raise FormatError(name, found=text, allowed="a whole number")
    if not low <= int(text) <= high:
        raise OutOfRangeError(name, found=text, allowed=f"{low} to {high}")
    return str(int(text))


def _degrees(name: str, form: Mapping[str, str]) -> str:
    text = form.get(name, "")
    try:
        value = float(text[:20])
    except ValueError:
        raise FormatError(name, found=text, allowed="degrees") from None
    if not math.isfinite(value) or abs(value) > 3600:
        raise OutOfRangeError(name, found=text, allowed="-3600 to 3600 degrees")
    return f"{value:.1f}"


def _moved(seq: int, kinds: tuple[str, ...], by: tuple[str, ...]) -> str:
    return _event("moved", {"seq": seq, "kinds": list(kinds), "by": list(by)}, number=seq)


def _event(name: str, data: Mapping[str, Any], *, number: int | None = None) -> str:
    mark = "" if number is None else f"id: {number}\n"
    return f"event: {name}\n{mark}data: {json.dumps(data, ensure_ascii=False)}\n\n"
