"""``ribwright stores``: what is kept where, counts, crates, lots, batches, lists in and out."""

from __future__ import annotations

import importlib
from pathlib import Path

import click

from ribwright.cli.app import emit
from ribwright.cli.group import Group
from ribwright.cli.options import acting, as_json_option, project_option
from ribwright.errors import DiskError


@click.group(cls=Group)
def group() -> None:
    """What is in the shop, what it goes into, and what is short."""


@group.command("list")
@click.argument("words", nargs=-1)
@click.option("--kind", default="", help="Only this kind, such as hardware.")
@click.option("--place", default="", help="Only from this shelf, bin or bag.")
@project_option
@as_json_option
def list_items(words: tuple[str, ...], kind: str, place: str, project: str | None, as_json: bool) -> None:
    """Items that hold all these WORDS, with what should be left of each."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.stores import find_items, plain

    with open_project(find_project(project)) as opened:
        found = find_items(opened, words=" ".join(words), kind=kind, place=place)
    data = [
        {
            "item": h.item.ref, "title": h.item.title, "kind": h.item.kind, "on_hand": plain(h.on_hand), "low": plain(h.low), "high": plain(h.high),
            "unit": h.item.unit, "place": h.item.place, "lots": [lot.lot for lot in h.lots], "expires": h.earliest_expiry,
        }
        for h in found
    ]  # fmt: skip
    lines = [f"{d['item']:<20} {d['on_hand']:>8} {d['unit']:<6} {d['place']:<10} {d['title']}" for d in data]
    emit({"items": data}, as_json=as_json, text="\n".join(lines) or "Nothing of that is in the stores.")


@group.command("add")
@click.argument("item")
@click.option("--title", default="", help="What it is.")
@click.option(
    "--kind",
    default="",
    help="sheet, extrusion, hardware, consumable, mixed batch, tool, temporary fastener, other.",
)
@click.option("--quantity", default="", help="Counted by hand.")
@click.option("--unit", default="", help="In which it is counted.")
@click.option("--place", default="", help="Shelf, bin or bag.")
@click.option("--lot", default="", help="Lot or batch.")
@click.option("--expires", default="", help="Last day, such as 2027-09-30.")
@click.option("--size", default="", help="Of a tool or temporary fastener.")
@click.option("--measured", default="", help="Measured diameter of a round tool.")
@acting
@project_option
@as_json_option
def add(item: str, project: str | None, as_json: bool, who: object, request: str, **values: str) -> None:
    """Enter an ITEM, or change where it lies and what is known of it."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.stores import enter_item

    with open_project(find_project(project)) as opened:
        made = enter_item(opened, actor=who, request_id=request, ref=item, values=values)  # type: ignore[arg-type]
    emit({"item": made.ref, "revision": made.revision}, as_json=as_json, text=f"Entered: {made.ref}")


@group.command("count")
@click.argument("item")
@click.option("--quantity", default="", help="Counted by hand.")
@click.option("--gross", default="", help="Weight with the bag, such as 12.4 oz.")
@click.option("--tare", default="", help="The empty bag.")
@click.option("--scale", default="", help="The scale's smallest step.")
@click.option("--sample-count", default="", help="Pieces of a counted sample.")
@click.option("--sample-weight", default="", help="Weight of that sample.")
@acting
@project_option
@as_json_option
def count(
    item: str, quantity: str, project: str | None, as_json: bool, who: object, request: str, **weighed: str
) -> None:
    """Enter a count of ITEM, by hand or by weight with its band."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.stores import count_item

    with open_project(find_project(project)) as opened:
        made = count_item(opened, actor=who, request_id=request, ref=item, quantity=quantity, weighed=weighed)  # type: ignore[arg-type]
    if made is None:
        emit({"item": item, "quantity": quantity}, as_json=as_json, text=f"{item}: {quantity} counted.")
        return
    data = {
        "item": item,
        "quantity": made.count,
        "low": made.low,
        "high": made.high,
        "weight_of_one_lb": made.one_lb,
        "how": made.how,
    }
    emit(
        data,
        as_json=as_json,
        text=f"{item}: about {made.count}, between {made.low} and {made.high} ({made.how}).",
    )


@group.command("take")
@click.argument("item")
@click.argument("quantity")
@click.option("--for", "about", default="", help="Operation that takes it; left out, it is thrown out.")
@click.option("--lot", default="", help="Lot on the bag.")
@acting
@project_option
@as_json_option
def take(
    item: str,
    quantity: str,
    about: str,
    lot: str,
    project: str | None,
    as_json: bool,
    who: object,
    request: str,
) -> None:
    """Book QUANTITY of ITEM as taken for an operation, or as thrown out."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.stores import take_item

    with open_project(find_project(project)) as opened:
        take_item(opened, actor=who, request_id=request, ref=item, quantity=quantity, about=about, lot=lot)  # type: ignore[arg-type]
    emit({"item": item, "quantity": quantity, "for": about}, as_json=as_json, text="Booked.")


@group.command("receive")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@click.option("--crate", required=True, help="Its number, or the order's.")
@click.option("--claim-by", default="", help="Last day to claim what is short.")
@click.option("--supplier", default="", help="From whom.")
@acting
@project_option
@as_json_option
def receive(
    file: str,
    crate: str,
    claim_by: str,
    supplier: str,
    project: str | None,
    as_json: bool,
    who: object,
    request: str,
) -> None:
    """Receive a crate against its packing list: FILE is CSV with item, listed, got, and if known lot, unit, place, expires."""
    from ribwright.core.stores.crates import read_packing_list
    from ribwright.core.stores.csv_text import text_of_file
    from ribwright.services.crates import receive_crate
    from ribwright.services.project import find_project, open_project

    lines = read_packing_list(text_of_file(Path(file).read_bytes(), field="packing list"))
    with open_project(find_project(project)) as opened:
        short = receive_crate(
            opened, actor=who, request_id=request, crate=crate, lines=lines, claim_by=claim_by, supplier=supplier  # type: ignore[arg-type]
        )  # fmt: skip
    data = {
        "crate": crate,
        "lines": len(lines),
        "short": [{"item": s.item, "short": f"{s.short:f}", "claim_by": s.claim_by} for s in short],
    }
    text = (
        "\n".join(f"short: {s.short:f} {s.item}, claim by {s.claim_by}" for s in short) or "Nothing is short."
    )
    emit(data, as_json=as_json, text=text)


@group.command("short")
@project_option
@as_json_option
def short(project: str | None, as_json: bool) -> None:
    """What crates still owe, the earliest claim date first."""
    from ribwright.services.crates import days_left, owed
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        rows = [(one, days_left(opened, one)) for one in owed(opened)]
    data = [
        {
            "crate": s.crate,
            "item": s.item,
            "short": f"{s.short:f}",
            "claim_by": s.claim_by,
            "days_left": left,
            "supplier": s.supplier,
        }
        for s, left in rows
    ]
    text = "\n".join(
        f"claim by {s.claim_by}: {s.short:f} {s.item} short in crate {s.crate}"
        + (" (too late)" if left is not None and left < 0 else "")
        for s, left in rows
    )
    emit({"short": data}, as_json=as_json, text=text or "Nothing is owed.")


@group.command("lot")
@click.argument("lot")
@project_option
@as_json_option
def lot(lot: str, project: str | None, as_json: bool) -> None:
    """Where a LOT came from and which operations it is in."""
    from ribwright.services.lots import trace_lot
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        found = trace_lot(opened, lot)
    data = [
        {
            "item": t.item, "lot": t.lot, "came": t.came, "left": t.left, "came_from": list(t.came_from), "expires": t.expires,
            "uses": [{"operation": u.about, "title": title, "known": u.known, "day": u.day} for u, title in t.uses],
        }
        for t in found
    ]  # fmt: skip
    lines = []
    for t in found:
        lines.append(
            f"{t.item}, lot {t.lot}: came {t.came}" + (f", {'; '.join(t.came_from)}" if t.came_from else "")
        )
        lines += [f"  {u.about} {title} ({u.known})" for u, title in t.uses]
    emit({"lots": data}, as_json=as_json, text="\n".join(lines))


@group.command("in")
@click.argument("operation")
@project_option
@as_json_option
def lots_of(operation: str, project: str | None, as_json: bool) -> None:
    """Which lots are in an OPERATION."""
    from ribwright.services.lots import lots_in
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        found = lots_in(opened, [operation])
    data = [
        {"item": o.item, "lot": o.lot, "known": o.known, "quantity": o.quantity, "came_from": o.from_where}
        for o in found
    ]
    text = "\n".join(f"{o.item}: lot {o.lot or '-'} ({o.known})" for o in found)
    emit({"operation": operation, "lots": data}, as_json=as_json, text=text or "Nothing is booked in it.")


@group.command("mix")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@click.option("--base-lot", default="", help="Lot of the tin of base.")
@click.option("--hardener-lot", default="", help="Lot of the tin of hardener.")
@acting
@project_option
@as_json_option
def mix(
    file: str,
    base_lot: str,
    hardener_lot: str,
    project: str | None,
    as_json: bool,
    who: object,
    request: str,
) -> None:
    """Work out a finish or sealing batch from FILE (as calc mix-batch takes it) and book it with its times and lots."""
    from ribwright.services.batches import mix_and_book
    from ribwright.services.calculations import read_text
    from ribwright.services.project import find_project, open_project

    raw = read_text(Path(file).read_bytes(), name=file, toml=file.lower().endswith(".toml"))
    with open_project(find_project(project)) as opened:
        made = mix_and_book(
            opened, actor=who, request_id=request, raw=raw, base_lot=base_lot, hardener_lot=hardener_lot  # type: ignore[arg-type]
        )  # fmt: skip
    data = {
        "item": made.object.ref,
        **dict(made.facts),
        "findings": [one.as_data() for one in made.findings],
    }
    lines = [made.object.ref, *(f"  {name}: {value}" for name, value in made.facts)]
    emit(data, as_json=as_json, text="\n".join(lines))


@group.command("inspect")
@click.argument("assembly")
@click.option("--size", default="", help="Rivet diameter of the rows; left out, the one with the most heads.")
@click.option("--supplier", default="", help="Who set them.")
@project_option
@acting
@as_json_option
def inspect(
    assembly: str, size: str, supplier: str, project: str | None, as_json: bool, who: object, request: str
) -> None:
    """Enter the incoming inspection of ASSEMBLY, which came part-built: which heads of which rows to measure."""
    from ribwright.services.incoming import CALCULATION, unit_that_came
    from ribwright.services.operations import enter_operation, next_reference, operation_view
    from ribwright.services.project import find_project, open_project

    with open_project(find_project(project)) as opened:
        raw = unit_that_came(opened, assembly, size=size, supplier=supplier)
        one = enter_operation(
            opened, actor=who, request_id=request, ref=next_reference(opened, assembly, "I"), calculation=CALCULATION, raw=raw,  # type: ignore[arg-type]
            parent=assembly,
        )  # fmt: skip
        view = operation_view(opened, one.ref)
    assert view.worked is not None
    results = view.worked.outcome.results
    emit(
        {"ref": one.ref, **{name: result.value for name, result in results.items()}}, as_json=as_json,
        text=f"{one.ref} {one.title}: " + "; ".join(f"{r.label} {r.shown}" for r in results.values()),
    )  # fmt: skip


@group.command("export")
@click.argument("file", type=click.Path(dir_okay=False))
@project_option
@as_json_option
def export(file: str, project: str | None, as_json: bool) -> None:
    """Write everything in the stores to FILE as CSV."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.stores_list import stores_csv

    with open_project(find_project(project)) as opened:
        text = stores_csv(opened)
    try:
        Path(file).write_text(text, encoding="utf-8-sig", newline="")
    except OSError as error:
        raise DiskError("file", found=f"{file}: {error.strerror or error}") from error
    emit({"file": file}, as_json=as_json, text=f"Written: {file}")


@group.command("import")
@click.argument("file", type=click.Path(exists=True, dir_okay=False))
@acting
@project_option
@as_json_option
def import_(file: str, project: str | None, as_json: bool, who: object, request: str) -> None:
    """Enter or change many items from FILE, CSV with item and if known title, kind, quantity, unit, place, lot, expires."""
    from ribwright.services.project import find_project, open_project
    from ribwright.services.stores_list import enter_csv

    content = Path(file).read_bytes()
    with open_project(find_project(project)) as opened:
        lines = enter_csv(opened, actor=who, request_id=request, content=content)  # type: ignore[arg-type]
    emit({"lines": lines}, as_json=as_json, text=f"{lines} lines entered.")


_weeks = importlib.import_module("ribwright.cli.stores_weeks")
for _command in (_weeks.month, _weeks.order, _weeks.same_set_up):
    group.add_command(_command)
