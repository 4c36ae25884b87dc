"""A figure in one line: what was measured, its floor, and a named other way to the same, both measured in this run."""

from __future__ import annotations

MARK = "= "
"""How such a line begins; ``all.py`` puts them in one table at its end."""


def figure(
    name: str, value: float, unit: str, *, floor: tuple[str, float], against: tuple[str, float]
) -> None:
    """Print the line; less is better in each of the three.

    Args:
        name: what was measured.
        value, unit: of it; floor and alternative are in the same unit.
        floor: what can't be gone below, and its value.
        against: the other way, and its value.
    """
    print(
        f"{MARK}{name} | {value:.3g} {unit} | {floor[0]}: {floor[1]:.3g}, x{value / floor[1]:.2f} of it | "
        f"{against[0]}: {against[1]:.3g}, x{against[1] / value:.2f} of ours",
        flush=True,
    )
