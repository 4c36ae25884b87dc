"""Answers forming cases written in the format of the finite-element cases: python predict_forming.py FILE.

Reads {"cases": [...]} (or a bare list), without needing any result field, and prints one JSON object:
{case name: {"rho_final_mm", "M_loaded_N", "M_reopened_N", "T_end_wrap_N_per_mm", "profile_final_mm", ...}}.
A case that can't be answered holds {"cannot": "a sentence"} instead.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.forming.chain import (
    RolledStrip,
    RollSetup,
    released_curvature_per_in,
    released_profile_in,
    roll_chain,
)
from ribwright.core.forming.cyclic import release_layers, reopen_masing, reverse_isotropic
from ribwright.core.forming.section import (
    Layer,
    Sheet,
    moment_lbf,
    release_masing_per_in,
    table_of,
)
from ribwright.errors import MissingError, RibwrightError, UnknownNameError

MM = 25.4
PSI_PER_MPA = 145.037737730
N_PER_LBF = 4.4482216152605
CONTACT_N_PER_MM3 = 2000.0  # the reference solver's pressure for an interference, its stated default
CLAD_MPA, CLAD_N = 69.0, 8.0
WORKING = {  # working values in the cases' own description; a case that brings its own wins
    "2024-T3": (72400.0, 324.0, 12.0),
    "6061-T6": (68300.0, 276.0, 18.0),
}
Case = Mapping[str, Any]


def number(case: Case, *names: str, default: float | None = None) -> float:
    """The first of these keys that holds a number."""
    for name in names:
        value = case.get(name)
        if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
            return float(value)
    if default is None:
        raise MissingError(" or ".join(names), mend="give it as a number")
    return default


def sheet_of(case: Case) -> Sheet:
    """The sheet of a case; clad as its description says."""
    modulus, yield_mpa, exponent = WORKING.get(str(case.get("mat")), (None, None, None))
    thickness = case.get("t_mm")
    t_mm = float(thickness) if thickness else number(case, "tin") * MM
    fraction = number(case, "clad_per_side", default=0.0)
    average = number(case, "s02_MPa", default=yield_mpa)
    core = (average - 2.0 * fraction * CLAD_MPA) / (1.0 - 2.0 * fraction)
    return Sheet(
        thickness_in=t_mm / MM,
        modulus_psi=number(case, "E_MPa", default=modulus) * PSI_PER_MPA,
        poisson=number(case, "nu", default=0.33),
        core=Layer(core * PSI_PER_MPA, number(case, "RO_n", default=exponent)),
        cladding=Layer(CLAD_MPA * PSI_PER_MPA, CLAD_N),
        clad_fraction=fraction,
    )


def tool_radius_mm(case: Case) -> float:
    """Outside radius of the round tool."""
    if isinstance(case.get("R_mm"), int | float):
        return float(case["R_mm"])
    return number(case, "OD_in", "OD") * MM / 2.0


def is_isotropic(case: Case) -> bool:
    """The solver's hardening rule, an input of the case."""
    return not str(case.get("hard", "ISOTROPIC")).upper().startswith(("KIN", "MAS"))


def radius_mm(curvature_per_in: float) -> float | None:
    return MM / curvature_per_in if abs(curvature_per_in) > 1e-9 else None


def newton(moment_lbf_: float) -> float:
    """lbf in per in of width is lbf; N mm per mm is N."""
    return moment_lbf_ * N_PER_LBF


def bend(case: Case) -> dict[str, Any]:
    """Pure bending, perhaps reopened, and release."""
    sheet = sheet_of(case)
    default = tool_radius_mm(case) + sheet.thickness_in * MM / 2.0 if "rho_loaded" not in case else None
    closed = MM / number(case, "rho_loaded", default=default)
    turns = [closed]
    if case.get("rho_reopened"):
        turns.append(MM / number(case, "rho_reopened"))
    elif case.get("reopen_fraction"):
        turns.append(closed * number(case, "reopen_fraction"))
    if is_isotropic(case):
        moments, left = reverse_isotropic(sheet, turning_curvatures_per_in=turns)
    else:
        table = table_of(sheet)
        moments = moment_lbf(table, turns[:1])[0]
        left = float(release_masing_per_in(table, turns[:1])[0, 0])
        if len(turns) == 2:
            opened, left = reopen_masing(sheet, closed_per_in=turns[0], opened_per_in=turns[1])
            moments = np.array([moments[0], opened])
    out: dict[str, Any] = {"rho_final_mm": radius_mm(left), "M_loaded_N": newton(float(moments[0]))}
    if len(turns) == 2:
        out["M_reopened_N"] = newton(float(moments[1]))
    return out


def roll(case: Case) -> dict[str, Any]:
    """A strip rolled on a round tool with tape, and release."""
    sheet = sheet_of(case)
    table = table_of(sheet)
    t_mm, r_mm = sheet.thickness_in * MM, tool_radius_mm(case)
    theta = math.radians(number(case, "theta"))
    l0, held = number(case, "l0"), number(case, "d")
    setup = RollSetup(
        tool_radius_in=r_mm / MM,
        wrap_rad=theta,
        overhang_in=l0 / MM,
        tape_lbf_per_in2=number(case, "k") * PSI_PER_MPA,
        held_in=held / MM,
        contact_lbf_per_in3=number(case, "K", "contact_K", default=CONTACT_N_PER_MM3) * PSI_PER_MPA * MM,
    )
    strip = roll_chain(table, setup)
    tape = roll_chain(table, setup, memory=False)
    left = released(sheet, table, strip, isotropic=is_isotropic(case))
    length = l0 + (r_mm + t_mm / 2.0) * theta + held
    profile = released_profile_in(left, link_in=strip.link_in) * MM + [length, 0.0]
    loaded = strip.loaded_in * MM + [length, 0.0]
    out: dict[str, Any] = {
        # the solver lies between the two, as docs/physics/forming.md says
        "T_end_wrap_N_per_mm": 0.5 * (strip.tape_lbf_per_in + tape.tape_lbf_per_in) * N_PER_LBF / MM,
        "profile_final_mm": np.round(profile[::-1], 5).tolist(),
        "profile_loaded_mm": np.round(loaded[::-1], 5).tolist(),
        "M_loaded_N": newton(float(moment_lbf(table, [[MM / (r_mm + t_mm / 2.0)]])[0, 0])),
    }
    touching = np.flatnonzero(strip.in_contact)
    if touching.size >= 8 and np.ptp(touching) > 8:
        low, high = touching.min(), touching.max()
        trim = 0.15 * (high - low)
        middle = slice(int(low + trim), int(high - trim) + 1)
        out["rho_final_mm"] = circle_radius(profile[middle])
        out["rho_loaded_mm"] = circle_radius(loaded[middle])
    else:
        # touched along a line only: the sharpest stretch stands for the plateau
        out["rho_final_mm"] = radius_mm(float(np.max(left)))
        out["note"] = "the sheet touches the tool along a line only; it does not conform"
    return out


def released(sheet: Sheet, table: Any, strip: RolledStrip, *, isotropic: bool) -> Any:
    """Curvature left at each hinge by the case's hardening rule."""
    if isotropic and sheet.clad_fraction > 0.0:
        top = float(np.max(strip.peak_per_in))
        grid = np.linspace(0.0, top, 48)[1:]
        _, left = release_layers(sheet, paths_per_in=grid[:, None])
        return np.interp(np.maximum(strip.peak_per_in, 0.0), [0.0, *grid], [0.0, *left])
    return released_curvature_per_in(table, strip, masing=not isotropic)


def circle_radius(points: Any) -> float:
    """Radius of the circle fitted to points."""
    matrix = np.column_stack([2.0 * points, np.ones(len(points))])
    x, y, c = np.linalg.lstsq(matrix, np.sum(points**2, axis=1), rcond=None)[0]
    return float(np.sqrt(c + x * x + y * y))


def answer(case: Case) -> dict[str, Any]:
    """One case, or a sentence that says why not."""
    kind = str(case.get("kind", ""))
    try:
        if "roll" in kind:
            return roll(case)
        if "bend" in kind:
            return bend(case)
        raise UnknownNameError("kind", found=kind or None, allowed="a bend or a roll and release")
    except RibwrightError as error:
        return {"cannot": str(error)}
    except (TypeError, ValueError, KeyError, OverflowError) as error:
        return {"cannot": f"the case can't be read: {error}"}


def main(arguments: Sequence[str]) -> int:
    if len(arguments) != 1:
        print(__doc__, file=sys.stderr)
        return 2
    try:
        data = json.loads(Path(arguments[0]).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        print(f"{arguments[0]}: {error}", file=sys.stderr)
        return 3
    cases = data.get("cases", []) if isinstance(data, dict) else data
    out: dict[str, Any] = {}
    for i, case in enumerate(cases):
        if not isinstance(case, dict):
            out[f"case {i}"] = {"cannot": "a case is an object with named values"}
            continue
        out[str(case.get("name", f"case {i}"))] = answer(case)
    print(json.dumps(out, allow_nan=False))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
