"""``ribwright weight``: weight and CG while building, parts on the scale, a change before it is made, weighings, the card."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option


@click.group(cls=Group)
def group() -> None:
    """Weight and CG while building, weighings, loading card."""


@group.command("show")
@project_option
@as_json_option
def show(project: str | None, as_json: bool) -> None:
    """What is in place, what it will come to, and what to weigh next."""
    from ribwright.core.units import shown
    from ribwright.services.project import find_project, open_project
    from ribwright.services.weight import weight_view

    with open_project(find_project(project)) as opened:
        view = weight_view(opened)
    made = view.made
    running, forecast = (None, None) if made is None else (made.running, made.forecast)
    data = {
        "aircraft": view.aircraft, "parts": len(view.lines), "in_place": view.in_place, "weighed": view.weighed,
        "running": _mass(running, view.running_mac), "forecast": _mass(forecast, view.forecast_mac),
        "weighed_share": made.weighed_share if made else 0.0, "ratio": made.ratio if made else None, "u_ratio": made.u_ratio if made else None,
        "usual_lb": list(view.usual) if view.usual else None, "findings": [f.as_data() for f in view.findings],
        "weigh_next": [{"ref": p.ref, "title": p.title, "weight_lb": p.weight_lb, "in_place": p.in_place} for p in view.weigh_next],
        "assemblies": [{"ref": a.ref, "title": a.title, "parts": a.parts, "in_place": a.in_place, "weighed": a.weighed, "weight_lb": a.weight_lb} for a in view.assemblies],
        "unknown": [{"ref": ref, "title": title, "why": why} for ref, title, why in view.unknown],
    }  # fmt: skip
    lines = [
        f"{label}: {shown(m.weight_lb, 'lb', places=1)} ± {shown(m.u_weight_lb, 'lb', places=1)} at {shown(m.cg_in, 'in', places=2)} ± {shown(m.u_cg_in, 'in', places=2)}"
        for label, m in (("in place now", running), ("forecast, empty", forecast))
        if m is not None
    ] or ["No part has both a weight and an arm yet."]
    lines.append(f"{view.weighed} of {len(view.lines)} parts weighed, {view.in_place} in place")
    if view.usual:
        lines.append(
            f"amateur-built ones usually come to {view.usual[0]:.0f} to {view.usual[1]:.0f} lb (common practice)"
        )
    lines += [
        f"{f.verdict.value}: {f.requirement}, {f.where}: {f.reason}. {f.next if f.verdict.value != 'within limits' else ''}".rstrip()
        for f in view.findings
    ]
    lines += [f"weigh next: {p.ref} {p.title}, about {p.weight_lb:.2f} lb" for p in view.weigh_next[:5]]
    lines += [f"doesn't count: {ref} {title}: {why}" for ref, title, why in view.unknown]
    emit(data, as_json=as_json, text="\n".join(lines))


def _mass(mass: Any, share: float | None) -> dict[str, float | None] | None:
    if mass is None:
        return None
    return {
        "weight_lb": mass.weight_lb, "u_weight_lb": mass.u_weight_lb, "cg_in": mass.cg_in, "u_cg_in": mass.u_cg_in, "percent_mac": share,
    }  # fmt: skip


@group.command("weigh")
@click.argument("ref")
@click.argument("weight", default="")
@click.option("--good-to", "u", default="", help="Plus or minus, of the weight.")
@click.option("--arm", default="", help="Arm of its CG from the datum, positive aft.")
@click.option("--arm-good-to", "arm_u", default="", help="Plus or minus, of the arm.")
@click.option("--instrument", default="", help="Which scale.")
@project_option
@acting
@as_json_option
def weigh(
    ref: str, weight: str, u: str, arm: str, arm_u: str, instrument: str, project: str | None, who: Any, request: str, as_json: bool
) -> None:  # fmt: skip
    """Enter what the part REF weighs (WEIGHT), where its CG sits, or both."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.weight import weigh_part

    with open_project(find_project(project)) as opened:
        weigh_part(
            opened,
            actor=who,
            request_id=request,
            ref=ref,
            weight=weight,
            u=u,
            arm=arm,
            arm_u=arm_u,
            instrument=instrument,
        )
    emit({"ref": ref}, as_json=as_json, text=f"Entered: {ref}.")


@group.command("range")
@click.option("--designer", help="The designer's empty weight.")
@click.option("--most", help="The designer's greatest empty weight.")
@click.option("--forward", "forward_limit", help="Forward limit of the empty CG.")
@click.option("--aft", "aft_limit", help="Aft limit of the empty CG.")
@click.option("--lemac", help="Arm of the leading edge of the mean aerodynamic chord.")
@click.option("--mac", help="Length of the mean aerodynamic chord.")
@click.option("--scale-good-to", "scale_u", help="Plus or minus, of the scale for parts.")
@click.option("--estimate-good-to", "estimate_u", help="Plus or minus, of one estimate, as 10 %.")
@click.option("--arms-good-to", "list_arm_u", help="Plus or minus, of the arms of the list.")
@project_option
@acting
@as_json_option
def set_range(project: str | None, who: Any, request: str, as_json: bool, **figures: str | None) -> None:
    """Enter the designer's figures that the parts list is held against."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.weight import set_range as enter

    with open_project(find_project(project)) as opened:
        one = enter(
            opened,
            actor=who,
            request_id=request,
            raw={k: v for k, v in figures.items() if v is not None},
        )
    emit({"ref": one.ref, "revision": one.revision}, as_json=as_json, text="Entered.")


@group.command("change")
@click.option("--item", default="item", show_default=True, help="What is changed.")
@click.option("--what", default="put in", show_default=True, type=click.Choice(["put in", "take out", "move"]), help="Put in, take out or move.")  # fmt: skip
@click.option("--weight", default="", help="Weight of the item.")
@click.option("--arm", default="", help="Its arm; where it comes from when it is moved.")
@click.option("--to-arm", default="", help="Where it moves to.")
@click.option("--in", "source", metavar="FILE", help="Several items, TOML or JSON, as `calc weight-change` takes its changes.")  # fmt: skip
@project_option
@as_json_option
def change(
    item: str, what: str, weight: str, arm: str, to_arm: str, source: str | None, project: str | None, as_json: bool
) -> None:  # fmt: skip
    """What a change would do to empty weight and CG; nothing is entered."""
    from ribwright.services.calculations import read_text
    from ribwright.services.project import find_project, open_project
    from ribwright.services.weighings import change_before

    rows: Any = [{"item": item, "what": what, "weight": weight, "arm": arm, "to_arm": to_arm}]
    if source:
        rows = read_text(Path(source).read_bytes(), name=source, toml=source.endswith(".toml")).get(
            "changes", []
        )
    with open_project(find_project(project)) as opened:
        done, base = change_before(opened, rows)
    emit(done.answer | {"from": base}, as_json=as_json, text=f"From {base}.\n{done.text()}")


@group.command("weighings")
@project_option
@as_json_option
def weighings(project: str | None, as_json: bool) -> None:
    """The weighings that were entered, and each against the one before."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.weighings import compared
    from ribwright.services.weighings import weighings as entered

    with open_project(find_project(project)) as opened:
        known, against = entered(opened), compared(opened)
    data = [
        {
            "ref": w.one.ref, "title": w.one.title, "signed": w.signed, "problem": w.problem,
            "weight_lb": w.number("empty_weight")[0] if w.done else None, "cg_in": w.number("empty_cg")[0] if w.done else None,
        }
        for w in known
    ]  # fmt: skip
    lines = [
        f"{d['ref']} {d['title']}: {d['problem'] or format(d['weight_lb'], '.1f') + ' lb at ' + format(d['cg_in'], '.2f') + ' in'}, {'signed by ' + str(d['signed']) if d['signed'] else 'not signed'}"
        for d in data
    ] or ["None is entered."]
    if against:
        lines.append(against.text())
    emit(
        {"weighings": data, "compared": against.answer["results"] if against else None},
        as_json=as_json,
        text="\n".join(lines),
    )


@group.command("card")
@click.argument("ref")
@click.argument("file")
@project_option
@as_json_option
def card(ref: str, file: str, project: str | None, as_json: bool) -> None:
    """Write the one-page card of the loading REF to FILE, a PDF."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.sheets import document_pdf
    from ribwright.services.weighings import card as made

    with open_project(find_project(project)) as opened:
        Path(file).write_bytes(document_pdf(made(opened, ref)))
    emit({"ref": ref, "file": file}, as_json=as_json, text=f"Written: {file}")


@group.command("twist")
@click.argument("space")
@click.option("--first", default="", help="Level at the inner end.")
@click.option("--second", default="", help="Level at the outer end, the same way round.")
@click.option("--first-turned", default="", help="Inner end, the level turned end for end.")
@click.option("--second-turned", default="", help="Outer end, the level turned end for end.")
@click.option("--allowed", default="", help="What the drawing allows either way.")
@click.option("--good-to", "limits", default="", help="Plus or minus, of one reading.")
@project_option
@acting
@as_json_option
def twist(space: str, project: str | None, who: Any, request: str, as_json: bool, **readings: str) -> None:
    """Enter the twist of SPACE before it is closed; it answers the line of its closing list."""
    from ribwright.services.closing_twist import enter_twist
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        found, done = enter_twist(opened, actor=who, request_id=request, ref=space, raw=readings)
    emit(
        done.answer | {"space": space, "finding": found.as_data()},
        as_json=as_json,
        text=f"{space}: {found.verdict.value}, {found.reason}. {found.next}",
    )
