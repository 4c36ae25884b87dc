"""``ribwright record``: read, search, check and seal the record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option

if TYPE_CHECKING:
    from ribwright.core.record.entry import Entry
    from ribwright.services.record import HistoryLine


@click.group(cls=Group)
def group() -> None:
    """Read, search and check the record."""


@group.command("check")
@click.option("--against", metavar="FILE", help="A signed seal that was kept elsewhere.")
@project_option
@as_json_option
def check_command(against: str | None, project: str | None, as_json: bool) -> None:
    """Follow the chain, rebuild every table from the entries, and compare."""
    from ribwright.cli.errors import EXIT_CODES
    from ribwright.errors import RecordTamperedError
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import check

    with open_project(find_project(project)) as opened:
        report = check(opened, against)
    lines = [f"{report.entries} entries. Seal {report.seal}", *([report.against] if report.against else [])]
    where = f" The first bad entry is {report.first_bad}." if report.first_bad else ""
    agrees = (
        "The record agrees with itself."
        if report.ok
        else f"{len(report.problems)} things do not agree.{where}"
    )
    lines.insert(0, agrees)
    for problem in report.problems[:50]:
        lines.append(f"  {f'entry {problem.seq}: ' if problem.seq else ''}{problem.where}: {problem.what}")
    data = {
        "ok": report.ok,
        "entries": report.entries,
        "seal": report.seal,
        "first_bad": report.first_bad,
        "against": report.against or None,
        "problems": [{"entry": p.seq or None, "where": p.where, "what": p.what} for p in report.problems],
    }
    emit(data, as_json=as_json, text="\n".join(lines))
    if not report.ok:
        # What was found is on standard output already; the exit code says it to a script.
        click.get_current_context().exit(EXIT_CODES[RecordTamperedError])


@group.command("seal")
@click.option("--signed", metavar="FILE", help="Write it, signed, to this file; keep that elsewhere.")
@click.option(
    "--key",
    metavar="FILE",
    help="The private key; by default in your own settings folder, made on first use.",
)
@project_option
@as_json_option
def seal_command(signed: str | None, key: str | None, project: str | None, as_json: bool) -> None:
    """The seal: number of entries and mark of the last one."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import seal, sign_seal

    with open_project(find_project(project)) as opened:
        text = seal(opened)
        written = str(sign_seal(opened, signed, key_file=key)) if signed else None
    said = f"{text}\nSigned and written: {written}. Keep it in another place." if written else text
    emit({"seal": text, "written": written}, as_json=as_json, text=said)


@group.command("history")
@click.argument("ref")
@project_option
@as_json_option
def history_command(ref: str, project: str | None, as_json: bool) -> None:
    """The story of one object, oldest first."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import get_object, history

    with open_project(find_project(project)) as opened:
        get_object(opened, ref)  # an unknown reference is refused, not shown as an empty story
        lines = history(opened, ref)
    emit(
        {"ref": ref, "entries": [_line_data(line) for line in lines]},
        as_json=as_json,
        text="\n".join(_line_text(line) for line in lines),
    )


@group.command("recent")
@click.option("--kind", "kinds", multiple=True, help="Only entries of this kind; may be given again.")
@click.option("--limit", default=20, show_default=True, type=click.IntRange(1, 1000), help="At most so many.")
@project_option
@as_json_option
def recent_command(kinds: tuple[str, ...], limit: int, project: str | None, as_json: bool) -> None:
    """The newest entries, newest first."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import recent

    with open_project(find_project(project)) as opened:
        lines = recent(opened, kinds=kinds, limit=limit)
    emit(
        {"entries": [_line_data(line) for line in lines]},
        as_json=as_json,
        text="\n".join(_line_text(line) for line in lines),
    )


@group.command("search")
@click.argument("words", nargs=-1, required=True)
@click.option("--limit", default=20, show_default=True, type=click.IntRange(1, 1000), help="At most so many.")
@project_option
@as_json_option
def search_command(words: tuple[str, ...], limit: int, project: str | None, as_json: bool) -> None:
    """Entries that hold all WORDS (the last may be unfinished), newest first."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import search

    typed = " ".join(words)
    with open_project(find_project(project)) as opened:
        found = search(opened, typed, limit)
    emit(
        {"words": typed, "entries": [_entry_data(entry) for entry in found]},
        as_json=as_json,
        text="\n".join(_entry_text(entry) for entry in found) or "Nothing holds all these words.",
    )


@group.command("undo")
@click.argument("entry", type=click.IntRange(1))
@click.option("--because", default="", help="Why.")
@project_option
@acting
@as_json_option
def undo_command(
    entry: int, because: str, project: str | None, who: Any, request: str, as_json: bool
) -> None:
    """Take ENTRY back, by its number. It stays in the story."""
    from ribwright.services.amending import undo
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = undo(opened, actor=who, request_id=request, seq=entry, because=because)
    emit(_entry_data(made), as_json=as_json, text=f"Entry {entry} is taken back by entry {made.seq}.")


@group.command("enter", context_settings={"ignore_unknown_options": True, "allow_extra_args": True})
@click.argument("kind", required=False)
@click.option(
    "--about", default="", help="Reference of the operation or part; empty for the whole aeroplane."
)
@project_option
@acting
@as_json_option
@click.pass_context
def enter_command(
    ctx: click.Context,
    kind: str | None,
    about: str,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Enter what came: material, torque, drawing-revision, notice, departure, visit.

    Without KIND all kinds and their fields are listed. Fields are flags: --item, --lot; rows are
    --applies.0.ref DN-21.
    """
    from ribwright.cli.calc import flags_of
    from ribwright.core.audit.spec import fields_of
    from ribwright.services.calculations import with_flags
    from ribwright.services.noting import KINDS, enter, spec_of
    from ribwright.services.project import find_project, open_project

    if kind is None:
        kinds = {
            name: {"title": title, "fields": {f.name: f.help for f in fields_of(spec)}}
            for name, (title, spec) in KINDS.items()
        }
        lines = [
            f"{name:<17} {title}: {', '.join(kinds[name]['fields'])}" for name, (title, _) in KINDS.items()
        ]
        emit({"kinds": kinds}, as_json=as_json, text="\n".join(lines))
        return
    raw = with_flags(spec_of(kind), {}, flags_of(ctx.args))
    with open_project(find_project(project)) as opened:
        made = enter(opened, actor=who, request_id=request, kind=kind, about=about, raw=raw)
    emit(
        {"entries": [_entry_data(one) for one in made]},
        as_json=as_json,
        text="\n".join(_entry_text(one) for one in made),
    )


@group.command("note")
@click.argument("words")
@click.option("--about", default="", help="Reference of what it is about.")
@project_option
@acting
@as_json_option
def note_command(words: str, about: str, project: str | None, who: Any, request: str, as_json: bool) -> None:
    """Enter a note."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.record import add_entry

    with open_project(find_project(project)) as opened:
        made = add_entry(
            opened, actor=who, request_id=request, kind="note", about=about, body={"words": words}
        )
    emit(_entry_data(made), as_json=as_json, text=f"Entered as entry {made.seq}.")


@group.command("photo")
@click.argument("file")
@click.option("--about", default="", help="Reference of what it shows.")
@click.option("--caption", default="", help="What it shows.")
@click.option("--stage", default="", help="Stage of the operation.")
@project_option
@acting
@as_json_option
def photo_command(
    file: str,
    about: str,
    caption: str,
    stage: str,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Take one photo in."""
    from pathlib import Path

    from ribwright.errors import MissingError
    from ribwright.services.photos import add_photo
    from ribwright.services.project import find_project, open_project

    try:
        content = Path(file).read_bytes()
    except OSError as error:
        raise MissingError(file, because=f"it can't be read: {error.strerror}", allowed="a photo") from None
    with open_project(find_project(project)) as opened:
        made = add_photo(
            opened,
            actor=who,
            request_id=request,
            content=content,
            about=about,
            name=Path(file).name,
            caption=caption,
            stage=stage,
        )
    emit(
        _entry_data(made),
        as_json=as_json,
        text=f"Photo {made.body['digest'][:12]} entered as entry {made.seq}.",
    )


@group.command("photos")
@click.argument("folder")
@click.option(
    "--take", is_flag=True, help="Take in those that fit an operation; otherwise they are only listed."
)
@project_option
@acting
@as_json_option
def photos_command(
    folder: str, take: bool, project: str | None, who: Any, request: str, as_json: bool
) -> None:
    """Offer each photo in FOLDER to the operation whose clock ran when it was taken."""
    from ribwright.services.photo_offers import offer_photos
    from ribwright.services.photos import add_photo
    from ribwright.services.project import find_project, open_project

    rows, lines = [], []
    with open_project(find_project(project)) as opened:
        for number, offer in enumerate(offer_photos(opened, folder)):
            seq = None
            if take and offer.about:
                seq = add_photo(
                    opened,
                    actor=who,
                    request_id=f"{request}.{number}",
                    content=offer.path.read_bytes(),
                    about=offer.about,
                    name=offer.path.name,
                ).seq
            said = offer.problem or offer.about or "no operation's clock ran then"
            rows.append(
                {
                    "file": offer.path.name,
                    "taken_at": offer.taken_at,
                    "about": offer.about,
                    "entry": seq,
                    "problem": offer.problem,
                }
            )
            lines.append(
                f"{offer.path.name:<28} {offer.taken_at:<19} {said}{f' (entry {seq})' if seq else ''}"
            )
    emit({"photos": rows}, as_json=as_json, text="\n".join(lines) or "No photos there.")


def _entry_data(entry: Entry) -> dict[str, Any]:
    return {
        "entry": entry.seq,
        "kind": entry.kind,
        "about": entry.about,
        "at": entry.at,
        "by": entry.by,
        "role": entry.role,
        "body": dict(entry.body),
        "corrects": entry.corrects,
        "digest": entry.digest,
    }


def _line_data(line: HistoryLine) -> dict[str, Any]:
    return _entry_data(line.entry) | {
        "undone_by": line.undone_by or None,
        "corrected_by": line.corrected_by or None,
        "clock_back": line.clock_back,
    }


def _line_text(line: HistoryLine) -> str:
    marks = []
    if line.undone_by:
        marks.append(f"taken back by entry {line.undone_by}")
    if line.corrected_by:
        marks.append(f"corrected by entry {line.corrected_by}")
    if line.clock_back:
        marks.append("the clock had gone back")
    return _entry_text(line.entry) + (f"  [{'; '.join(marks)}]" if marks else "")


def _entry_text(entry: Entry) -> str:
    from ribwright.core.record.naming import FILED, did, named

    told = [
        value if name in ("title", "words") else f"{named(name)}: {value}"
        for name, value in entry.body.items()
        if name not in FILED and isinstance(value, str) and value
    ]
    who = entry.by if entry.role == "builder" else f"{entry.by}, {entry.role}"
    at = entry.at[:16].replace("T", " ")
    return f"{entry.seq:>6}  {at}  {did(entry.kind):<12} {entry.about}  {'; '.join(told)[:160]}  ({who})"
