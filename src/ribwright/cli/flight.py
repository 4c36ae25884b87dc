"""``ribwright flight``: papers, the inspection before flight, test cards, flight data, the performance page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option


@click.group(cls=Group)
def group() -> None:
    """Papers, inspection before flight, test cards, flight data."""


def _view(project: str | None) -> Any:
    from ribwright.services.flight import flight_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        return flight_view(opened)


@group.command("papers")
@project_option
@as_json_option
def papers(project: str | None, as_json: bool) -> None:
    """What is needed before the first flight, and by when each must be begun."""
    view = _view(project)
    data = [
        {
            "key": d.paper.key, "what": d.paper.what, "status": d.status, "begin_by": d.begin_by.isoformat(), "evidence": d.done, "asks": d.paper.evidence,
            "rule": d.paper.rule, "rung": d.paper.rung, "read": d.paper.read, "lead_days": d.paper.lead_days, "waits_for": list(d.waits_for),
        }
        for d in view.dues
    ]  # fmt: skip
    lines = [
        f"{d['key']:<13} {d['status']:<10} {d['begin_by']}  {d['what']} ({d['rule']}, {d['rung']})"
        for d in data
    ]
    pilot = [
        {
            "rule": w.rule.name,
            "on_or_after": w.opens.isoformat(),
            "source": w.rule.source,
            "rung": w.rule.rung,
        }
        for w in view.pilot
    ]
    lines += [
        f"{w['rule']}: counts on that day if done on or after {w['on_or_after']} ({w['source']}, {w['rung']})"
        for w in pilot
    ]
    emit(
        {"first_flight": view.first.isoformat(), "papers": data, "pilot": pilot},
        as_json=as_json,
        text="\n".join(lines),
    )


@group.command("paper")
@click.argument("key")
@click.argument("evidence")
@click.option("--read", default="", metavar="DAY", help="The day on which you read its rule, as 2027-06-30.")
@project_option
@acting
@as_json_option
def paper(
    key: str, evidence: str, read: str, project: str | None, who: Any, request: str, as_json: bool
) -> None:
    """Enter the EVIDENCE that the paper KEY is there."""
    from ribwright.services.flight import enter_paper
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        one = enter_paper(opened, actor=who, request_id=request, key=key, evidence=evidence, read=read)
    emit({"ref": one.ref, "revision": one.revision}, as_json=as_json, text=f"Entered: {one.title}.")


@group.command("set")
@click.option("--first", default="", metavar="DAY", help="First flight aimed at, as 2027-06-30.")
@click.option("--hours", default="", help="Hours that the operating limitations ask for.")
@click.option(
    "--papers",
    "rows",
    metavar="FILE",
    help='Own rows of papers, TOML: one table a key; drop = "yes" takes one out.',
)
@project_option
@acting
@as_json_option
def set_up(
    first: str, hours: str, rows: str | None, project: str | None, who: Any, request: str, as_json: bool
) -> None:
    """Set the day aimed at, the hours of phase one, or a country's own papers."""
    from ribwright.services.calculations import read_text
    from ribwright.services.flight import set_flight
    from ribwright.services.project import find_project, open_project

    own = read_text(Path(rows).read_bytes(), name=rows, toml=True) if rows else None
    with open_project(find_project(project)) as opened:
        one = set_flight(opened, actor=who, request_id=request, first=first, hours=hours, rows=own)
    emit({"ref": one.ref, "revision": one.revision}, as_json=as_json, text="Set.")


@group.command("forms")
@click.option(
    "--set",
    "said",
    multiple=True,
    metavar="LINE=VALUE",
    help="Keep what only you can say: builder, registration, model, serial, engine, propeller.",
)
@project_option
@acting
@as_json_option
def forms(said: tuple[str, ...], project: str | None, who: Any, request: str, as_json: bool) -> None:
    """What official forms ask for, to copy by hand; no form is filled in."""
    from dataclasses import asdict

    from ribwright.services.form_data import form_data, set_form_data
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        if said:
            values = dict(one.partition("=")[::2] for one in said)
            lines = set_form_data(opened, actor=who, request_id=request, values=values)
        else:
            lines = form_data(opened)
    emit(
        {"lines": [asdict(line) for line in lines]}, as_json=as_json,
        text="\n".join(f"{line.label}: {line.value or 'not known'} ({line.origin})" for line in lines),
    )  # fmt: skip


@group.command("inspection")
@project_option
@as_json_option
def inspection(project: str | None, as_json: bool) -> None:
    """The inspection before flight: every line, and who looked."""
    view = _view(project)
    data = [
        {"key": x.look.key, "kind": x.look.kind, "text": x.look.text, "about": x.look.about, "two": x.look.two, "seen": [list(s) for s in x.seen], "open": x.open}
        for x in view.lines
    ]  # fmt: skip
    lines = [f"{len(view.open_lines)} of {len(data)} lines are open."]
    lines += [f"{d['key']:<24} {d['open'] or 'looked at'}: {d['text']}" for d in data]
    emit({"open": len(view.open_lines), "lines": data}, as_json=as_json, text="\n".join(lines))


@group.command("look")
@click.argument("key")
@click.argument("words")
@click.option("--who", "person", required=True, help="Who looked, by name.")
@project_option
@acting
@as_json_option
def look(
    key: str, words: str, person: str, project: str | None, who: Any, request: str, as_json: bool
) -> None:
    """Enter what one person saw (WORDS) on the line KEY; one line at a time."""
    from ribwright.services.flight import enter_look
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        line = enter_look(opened, actor=who, request_id=request, key=key, who=person, words=words)
    emit(
        {"key": key, "open": line.open},
        as_json=as_json,
        text=f"{line.look.text}: {line.open or 'looked at'}.",
    )


@group.command("cards")
@click.option("--pdf", nargs=2, metavar="KEY FILE", help="Write one card for the kneeboard.")
@project_option
@as_json_option
def cards(pdf: tuple[str, str] | None, project: str | None, as_json: bool) -> None:
    """The test cards, and hours and cards flown."""
    from ribwright.core.flight.cards import card, card_document
    from ribwright.services.sheets import document_pdf

    if pdf:
        Path(pdf[1]).write_bytes(document_pdf(card_document(card(pdf[0])), "half-letter"))
        click.echo(f"Written: {pdf[1]}", err=True)
        return
    view = _view(project)
    data = [
        {"key": c.key, "title": c.title, "phase": c.phase, "hours": c.hours, "entry": list(c.entry), "limits": list(c.limits), "abort": list(c.abort), "data": list(c.data), "flown": c.key in view.phase.flown}
        for c in view.cards
    ]  # fmt: skip
    lines = [
        f"{d['key']} {'flown' if d['flown'] else 'to fly':<7} {d['title']}, {d['phase']}, {d['hours']:g} h"
        for d in data
    ]
    lines.insert(0, f"{view.phase.hours:g} of {view.phase.asked:g} h flown")
    emit(
        {
            "hours": view.phase.hours,
            "asked": view.phase.asked,
            "complete": view.phase.complete,
            "cards": data,
        },
        as_json=as_json,
        text="\n".join(lines),
    )


@group.command("flown")
@click.argument("key")
@click.argument("hours")
@click.argument("words")
@click.option("--finished", is_flag=True, help="All of the card was done.")
@project_option
@acting
@as_json_option
def flown(
    key: str,
    hours: str,
    words: str,
    finished: bool,
    project: str | None,
    who: Any,
    request: str,
    as_json: bool,
) -> None:
    """Enter a flight on the card KEY: its HOURS, and what was seen (WORDS)."""
    from ribwright.services.flight import enter_flight
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        stands = enter_flight(
            opened, actor=who, request_id=request, key=key, hours=hours, finished=finished, words=words
        )
    emit(
        {"hours": stands.hours, "asked": stands.asked, "left": list(stands.left)},
        as_json=as_json,
        text=f"{stands.hours:g} of {stands.asked:g} h flown.",
    )


@group.command("keep")
@click.argument("name")
@click.option(
    "--in",
    "source",
    required=True,
    metavar="FILE",
    help="The flight data, TOML or JSON, as `calc NAME --in` takes them.",
)
@project_option
@acting
@as_json_option
def keep(name: str, source: str, project: str | None, who: Any, request: str, as_json: bool) -> None:
    """Keep flight data of the calculation NAME for the performance page."""
    from ribwright.services.calculations import read_text
    from ribwright.services.performance import keep_data
    from ribwright.services.project import find_project, open_project

    raw = read_text(Path(source).read_bytes(), name=source, toml=source.endswith(".toml"))
    with open_project(find_project(project)) as opened:
        one = keep_data(
            opened, actor=who, request_id=request, name=name, title=str(raw.get("title", "")), raw=raw
        )
    emit({"ref": one.ref, "revision": one.revision}, as_json=as_json, text=f"Kept: {one.ref}.")


@group.command("performance")
@click.option("--pdf", metavar="FILE", help="Write it to this PDF instead of the terminal.")
@project_option
@as_json_option
def performance(pdf: str | None, project: str | None, as_json: bool) -> None:
    """The performance page for the aeroplane's own handbook."""
    from ribwright.services.performance import kept_data, performance_page
    from ribwright.services.project import find_project, open_project
    from ribwright.services.sheets import document_pdf, document_text

    with open_project(find_project(project)) as opened:
        document = performance_page(opened)
        data = [
            {"title": one.title, "calculation": done.calculation.name, "results": done.answer["results"]}
            for one, done in kept_data(opened)
        ]
    if pdf:
        Path(pdf).write_bytes(document_pdf(document))
        click.echo(f"Written: {pdf}", err=True)
    else:
        emit({"kept": data}, as_json=as_json, text=document_text(document))
