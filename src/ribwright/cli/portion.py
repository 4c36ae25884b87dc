"""``ribwright portion``: the list of tasks, claims in tenths, the running total."""

from __future__ import annotations

from pathlib import Path

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option


@click.group(cls=Group)
def group() -> None:
    """Major portion: tasks, tenths, and the evidence behind them."""


@group.command("total")
@project_option
@as_json_option
def total(project: str | None, as_json: bool) -> None:
    """The running total, every claim, and what is weakly evidenced."""
    from ribwright.services.portion import portion_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        view = portion_view(opened)
    t = view.total
    data = {
        "list": view.listed.name, "columns": {one.key: one.points for one in t.columns}, "claimed": t.claimed, "left_out": t.left_out, "open": t.open,
        "share_percent": t.share, "least_percent": t.least, "most_percent": t.most, "answer": t.finding.verdict.value if t.finding else None,
        "least_share_rung": view.listed.least_rung,
        "claims": [
            {
                "key": line.task.key, "title": line.task.title, "tenths": dict(line.claim.tenths), "applies": line.claim.applies,
                "evidence": list(line.claim.evidence), "weak": list(line.weak),
            }
            for line in view.lines if line.claim
        ],
    }  # fmt: skip
    share = "no task is claimed" if t.share is None else f"builder {t.share:.1f} % of {t.claimed} tasks"
    lines = [f"{share}; {t.left_out} left out, {t.open} open: {t.least:.1f} to {t.most:.1f} % in the end"]
    if t.finding:
        lines.append(f"{t.finding.verdict.value}: {t.finding.reason} ({view.listed.least_rung})")
    lines += [f"{one.key} {one.title}: {one.points}" for one in t.columns]
    lines += [f"weak: {line.task.key} {line.task.title}: {'; '.join(line.weak)}" for line in view.weak]
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("claim")
@click.argument("key")
@click.argument("tenths", nargs=-1)
@click.option("--not-applicable", is_flag=True, help="Leave the task out.")
@click.option("--evidence", multiple=True, help="Operation or assembly that proves it; may be given again.")
@click.option("--words", default="", help="Why.")
@acting
@project_option
@as_json_option
def claim(
    key: str, tenths: tuple[str, ...], not_applicable: bool, evidence: tuple[str, ...], words: str, project: str | None, as_json: bool, who: object, request: str
) -> None:  # fmt: skip
    """Claim the task KEY in TENTHS by column, such as A=.5 B=.3 D=.2."""
    from ribwright.services.portion import enter_claim
    from ribwright.services.project import find_project, open_project

    columns = {name.strip(): value for name, _, value in (one.partition("=") for one in tenths)}
    with open_project(find_project(project)) as opened:
        line = enter_claim(
            opened, actor=who, request_id=request, key=key, columns=columns, applies=not not_applicable, evidence=evidence, words=words  # type: ignore[arg-type]
        )  # fmt: skip
    emit({"key": key, "weak": list(line.weak)}, as_json=as_json, text="; ".join(line.weak) or "Claimed.")


@group.command("mark")
@click.argument("photo", type=int)
@click.argument("person")
@click.option("--not-there", is_flag=True, help="Take the mark away.")
@acting
@project_option
@as_json_option
def mark(
    photo: int, person: str, not_there: bool, project: str | None, as_json: bool, who: object, request: str
) -> None:
    """Say by hand that PERSON is in the PHOTO of this entry number."""
    from ribwright.services.portion import mark_photo
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        mark_photo(opened, actor=who, request_id=request, seq=photo, who=person, there=not not_there)  # type: ignore[arg-type]
    emit({"photo": photo, "person": person}, as_json=as_json, text="Marked.")


@group.command("list")
@click.option(
    "--take",
    type=click.Path(exists=True, dir_okay=False),
    help="TOML file to put in force; left out, the list is printed.",
)
@acting
@project_option
@as_json_option
def list_(take: str | None, project: str | None, as_json: bool, who: object, request: str) -> None:
    """Print the list in force as TOML to be edited, or take an edited one."""
    from ribwright.core.portion import list_to_toml
    from ribwright.core.stores.csv_text import text_of_file
    from ribwright.services.portion import portion_list, take_list
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        if take:
            text = text_of_file(Path(take).read_bytes(), field="list of tasks")
            made = take_list(opened, actor=who, request_id=request, text=text)  # type: ignore[arg-type]
        else:
            made = portion_list(opened)
    data = {
        "name": made.name,
        "country": made.country,
        "tasks": len(made.tasks),
        "columns": [c.key for c in made.columns],
    }
    emit(
        data,
        as_json=as_json,
        text=f"In force: {made.country}, {len(made.tasks)} tasks." if take else list_to_toml(made),
    )


@group.command("csv")
@click.option(
    "--take",
    type=click.Path(exists=True, dir_okay=False),
    help="CSV file of claims; left out, the claims are printed.",
)
@acting
@project_option
@as_json_option
def csv_(take: str | None, project: str | None, as_json: bool, who: object, request: str) -> None:
    """Print list and claims as CSV, or take claims from one."""
    from ribwright.services.portion import claims_csv, enter_claims_csv
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        if take:
            count = enter_claims_csv(opened, actor=who, request_id=request, content=Path(take).read_bytes())  # type: ignore[arg-type]
            emit({"claims": count}, as_json=as_json, text=f"{count} claims entered.")
            return
        text = claims_csv(opened)
    emit({"csv": text}, as_json=as_json, text=text)
