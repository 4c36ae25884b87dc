"""A mistake at the bench: within limits, how to mend it, or ask; on primary parts only the question is prepared."""

from __future__ import annotations

from collections.abc import Sequence

from ribwright.core.audit import (
    Outcome,
    Result,
    Worksheet,
    calculation,
)
from ribwright.core.bench import CAUTIONS
from ribwright.core.fastening.mistake_spec import WHATS, Mistake, Ply
from ribwright.core.fastening.ruling import ASK, Ruling, judge
from ribwright.core.scene import Document

__all__ = ["WHATS", "Mistake", "Ply", "Ruling", "judge", "mistake", "question_for"]


@calculation(
    "mistake",
    title="A mistake at the bench",
    summary="Caliper numbers of a spoiled hole or rivet: within limits, how to mend it, or ask; as built against as drawn in per cent.",
    spec=Mistake,
    results=("answer", "why", "next_rivet", "as_built_percent", "question"),
)
def mistake(spec: Mistake, ws: Worksheet) -> Outcome:
    """One of three answers; for *ask*, and always on primary parts, the question to the designer is ready."""
    from ribwright.core.fastening.question import (
        mistake_picture,
        mistake_sheet,
        question_document,
        question_lines,
    )

    for label, value in (
        ("largest across the hole", spec.largest), ("smallest across the hole", spec.smallest), ("edge distance", spec.edge),
        ("to the nearest neighbour", spec.pitch), ("countersink across", spec.seat),
    ):  # fmt: skip
        if value is not None:
            ws.called_out(label, value, f"measured, ± {spec.uncertainty.text}")
    ruling = judge(spec, ws)
    if spec.primary:
        ruling = Ruling(
            ASK, "Primary structure: nothing is proposed here; the question goes to the designer.", (), "", ruling.percent,
            ruling.findings, ruling.requirements,
        )  # fmt: skip
    asked = ruling.answer == ASK
    results = {
        "answer": Result("answer", ruling.answer),
        "why": Result("why", ruling.why),
        "next_rivet": Result("rivet that goes in", f"{ruling.next_size} in" if ruling.next_size else "none until the designer answers"),
        "as_built_percent": Result("as built against as drawn", ruling.percent, "%") if ruling.percent is not None else Result("as built against as drawn", "edge distance, drawn edge distance or pitch was not entered"),
        "question": Result("question to the designer", " | ".join(question_lines(spec, ruling)) if asked else "not needed"),
    }  # fmt: skip
    return Outcome(
        tuple(ws.steps), results, ruling.requirements, ruling.findings,
        (*(("PRIMARY STRUCTURE: do nothing to it until the designer has answered.",) if spec.primary else ()), *CAUTIONS),
        mistake_picture(spec), (mistake_sheet(spec, ruling),), (mistake_picture(spec, full_size=True),),
        (question_document(spec, ruling),) if asked else (),
    )  # fmt: skip


def question_for(
    spec: Mistake, *, reference: str = "", seal: str = "", photos: Sequence[tuple[bytes, str]] = ()
) -> Document:
    """The question to the designer as one page, from the entries alone; for any answer, primary or not."""
    from ribwright.core.fastening.question import question_document

    return question_document(spec, judge(spec, Worksheet()), reference=reference, seal=seal, photos=photos)
