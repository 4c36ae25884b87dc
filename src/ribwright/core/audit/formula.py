"""A formula: a kernel with its printed text, its source and the range in which the source holds it."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from ribwright.core.tables import RUNGS, source

K = TypeVar("K", bound=Callable[..., Any])


@dataclass(frozen=True, slots=True)
class Formula:
    """What a kernel is, said so that a person can check it and a test can run it.

    Attributes:
        name: stable and dotted, for example ``bend.allowance``.
        shown: the printed text; ``evaluate`` runs it and must agree with the kernel everywhere in ``limits``.
        limits: per input the range in which the source holds; ``None`` on a side is open there.
        excuse: why no published number checks it, when none does. Empty means a reference test covers it.
        deviation: where it departs from its source, printed under it.
        revision: raised when results change, so that sheets made before are marked.
    """

    name: str
    kernel: Callable[..., Any]
    symbol: str
    shown: str
    unit: str
    source: str
    locator: str
    rung: str
    limits: Mapping[str, tuple[float | None, float | None]]
    excuse: str = ""
    deviation: str = ""
    revision: int = 1

    @property
    def inputs(self) -> tuple[str, ...]:
        """Names of the kernel's inputs, each ending in its unit."""
        return tuple(inspect.signature(self.kernel).parameters)

    @property
    def cited(self) -> str:
        """The source in one line."""
        return source(self.source).cited(self.locator)

    def evaluate(self, **inputs: Any) -> Any:
        """Run the printed text itself, with numpy's functions by their plain names."""
        return eval(compile(self.shown, self.name, "eval"), {"__builtins__": {}}, {**_NAMES, **inputs})


_NAMES: dict[str, Any] = {
    "pi": np.pi, "sin": np.sin, "cos": np.cos, "tan": np.tan, "sqrt": np.sqrt, "exp": np.exp, "log": np.log,
    "atan": np.arctan, "asin": np.arcsin, "acos": np.arccos, "atan2": np.arctan2, "hypot": np.hypot,
    "minimum": np.minimum, "maximum": np.maximum, "ceil": np.ceil, "floor": np.floor, "abs": np.abs,
    "where": np.where, "radians": np.radians, "degrees": np.degrees, "round": np.round, "clip": np.clip,
}  # fmt: skip

FORMULAS: dict[str, Formula] = {}
"""Every registered formula by name; filled as the domains are imported."""

_BY_KERNEL: dict[Callable[..., Any], Formula] = {}


def formula(
    name: str,
    *,
    symbol: str,
    shown: str,
    unit: str,
    source: str,
    locator: str,
    rung: str,
    limits: Mapping[str, tuple[float | None, float | None]] | None = None,
    excuse: str = "",
    deviation: str = "",
    revision: int = 1,
) -> Callable[[K], K]:
    """Register a kernel. The kernel stays a plain function; a worksheet cites it by itself."""
    if rung not in RUNGS:
        raise ValueError(f"formula {name}: rung {rung!r} is not one of {RUNGS}")

    def register(kernel: K) -> K:
        known = FORMULAS.get(name)
        if known is not None and known.kernel.__qualname__ != kernel.__qualname__:
            raise ValueError(f"formula {name} is registered twice")
        made = Formula(
            name,
            kernel,
            symbol,
            shown,
            unit,
            source,
            locator,
            rung,
            dict(limits or {}),
            excuse,
            deviation,
            revision,
        )
        FORMULAS[name] = made
        _BY_KERNEL[kernel] = made
        return kernel

    return register


def formula_of(kernel: Callable[..., Any]) -> Formula:
    """The formula that a kernel was registered as."""
    return _BY_KERNEL[kernel]
