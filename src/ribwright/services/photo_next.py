"""What to do next after a photo: in words that lead on to the roll, to the gauge or to the drill."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from typing import Any

_MM = 25.4
TURN_CLEAR = (
    0.25  # of the tolerance: how far a zone's middle lies off its ends before it is called flatter or tighter
)
SIZE_NEAR = 0.03  # share by which a typed shank may differ from a rivet's size
WHOLE_ROW = 0.6  # share of heads alike from which on the set-up is what is wrong


def largest_of(answer: Mapping[str, Any]) -> tuple[float, float]:
    """Largest deviation of a measured profile in mm, and how sure it is there (95 %)."""
    seen = [
        (abs(d), u)
        for d, u in zip(answer["deviation_bestfit_mm"], answer["u95_mm"], strict=True)
        if d is not None and u is not None
    ]
    largest, sure = max(seen)
    return float(largest), float(sure)


def profile_said(answer: Mapping[str, Any]) -> str:
    """What a measured profile's photo told, in numbers."""
    largest, sure = largest_of(answer)
    usual = sorted(u for u in answer["u95_mm"] if u is not None)
    return (
        f"Largest deviation {largest:.2f} ± {sure:.2f} mm; along the arc good to about ± {usual[len(usual) // 2]:.2f} mm (95 in 100). "
        f"{100 * answer['seen_share']:.0f} % of the arc seen; turned {answer['rotation_deg']:+.1f}° against the target."
    )


def straightness_said(answer: Mapping[str, Any]) -> str:
    """What a photo of an edge beside its strip told, in numbers."""
    return (
        f"Bow {answer['bow_mm']:+.2f} mm (+ bulges away from the strip), waviness {answer['waviness_mm']:.2f} mm, each "
        f"± {answer['u95_mm']:.2f} mm, over {answer['length_mm']:.0f} mm of the edge."
    )


def profile_next(
    answer: Mapping[str, Any],
    tolerance_mm: float,
    *,
    layout: Mapping[str, Any] | None = None,
    plan: Mapping[str, Any] | None = None,
) -> str:
    """Where it is off and which way, in words that lead to the next roll.

    Args:
        answer: what the photo said.
        tolerance_mm: of the profile.
        layout: of its card.
        plan: of the roll, as ``photo_bend.next_roll`` takes it, with ``zone``: which part of the edge this place
            speaks for.
    """
    if answer["finding"] == "within limits":
        return "It fits: stop."
    deviation = [0.0 if v is None else float(v) for v in answer["deviation_bestfit_mm"]]
    arc = [float(a) for a in answer["arc_positions_mm"]]
    runs = _zones(deviation, tolerance_mm)
    if not runs:
        return "Too close to the limit to tell: take two better photos, or lay the template on."
    zones = [_zone_words(run, deviation, arc, tolerance_mm) for run in runs]
    if plan is None or layout is None:
        return (
            "; ".join(zones)
            + ". Which tool, and how far it turns: read the opening at the holes and ask “after the roll”, place by place."
        )
    from ribwright.services.photo_bend import next_roll

    said: list[str] = []
    for run, words in zip(runs, zones, strict=True):
        roll = next_roll(run, answer, layout, plan)
        where = words.split(", so ")[0]
        said.append(f"{where}; {roll}" if roll and roll not in " ".join(said) else where)
    zone = str(plan.get("zone") or "")
    return (
        (f"{zone}: " if zone else "")
        + "; ".join(said)
        + ". This takes the part for let go. If tape or temporary fasteners held it in the photo, let go, "
        "read the opening at the holes and ask “after the roll”: that reading wins."
    )


def _zones(deviation: list[float], tolerance_mm: float) -> list[list[int]]:
    runs: list[list[int]] = []
    for k, value in enumerate(deviation):
        if abs(value) <= tolerance_mm:
            continue
        if runs and runs[-1][-1] == k - 1 and value * deviation[k - 1] > 0:
            runs[-1].append(k)
        else:
            runs.append([k])
    return runs


def _zone_words(run: list[int], deviation: list[float], arc: list[float], tolerance_mm: float) -> str:
    worst = max(run, key=lambda k: abs(deviation[k]))
    size = abs(deviation[worst])
    way = "stands out" if deviation[worst] > 0 else "lies in"
    said = (
        f"from {arc[run[0]] / _MM:+.2f} to {arc[run[-1]] / _MM:+.2f} in along the arc from the nose it {way} by up to "
        f"{size:.1f} mm ({size / _MM:.3f} in)"
    )
    # a bump outwards between ends that lie lower is bent tighter than the template, a hollow is flatter
    reach = max(3, len(run) // 2)
    before, after = run[0] - reach, run[-1] + reach
    if before < 0 or after >= len(deviation):
        return said + ", at its end"
    bulge = deviation[worst] - (deviation[before] + deviation[after]) / 2
    if abs(bulge) < TURN_CLEAR * tolerance_mm:
        return said
    if bulge > 0:
        return said + ": bent tighter there than the template, so ease it open"
    return said + ": flatter there than the template, so roll it again on the next smaller tool"


def row_next(answer: Mapping[str, Any], typed: Mapping[str, Any]) -> str:
    """Which heads to replace and how, which to gauge; what the whole row tells of the set-up. A line each."""
    from ribwright.core.fastening.rivets import SIZES
    from ribwright.core.fastening.ruling import replacement_steps

    heads = answer["heads"]
    bad = {n: tuple(h["reasons"]) for n, h in enumerate(heads, 1) if h["finding"] == "reject"}
    unsure = [n for n, h in enumerate(heads, 1) if h["finding"] == "undecided"]
    gauge = "Height and a gap under the head can't be seen from above: put the gauge on a sample."
    said: list[str] = []
    made = {n: why for n, why in bad.items() if any("edge" not in one for one in why)}
    if made:
        listed = "; ".join(f"{n} ({', '.join(why)})" for n, why in made.items())
        # a formed head is called a reject where it is likelier out than in: the gauge is asked before the drill
        formed = not typed.get("flush") and typed.get("what", "formed heads") == "formed heads"
        agreed = f" once a gauge on {'it' if len(made) == 1 else 'them'} says the same" if formed else ""
        said.append(f"{_heads(list(made))} from the left: replace{agreed}. {listed}.")
        narrow = [n for n, why in made.items() if all("narrow" in one for one in why)]
        if narrow:
            said.append(
                f"{_heads(narrow)} only too narrow: where the gauge says too high as well, set further instead."
            )
    if bad:
        edge = [n for n, why in bad.items() if any("edge" in one for one in why)]
        if edge:
            said.append(
                f"{_heads(edge)} too near the edge: a new rivet in that hole is as near; enter it as a spoiled hole."
            )
        shank = float(typed["rivet_D_mm"])
        size = min(SIZES, key=lambda one: abs(float(Fraction(one)) * _MM - shank))
        if made and abs(float(Fraction(size)) * _MM - shank) <= SIZE_NEAR * shank:
            said.append("How:")
            said += [f"{n}. {step}" for n, step in enumerate(replacement_steps(size, size), 1)]
        if len(made) >= WHOLE_ROW * len(heads) and len(heads) > 2:
            said.append("Most of the row is off: look at length, set and pressure before the next one.")
    if unsure:
        said.append(f"{_heads(unsure)} can't be told from here: put the gauge on {_each(unsure)}.")
    if not bad and not unsure:
        said.append("Nothing wrong seen from above.")
    return "\n".join([*said, gauge])


def holes_next(answer: Mapping[str, Any], what: str) -> str:
    """Which holes are spoiled, and which are to be measured. A line each."""
    bad = [
        f"{n} ({', '.join(head['reasons'])})"
        for n, head in enumerate(answer["heads"], 1)
        if head["finding"] == "reject"
    ]
    unsure = [n for n, head in enumerate(answer["heads"], 1) if head["finding"] == "undecided"]
    left = "Cracks and burrs are for a magnifier and a finger-nail" + (
        "; the depth of a dimple for a rivet laid in it." if what == "dimples" else "."
    )
    said = []
    if bad:
        each = "Enter it" if len(bad) == 1 else "Enter each"
        said.append(
            f"In the photo, from the left: {'; '.join(bad)}. {each} as a spoiled hole before a rivet goes in."
        )
    if unsure:
        said.append(
            f"{_numbered('Hole', unsure)} can't be told from here: try {_each(unsure)} with the drill's shank or a pin."
        )
    return "\n".join([*(said or ["Nothing wrong seen from above."]), left])


def _heads(numbers: list[int]) -> str:
    return _numbered("Head", numbers)


def _numbered(what: str, numbers: list[int]) -> str:
    if len(numbers) == 1:
        return f"{what} {numbers[0]}"
    return f"{what}s " + ", ".join(str(n) for n in numbers[:-1]) + f" and {numbers[-1]}"


def _each(numbers: list[int]) -> str:
    return "it" if len(numbers) == 1 else "each"
