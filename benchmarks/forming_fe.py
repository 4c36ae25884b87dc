"""A roll solved by CalculiX (Debian's calculix-ccx) beside our own solution, in the same run; optional.

    python benchmarks/forming_fe.py [wrap in degrees] [thickness in mm] [tape N/mm per mm] [held mm]

Writes its own deck (plane strain, C3D20R, rigid tool, frictionless contact, tape as a tension-only spring), solves the
wrap without the release, and prints the tape load along the way against the chain with and without memory.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from ending import takes_all_with_it

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))

from ribwright.core.forming.chain import RollSetup, roll_chain
from ribwright.core.forming.section import section_table

PSI = 145.03773773
E, NU, S02, N = 72400.0, 0.33, 324.0, 12.0
CONTACT = 2000.0
THROUGH = 4


def brick(node: dict[tuple[int, int, int], int], i: int, j: int) -> list[int]:
    """The twenty nodes of an element whose lower left corner is at (2 i, 2 j)."""
    a, b = 2 * i, 2 * j
    corners = [(a, b), (a + 2, b), (a + 2, b + 2), (a, b + 2)]
    sides = [(a + 1, b), (a + 2, b + 1), (a + 1, b + 2), (a, b + 1)]
    order = [(*c, 0) for c in corners] + [(*c, 2) for c in corners]
    order += [(*c, 0) for c in sides] + [(*c, 2) for c in sides] + [(*c, 1) for c in corners]
    return [node[key] for key in order]


def grid_nodes(nx: int, ny: int, start: int, place) -> tuple[dict[tuple[int, int, int], int], list[str]]:  # type: ignore[no-untyped-def]
    """Nodes of a strip of quadratic bricks, and their lines."""
    node: dict[tuple[int, int, int], int] = {}
    lines = []
    for i in range(2 * nx + 1):
        for j in range(2 * ny + 1):
            for k in range(3):
                if (i % 2) + (j % 2) + (k % 2) > 1:
                    continue
                number = start + len(node)
                node[i, j, k] = number
                x, y = place(i / 2, j / 2)
                lines.append(f"{number},{x:.8f},{y:.8f},{0.25 * k:.8f}")
    return node, lines


def rows(numbers: list[int], per: int = 10) -> list[str]:
    return [",".join(map(str, numbers[i : i + per])) + "," for i in range(0, len(numbers), per)]


def deck(
    wrap_deg: float, t: float, radius: float, l0: float, k: float, held: float, every: int
) -> tuple[str, np.ndarray]:
    """The deck, and the angles (deg) at which results are printed."""
    theta = np.radians(wrap_deg)
    rho = radius + t / 2
    length = l0 + rho * theta + held
    nx = int(np.ceil(length / (1.2 * t)))
    strip, lines = grid_nodes(nx, THROUGH, 1, lambda i, j: (length * i / nx, -t / 2 + t * j / THROUGH))
    turn, steps = np.radians(2.0), 0
    low, high = np.radians(-90 - 25 - wrap_deg * 0), np.radians(-90 + 25)
    low -= theta
    steps = int(np.ceil((high - low) / turn))
    tool, more = grid_nodes(
        steps, 1, 1 + len(strip),
        lambda i, j: (
            l0 + (radius - 1 + j) * np.cos(high - (high - low) * i / steps),
            rho + (radius - 1 + j) * np.sin(high - (high - low) * i / steps),
        ),
    )  # fmt: skip
    total = len(strip) + len(tool)
    corner = np.array([0.0, -t / 2])
    centre0 = np.array([l0, rho])
    to = centre0 - corner
    reach = np.hypot(*to)
    free = np.sqrt(reach**2 - radius**2)
    base = np.arctan2(to[1], to[0]) + np.arcsin(radius / reach)
    arm = corner + free * np.array([np.cos(base), np.sin(base)]) - centre0
    anchor0 = centre0 + arm
    anchors = [total + 1, total + 2]
    out = ["** roll, made by forming_fe", "*NODE,NSET=NALL", *lines, *more]
    out += [
        f"{anchors[0]},{anchor0[0]:.8f},{anchor0[1]:.8f},0.",
        f"{anchors[1]},{anchor0[0]:.8f},{anchor0[1]:.8f},.5",
    ]
    out.append("*ELEMENT,TYPE=C3D20R,ELSET=STRIP")
    element, top = 0, []
    for i in range(nx):
        for j in range(THROUGH):
            element += 1
            b = brick(strip, i, j)
            out += [f"{element}," + ",".join(map(str, b[:10])) + ",", ",".join(map(str, b[10:]))]
            if j == THROUGH - 1:
                top.append(element)
    out.append("*ELEMENT,TYPE=C3D20R,ELSET=PIPE")
    faces = []
    for i in range(steps):
        element += 1
        b = brick(tool, i, 0)
        out += [f"{element}," + ",".join(map(str, b[:10])) + ",", ",".join(map(str, b[10:]))]
        faces.append(element)
    out += [
        "*ELEMENT,TYPE=SPRINGA,ELSET=TAPE",
        f"{element + 1},{strip[0, 0, 0]},{anchors[0]}",
        f"{element + 2},{strip[0, 0, 2]},{anchors[1]}",
    ]
    pull = k * 0.5 / 2
    out += ["*SPRING,ELSET=TAPE,NONLINEAR", "-0.,-200.", "-0.,0.", f"{200 * pull},200."]
    out += ["*SURFACE,NAME=STOP,TYPE=ELEMENT", *(f"{e},S5" for e in top)]
    out += ["*SURFACE,NAME=PSURF,TYPE=ELEMENT", *(f"{e},S5" for e in faces)]
    plastic = np.concatenate(([0.0], np.geomspace(2e-6, 0.3, 70)))
    out += ["*MATERIAL,NAME=AL", "*ELASTIC", f"{E},{NU}", "*PLASTIC,HARDENING=ISOTROPIC"]
    out += [f"{S02 * ((p + 1e-5) / 0.002) ** (1 / N):.6f},{p:.9f}" for p in plastic]
    out += ["*MATERIAL,NAME=TOOL", "*ELASTIC", "70000.,0.3"]
    out += ["*SOLID SECTION,ELSET=STRIP,MATERIAL=AL", "*SOLID SECTION,ELSET=PIPE,MATERIAL=TOOL"]
    out += [
        "*SURFACE INTERACTION,NAME=SI",
        "*SURFACE BEHAVIOR,PRESSURE-OVERCLOSURE=LINEAR",
        f"{CONTACT},1.,0.01",
    ]
    out += ["*CONTACT PAIR,INTERACTION=SI,TYPE=SURFACE TO SURFACE", "STOP,PSURF"]
    out += ["*NSET,NSET=PN", *rows(list(tool.values()))]
    out += ["*NSET,NSET=ANCH", *rows(anchors)]
    out += ["*NSET,NSET=SN", *rows(list(strip.values()))]
    out += ["*NSET,NSET=CL", *rows([n for (i, _, _), n in strip.items() if i == 2 * nx])]
    grid = np.linspace(0, 1, 241)
    turned = grid * theta
    c, s = np.cos(turned), np.sin(turned)
    x = centre0[0] + rho * turned + c * arm[0] + s * arm[1] - anchor0[0]
    y = centre0[1] - s * arm[0] + c * arm[1] - anchor0[1]
    for name, values in (("PX1", rho * turned), ("AX1", x), ("AY1", y)):
        out.append(f"*AMPLITUDE,NAME={name}")
        pairs = [f"{a:.6f},{b:.8f}" for a, b in zip(grid, values, strict=True)]
        out += [",".join(pairs[i : i + 4]) + "," for i in range(0, len(pairs), 4)]
    count = int(np.ceil(wrap_deg * 2))
    out += [
        "*STEP,NLGEOM,INC=5000", "*STATIC", f"{1 / count:.8f},1.,1e-6,{1 / count:.8f}", "*BOUNDARY", "CL,1,3,0.", "SN,3,3,0.",
        "PN,3,3,0.", "ANCH,3,3,0.", "PN,2,2,0.", "*BOUNDARY,AMPLITUDE=PX1", "PN,1,1,1.", "*BOUNDARY,AMPLITUDE=AX1",
        "ANCH,1,1,1.", "*BOUNDARY,AMPLITUDE=AY1", "ANCH,2,2,1.", f"*NODE PRINT,NSET=ANCH,FREQUENCY={every}", "RF", "*END STEP",
    ]  # fmt: skip
    return "\n".join(out) + "\n", anchor0


def tape_loads(text: str) -> list[tuple[float, float]]:
    """Time and tape load, N an mm of width, from the solver's printed reactions."""
    found = []
    for block in re.split(r"\n(?= forces \(fx)", text):
        head = re.search(r"time\s+([0-9.E+-]+)", block)
        values = re.findall(r"^\s*\d+\s+(\S+)\s+(\S+)\s+\S+\s*$", block, re.M)
        if head and len(values) >= 2:
            force = np.sum([[float(a), float(b)] for a, b in values[:2]], axis=0)
            found.append((float(head.group(1)), float(np.hypot(*force)) / 0.5))
    return found


def main() -> int:
    given = [float(a) for a in sys.argv[1:]]
    wrap, t, k, held = [*given, *(90.0, 0.508, 20.0, 12.0)[len(given) :]]
    radius, l0 = 13.335, 6.35
    table = section_table(
        thickness_in=t / 25.4, modulus_psi=E * PSI, poisson=NU, core_yield_psi=S02 * PSI, core_exponent=N
    )

    def ours(angle: float, memory: bool) -> float:
        # the same strip, turned less far: what is not yet wrapped lies before the held part
        more = held + (radius + t / 2) * np.radians(wrap - angle)
        setup = RollSetup(
            radius / 25.4, np.radians(angle), l0 / 25.4, k * PSI, more / 25.4, CONTACT * PSI * 25.4
        )
        return roll_chain(table, setup, memory=memory).tape_lbf_per_in * 4.4482216 / 25.4

    solver = shutil.which("ccx")
    if solver is None:
        print("CalculiX is not here: apt install calculix-ccx")
        return 1
    text, _ = deck(wrap, t, radius, l0, k, held, 20)
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "roll.inp").write_text(text)
        begun = time.perf_counter()
        done = subprocess.run([solver, "roll"], cwd=folder, capture_output=True, text=True, check=False)
        seconds = time.perf_counter() - begun
        data = Path(folder) / "roll.dat"
        loads = tape_loads(data.read_text()) if data.exists() else []
    print(f"solver {seconds:.0f} s")
    if not loads:
        print(done.stdout[-800:])
        return 1
    for share, load in loads[:: max(1, len(loads) // 8)] + loads[-1:]:
        print(f"  {share * wrap:6.1f} deg  solver {load:.4f} N/mm")
    last = loads[-1][0] * wrap
    for memory in (True, False):
        begun = time.perf_counter()
        mine = ours(last, memory)
        print(
            f"chain {'with' if memory else 'without'} memory at {last:.1f} deg: {mine:.4f} N/mm ({mine / loads[-1][1] - 1:+.2%}), {time.perf_counter() - begun:.1f} s"
        )
    return 0


if __name__ == "__main__":
    takes_all_with_it()
    raise SystemExit(main())
