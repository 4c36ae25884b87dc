"""Values with units, exact as they were entered, and the one way they are shown.

``parse`` turns text into a :class:`Quantity`; ``shown`` turns a float back into what people read.
Kernels never see either: they get plain floats in inch, pound-force, psi, pound, degree (see UNITS).
"""

from ribwright.core.units.parse import parse
from ribwright.core.units.quantity import UNITS, Quantity, Unit, canonical_unit, quantity_of, unit
from ribwright.core.units.show import Side, bound_text, fraction_text, number_text, shown, with_metric

__all__ = [
    "UNITS",
    "Quantity",
    "Side",
    "Unit",
    "bound_text",
    "canonical_unit",
    "fraction_text",
    "number_text",
    "parse",
    "quantity_of",
    "shown",
    "unit",
    "with_metric",
]
