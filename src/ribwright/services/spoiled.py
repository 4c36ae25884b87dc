"""A spoiled hole, from caliper numbers to an answer: the seam knows its stack, so that only the hole is typed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ribwright.core.fastening.mistake_spec import MEASURED, WHATS, Mistake
from ribwright.core.fastening.rivets import SIZES, read_part_number
from ribwright.core.record.entry import Entry
from ribwright.errors import OutOfRangeError, RibwrightError
from ribwright.services.calculations import Done, run_calculation
from ribwright.services.discrepancies import MEASURED_OF
from ribwright.services.entering import add_entry
from ribwright.services.operations import OperationView, operation_view
from ribwright.services.project import Actor, Project

__all__ = ["ASKED", "WHATS", "Mistake", "enter_spoiled", "from_the_seam", "judge_spoiled"]

ASKED = ("what", "hole", "largest", "smallest", "edge", "pitch", "seat", "uncertainty", "proposal")
"""What is typed at the bench; everything else is taken from the seam and may be put right."""


def from_the_seam(project: Project, ref: str) -> dict[str, Any]:
    """What the seam's own drawing data say of any of its holes, by the field names of a mistake."""
    view = operation_view(project, ref)
    raw: dict[str, Any] = {
        "title": view.object.title or ref,
        "part": view.object.parent,
        "hand": view.object.hand,
        "primary": "yes" if view.object.primary else "no",
    }
    return raw | (_of_spec(view) if view.worked is not None else {})


def _of_spec(view: OperationView) -> dict[str, Any]:
    assert view.worked is not None
    spec, results = view.worked.spec, view.worked.outcome.results
    raw = {name: str(getattr(spec, name, "") or "") for name in ("drawing", "revision")}
    layers = [layer for layer in getattr(spec, "layers", ()) if hasattr(layer, "thickness")]
    plies = [
        {
            "part": str(getattr(layer, "part", "")),
            "thickness": layer.thickness.text,
            "material": _material(str(getattr(layer, "material", ""))),
        }
        for layer in layers
    ]
    edges = [e for layer in layers if (e := getattr(layer, "edge_distance", None)) is not None]
    made: dict[str, Any] = raw | {"layers": plies} | ({"part": plies[0]["part"]} if plies else {})
    if edges:
        made["drawn_edge"] = min(edges, key=lambda e: e.value).text
    if "pitch" in results and isinstance(results["pitch"].value, float):
        made["pitch"] = f"{results['pitch'].value:.3f} in"
    head = str(getattr(spec, "head", ""))
    if head:
        made["head"] = "flush 100°" if head.startswith("flush") else "universal"
    size = _size(
        str(results["rivet"].value) if "rivet" in results else "", str(getattr(spec, "size", "") or "")
    )
    return made | ({"size": size} if size else {})


def _size(part_number: str, said: str) -> str:
    if said in SIZES:
        return said
    try:
        by_32 = read_part_number(part_number).diameter_32
    except RibwrightError:
        return ""
    return next(
        (size for size in SIZES if int(size.split("/")[0]) * 32 == by_32 * int(size.split("/")[1])), ""
    )


def _material(said: str) -> str:
    from ribwright.core.audit.spec import fields_of
    from ribwright.core.fastening.mistake_spec import Ply

    known = next(field.choices for field in fields_of(Ply) if field.name == "material")
    return said if said in known else "other"


def judge_spoiled(project: Project, ref: str, typed: Mapping[str, Any]) -> Done:
    """Within limits, how to mend it, or ask: nothing is entered yet.

    Args:
        typed: by the field names of a mistake; what is left empty is the seam's.

    Raises:
        InputError: naming the field.
        UnknownNameError: no such operation.
    """
    return _worked(project, ref, typed)[1]


def _worked(project: Project, ref: str, typed: Mapping[str, Any]) -> tuple[dict[str, Any], Done]:
    """The mistake's own data with the seam's beneath, and what they come to; the hole must be one of the row."""
    given = {key: value for key, value in typed.items() if value not in ("", [], None)}
    raw = from_the_seam(project, ref) | given
    done = run_calculation("mistake", raw)
    view = operation_view(project, ref)
    holes = view.worked.outcome.results.get("holes") if view.worked is not None else None
    extra = done.spec.what == "extra hole"
    if holes is not None and isinstance(holes.value, (int, float)) and done.spec.hole > holes.value + extra:
        raise OutOfRangeError(
            "Hole number", found=done.spec.hole, allowed=f"1 to {int(holes.value)}", mend="Count from the row's first hole."
        )  # fmt: skip
    return raw, done


def enter_spoiled(
    project: Project, *, actor: Actor, request_id: str, ref: str, stage: str = "", typed: Mapping[str, Any]
) -> Entry:
    """Open a discrepancy with what was measured and what it came to; its page for the designer is ready.

    Errors as ``judge_spoiled`` and ``entering.add_entry``.
    """
    raw, done = _worked(project, ref, typed)
    given = {key for key, value in typed.items() if value not in ("", [], None)}
    spec: Mistake = done.spec
    answer, why = (str(done.outcome.results[name].value) for name in ("answer", "why"))
    measured = {
        name: f"{value.text} ± {spec.uncertainty.text}"
        for name, field in MEASURED_OF.items()
        if (value := getattr(spec, field)) is not None and field in given
    }
    body: dict[str, Any] = {
        "what": f"{spec.what} at hole {spec.hole}: {answer}. {why}",
        "kind": spec.what if spec.what in MEASURED else "other",
        "where": f"hole {spec.hole}",
        "stage": stage,
        "measured": measured,
        "mistake": raw,
    }
    return add_entry(
        project,
        actor=actor,
        request_id=request_id,
        kind="discrepancy",
        about=ref,
        body={key: value for key, value in body.items() if value},
    )
