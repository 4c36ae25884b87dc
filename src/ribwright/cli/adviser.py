"""``ribwright adviser``: many builds, what waits for an answer, and what is often wrong in all of them."""

from __future__ import annotations

import secrets
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option

_database = click.option(
    "--database",
    required=True,
    metavar="URL",
    help="The database of the builds: postgresql://user@host/name.",
)
_adviser = click.option("--by", "adviser", required=True, help="The adviser, by the name that was invited.")


@click.group("adviser", cls=Group)
def group() -> None:
    """An adviser of many builds; a build invites one, and takes it back at any time."""


@group.command("invite")
@click.argument("name")
@click.option("--share", is_flag=True, help="Let findings be counted with those of other builds.")
@project_option
@as_json_option
@acting
def invite(name: str, share: bool, project: str | None, as_json: bool, who: Any, request: str) -> None:
    """Let NAME answer the questions of this build; without --share, findings stay here (again)."""
    _set(name, project, as_json, who, request, invited=True, shares=share)


@group.command("withdraw")
@click.argument("name")
@project_option
@as_json_option
@acting
def withdraw(name: str, project: str | None, as_json: bool, who: Any, request: str) -> None:
    """Take back what NAME was let do in this build."""
    _set(name, project, as_json, who, request, invited=False, shares=False)


def _set(
    name: str, project: str | None, as_json: bool, who: Any, request: str, *, invited: bool, shares: bool
) -> None:
    from dataclasses import asdict

    from ribwright.services.advisers import set_adviser
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        made = set_adviser(opened, actor=who, request_id=request, name=name, invited=invited, shares=shares)
    does = "answers questions" if made.invited else "is out of this build"
    counted = "; findings are counted with those of other builds" if made.shares else ""
    emit(asdict(made), as_json=as_json, text=f"{made.name} {does}{counted}.")


@group.command("key")
@click.argument("name")
@click.option("--end", is_flag=True, help="End every key of NAME at once; none is made.")
@_database
@as_json_option
def key(name: str, end: bool, database: str, as_json: bool) -> None:
    """Make a key for NAME to sign in with on the pages; --database is given with the login that owns it."""
    from ribwright.services import advisers

    if end:
        ended = advisers.end_keys(database, name)
        emit({"ended": ended}, as_json=as_json, text=f"{ended} {'key' if ended == 1 else 'keys'} ended.")
        return
    made = advisers.make_key(database, name)
    text = f"{made}\nGive it to {name} alone: it is kept nowhere. Signed in with at /adviser/ of any build’s pages."
    emit({"adviser": name, "key": made}, as_json=as_json, text=text)


@group.command("waiting")
@_database
@_adviser
@click.option("--limit", default=200, show_default=True, help="At most so many.")
@as_json_option
def waiting(database: str, adviser: str, limit: int, as_json: bool) -> None:
    """Questions without an answer over all builds that invited the adviser, the longest waiting first."""
    from dataclasses import asdict

    from ribwright.services import advisers

    with advisers.database(database) as store:
        found = advisers.waiting(store, adviser, limit=limit)
    lines = [
        f"{one.asked_at[:10]}  {one.project} {one.question}  {one.build}, {one.about}: {one.words} ({one.asked_by})"
        for one in found
    ]
    emit(
        {"waiting": [asdict(one) for one in found]},
        as_json=as_json,
        text="\n".join(lines) or "Nothing waits for an answer.",
    )


@group.command("answer")
@click.argument("build")
@click.argument("question", type=int)
@click.argument("words")
@click.option("--authority", required=True, help="On what it rests: designer, licensed mechanic, opinion.")
@click.option("--request", metavar="ID", help="The same id sent twice counts once.")
@_database
@_adviser
@as_json_option
def answer(
    build: str,
    question: int,
    words: str,
    authority: str,
    request: str | None,
    database: str,
    adviser: str,
    as_json: bool,
) -> None:
    """Answer QUESTION of BUILD with WORDS; it stands in that build's record, with who and on what authority."""
    from ribwright.services import advisers

    with advisers.database(database) as store:
        made = advisers.answer(
            store, adviser=adviser, request_id=request or f"cli-{secrets.token_hex(12)}", project=build,
            question=question, words=words, authority=authority,
        )  # fmt: skip
    emit({"build": build, "entry": made.seq}, as_json=as_json, text=f"Entry {made.seq} of {build}.")


@group.command("often")
@_database
@_adviser
@as_json_option
def often(database: str, adviser: str, as_json: bool) -> None:
    """What is often not within limits, over the builds that agreed to share their findings."""
    from ribwright.services import advisers

    with advisers.database(database) as store:
        found = advisers.often(store, adviser)
        sharing = sum(invitation.shares for _, _, invitation in advisers.builds(store, adviser))
    lines = [f"{sharing} {'build shares its' if sharing == 1 else 'builds share their'} findings."]
    lines += [
        f"{one.requirement}: {one.outside} of {one.findings} not within limits; "
        + ", ".join(
            f"{count} {verdict} in {builds} {'build' if builds == 1 else 'builds'}"
            for verdict, count, builds in one.counts
        )
        for one in found
    ]
    data = {
        "builds": sharing,
        "requirements": [
            {
                "requirement": one.requirement, "findings": one.findings, "outside": one.outside,
                "verdicts": [{"verdict": v, "findings": c, "builds": b} for v, c, b in one.counts],
            }
            for one in found
        ],
    }  # fmt: skip
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("serve")
@_database
@_adviser
@click.option("--port", default=8371, show_default=True, help="Port on this machine.")
def serve(database: str, adviser: str, port: int) -> None:
    """The adviser's pages for whoever sits at this machine, without a key; it answers to nobody else."""
    from ribwright.cli.serve import serve_desk

    serve_desk(database, adviser=adviser, port=port)
