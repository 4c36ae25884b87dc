"""Major portion: the list in force, claims in tenths, and the evidence that the record holds behind each."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from ribwright.core.portion import (
    Claim,
    Evidence,
    PortionList,
    PortionTask,
    Total,
    credit,
    list_from_toml,
    starting_list,
    tenths,
    weak_points,
)
from ribwright.core.portion.credit import check_claim, points
from ribwright.core.stores.csv_text import from_csv, text_of_file, to_csv
from ribwright.errors import ConflictError, InputError, UnknownNameError
from ribwright.services.project import Actor, Project
from ribwright.services.record import (
    NewEntry,
    StoredObject,
    add_entries,
    add_entry,
    get_entry,
    get_object,
    new_object,
    objects,
    photos,
    recent,
    set_object,
    work,
)
from ribwright.services.remembered import until_the_breakdown_moves, until_the_record_moves
from ribwright.store import objects as stored_objects

LIST_REF = "PORTION-LIST"
CLAIM = "CLAIM-"
MOST_NOTES = 20_000


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """A task of the list with its claim, what stands behind it, and what is weak about it."""

    task: PortionTask
    claim: Claim | None
    evidence: Evidence
    weak: tuple[str, ...]
    revision: int

    def points(self, column: str) -> str:
        """What a column has, as the form prints it; empty where it has nothing."""
        value = self.claim.tenths.get(column, 0) if self.claim else 0
        return points(value) if value else ""


@dataclass(frozen=True, slots=True)
class PortionView:
    """The whole list with its running total."""

    listed: PortionList
    lines: tuple[ClaimLine, ...]
    total: Total

    @property
    def weak(self) -> tuple[ClaimLine, ...]:
        """Claims that an inspector would ask about."""
        return tuple(line for line in self.lines if line.weak)


def portion_list(project: Project) -> PortionList:
    """The list in force: the one taken in, else the one to start from."""
    stored = _stored(project, LIST_REF)
    return list_from_toml(str(stored.data["text"])) if stored is not None else starting_list()


def take_list(project: Project, *, actor: Actor, request_id: str, text: str) -> PortionList:
    """Put an edited or another country's list in force; claims stay with the keys of their tasks.

    Raises:
        InputError: it is no list.
    """
    listed = list_from_toml(text)
    set_object(
        project, actor=actor, request_id=request_id, noun="setting", ref=LIST_REF, data={"text": text}, title=f"list of tasks, {listed.country}"
    )  # fmt: skip
    return listed


@until_the_record_moves
def portion_view(project: Project) -> PortionView:
    """Every task with its claim and evidence, and the total."""
    listed = portion_list(project)
    stored = {one.ref: one for one in objects(project, noun="setting") if one.ref.startswith(CLAIM)}
    claims = {ref.removeprefix(CLAIM): _claim(one) for ref, one in stored.items()}
    proof = _proof(project)
    own = [column.key for column in listed.columns if column.builder]
    lines = []
    for task in listed.tasks:
        claim = claims.get(task.key)
        evidence = proof.behind(claim.evidence) if claim else Evidence((), 0, 0.0, 0.0, 0, 0)
        weak = weak_points(claim, evidence, own) if claim else ()
        kept = stored.get(CLAIM + task.key)
        lines.append(ClaimLine(task, claim, evidence, weak, kept.revision if kept else 0))
    return PortionView(listed, tuple(lines), credit(listed, claims.values()))


def claim_line(project: Project, key: str) -> ClaimLine:
    """One task of the list.

    Raises:
        UnknownNameError: there is none of this key.
    """
    view = portion_view(project)
    view.listed.task(key)
    return next(line for line in view.lines if line.task.key == key)


def enter_claim(
    project: Project,
    *,
    actor: Actor,
    request_id: str,
    key: str,
    columns: Mapping[str, str],
    applies: bool = True,
    evidence: Sequence[str] = (),
    words: str = "",
    seen_revision: int | None = None,
) -> ClaimLine:
    """Claim a task in tenths, or leave it out as not applicable.

    Args:
        key: of the task.
        columns: tenths by column key, as typed.
        evidence: references of operations or assemblies that prove it; an assembly stands for all below it.
        words: why, for what does not apply or needs a word.

    Raises:
        InputError: it does not add up, or a reference is not known.
    """
    entry = _entry(project, portion_list(project), key, columns, applies, evidence, words, seen_revision)
    add_entries(project, actor=actor, request_id=request_id, items=[entry])
    return claim_line(project, key)


def enter_claims_csv(project: Project, *, actor: Actor, request_id: str, content: bytes) -> int:
    """Claims from CSV: key, a column a letter, n/a, evidence (parted by spaces), words; all or none."""
    listed = portion_list(project)
    keys = {column.key.lower(): column.key for column in listed.columns}
    columns = {
        "key": True,
        "section": False,
        "task": False,
        **dict.fromkeys(keys, False),
        "n/a": False,
        "evidence": False,
        "words": False,
    }
    columns |= dict.fromkeys(("weak", "hours", "photos"), False)
    entries = []
    for row in from_csv(text_of_file(content, field="claims"), columns=columns, field="claims"):
        given = {key: row[name] for name, key in keys.items()}
        if not any(given.values()) and not row["n/a"]:
            continue
        entries.append(
            _entry(
                project,
                listed,
                row["key"],
                given,
                row["n/a"].lower() not in ("yes", "x", "n/a"),
                row["evidence"].split(),
                row["words"],
                None,
            )
        )
    if entries:
        add_entries(project, actor=actor, request_id=request_id, items=entries)
    return len(entries)


def claims_csv(project: Project) -> str:
    """The list with its claims as CSV, to be filled in elsewhere and taken in again."""
    view = portion_view(project)
    keys = [column.key for column in view.listed.columns]
    return to_csv(
        ("key", "section", "task", *keys, "n/a", "evidence", "words", "hours", "photos", "weak"),
        [
            (
                line.task.key, line.task.section, line.task.title, *(line.points(key) for key in keys),
                "yes" if line.claim and not line.claim.applies else "", " ".join(line.claim.evidence) if line.claim else "",
                line.claim.words if line.claim else "", f"{line.evidence.builder_hours:.1f}", line.evidence.photos, "; ".join(line.weak),
            )
            for line in view.lines
        ],
    )  # fmt: skip


def mark_photo(
    project: Project, *, actor: Actor, request_id: str, seq: int, who: str, there: bool = True
) -> None:
    """Say by hand that a person is (or is not) in a photo; nothing looks for faces here.

    Args:
        seq: the entry that holds the photo.
        who: the person's name; the builder's own counts for the claims.

    Raises:
        UnknownNameError: that entry is no photo. InputError: no name.
    """
    entry = get_entry(project, seq).entry
    if entry.kind != "photo":
        raise UnknownNameError("photo", found=f"entry {seq}", allowed="the number of a photo's entry")
    if not who.strip():
        raise InputError("who is in it", allowed="a name", mend="Enter the person's name.")
    said = "is" if there else "is not"
    body = {
        "words": f"{who.strip()[:80]} {said} in the photo {seq}",
        "photo": str(seq),
        "who": who.strip()[:80],
        "there": "yes" if there else "no",
    }
    add_entry(project, actor=actor, request_id=request_id, kind="note", about=entry.about, body=body)


def photos_behind(
    project: Project, refs: Sequence[str]
) -> tuple[tuple[dict[str, Any], tuple[str, ...]], ...]:
    """Photos of these operations, and of all below these assemblies, each with who was marked in it; unmarked ones first."""
    below, people = _below(project), people_in_photos(project)
    every = {one for ref in refs for one in below.get(ref, (ref,))}
    shown = [(one, people.get(one["seq"], ())) for one in photos(project) if one["about"] in every]
    return tuple(sorted(shown, key=lambda pair: (bool(pair[1]), pair[0]["seq"])))


@until_the_breakdown_moves
def _below(project: Project) -> dict[str, tuple[str, ...]]:
    with project.store.read() as connection:
        below = stored_objects.refs_below(connection, project.id, ("operation", "space", "part"))
    return {parent: (parent, *refs) for parent, refs in below.items() if parent}


def people_in_photos(project: Project) -> dict[int, tuple[str, ...]]:
    """Who was marked by hand in which photo, by the photo's entry."""
    people: dict[int, dict[str, None]] = {}
    for line in reversed(recent(project, kinds=("note",), limit=MOST_NOTES)):
        body = line.entry.body
        if line.stands and str(body.get("photo", "")).isdigit() and body.get("who"):
            here = people.setdefault(int(str(body["photo"])), {})
            if body.get("there") == "no":
                here.pop(str(body["who"]), None)
            else:
                here[str(body["who"])] = None
    return {seq: tuple(names) for seq, names in people.items() if names}


@dataclass(frozen=True, slots=True)
class _Proof:
    """What the record holds, by operation."""

    below: Mapping[str, tuple[str, ...]]
    log: Mapping[str, tuple[tuple[float, bool], ...]]
    pictures: Mapping[str, tuple[bool, ...]]

    def behind(self, refs: Sequence[str]) -> Evidence:
        """Everything on these operations, and below these assemblies."""
        every = tuple(dict.fromkeys(one for ref in refs for one in self.below.get(ref, (ref,))))
        log = [line for ref in every for line in self.log.get(ref, ())]
        pictures = [own for ref in every for own in self.pictures.get(ref, ())]
        return Evidence(
            tuple(refs), len(log), sum(h for h, own in log if own), sum(h for h, own in log if not own), len(pictures), sum(pictures)
        )  # fmt: skip


def _proof(project: Project) -> _Proof:
    log: dict[str, list[tuple[float, bool]]] = {}
    builders: set[str] = set()
    for row in work(project):
        own = row["worked_as"] == "builder"
        log.setdefault(row["about"], []).append((float(row["hours"]), own))
        if own:
            builders.add(row["person"])
    people = people_in_photos(project)
    pictures: dict[str, list[bool]] = {}
    for photo in photos(project):
        pictures.setdefault(photo["about"], []).append(bool(builders & set(people.get(photo["seq"], ()))))
    return _Proof(
        _below(project), {ref: tuple(one) for ref, one in log.items()}, {ref: tuple(one) for ref, one in pictures.items()}
    )  # fmt: skip


def _entry(
    project: Project,
    listed: PortionList,
    key: str,
    columns: Mapping[str, str],
    applies: bool,
    evidence: Sequence[str],
    words: str,
    seen_revision: int | None,
) -> NewEntry:
    key = key.strip()
    given = {name: tenths(text, field=f"{key}, {name}") for name, text in columns.items()}
    refs = tuple(dict.fromkeys(ref.strip() for ref in evidence if ref.strip()))
    claim = check_claim(
        Claim(key, {name: n for name, n in given.items() if n}, applies, refs, words.strip()[:500]), listed
    )
    for ref in refs:
        if get_object(project, ref).noun not in ("operation", "assembly", "part", "space", "aircraft"):
            raise ConflictError("evidence", found=ref, allowed="an operation or an assembly")
    data: dict[str, Any] = {
        "tenths": {name: str(n) for name, n in sorted(claim.tenths.items())}, "applies": "yes" if applies else "no", "evidence": list(refs), "words": claim.words,
    }  # fmt: skip
    return new_object("setting", CLAIM + key, data, title=listed.task(key).title, seen_revision=seen_revision)


def _claim(one: StoredObject) -> Claim:
    data = one.data
    return Claim(
        one.ref.removeprefix(CLAIM), {str(name): int(n) for name, n in (data.get("tenths") or {}).items()}, data.get("applies") != "no",
        tuple(map(str, data.get("evidence") or ())), str(data.get("words") or ""),
    )  # fmt: skip


def _stored(project: Project, ref: str) -> StoredObject | None:
    try:
        return get_object(project, ref)
    except UnknownNameError:
        return None
