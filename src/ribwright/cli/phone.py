"""``ribwright phone``: who may come in from the network at home."""

from __future__ import annotations

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import as_json_option, project_option


@click.group("phone", cls=Group)
def group() -> None:
    """Phones that may come in: see them, invite one, shut one out."""


@group.command("list")
@project_option
@as_json_option
def list_phones(project: str | None, as_json: bool) -> None:
    """Every phone that was ever let in, the newest first."""
    from dataclasses import asdict

    from ribwright.services.devices import devices
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        every, now = devices(opened), opened.now()
    lines = []
    for one in every:
        state = f"out since {one.revoked_at}" if one.revoked_at else f"until {one.expires_at}"
        if not one.revoked_at and one.expires_at <= now:
            state = f"ran out {one.expires_at}"
        lines.append(
            f"{one.id}  {one.name}: {one.person}, {one.role}, {one.kind}; seen {one.seen_at}; {state}"
        )
    emit(
        [asdict(one) for one in every], as_json=as_json, text="\n".join(lines) or "No phone was ever let in."
    )


@group.command("invite")
@click.argument("person")
@click.option(
    "--as", "role", default="helper", show_default=True, help="In which capacity.",
    type=click.Choice(["builder", "helper", "adviser", "inspector"]),
)  # fmt: skip
@click.option("--url", default="", help="Address that serve printed; draws the code for the phone's camera.")
@click.option("--by", default="builder", show_default=True, help="Who invites, by name.")
@project_option
@as_json_option
def invite(person: str, role: str, url: str, by: str, project: str | None, as_json: bool) -> None:
    """Make a code that lets one phone of PERSON in, once, for a few minutes."""
    from ribwright.services.devices import CODE_MINUTES, make_pairing
    from ribwright.services.project import Actor, find_project, open_project
    from ribwright.services.qr import qr_text

    with open_project(find_project(project)) as opened:
        code = make_pairing(opened, actor=Actor(by), person=person, role=role)
    link = f"{url.rstrip('/')}/enter?code={code}" if url else ""
    text = f"{code}\nFor {person}, {role}; works once, within {CODE_MINUTES} minutes."
    if link and not as_json:
        text = f"{qr_text(link)}\n{link}\n{text}"
    emit(
        {"code": code, "person": person, "role": role, "minutes": CODE_MINUTES, "link": link or None},
        as_json=as_json,
        text=text,
    )


@group.command("shut-out")
@click.argument("device")
@click.option("--by", default="builder", show_default=True, help="Who shuts it out, by name.")
@project_option
@as_json_option
def shut_out(device: str, by: str, project: str | None, as_json: bool) -> None:
    """Shut one DEVICE out at once; its id is in the list."""
    from dataclasses import asdict

    from ribwright.services.devices import revoke
    from ribwright.services.project import Actor, find_project, open_project

    with open_project(find_project(project)) as opened:
        out = revoke(opened, actor=Actor(by), device=device)
    emit(asdict(out), as_json=as_json, text=f"{out.name} is shut out.")
