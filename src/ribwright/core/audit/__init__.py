"""A calculation lives in one place: spec, formulas, worksheet, requirements, picture, sources.

- :mod:`~ribwright.core.audit.spec`: what goes in, described once; form, flags, JSON and docs are derived.
- :mod:`~ribwright.core.audit.schema`: the same told to a program, as JSON Schema.
- :mod:`~ribwright.core.audit.formula`: a kernel with its printed text, source and limits.
- :mod:`~ribwright.core.audit.worksheet`: the steps as they would stand on paper.
- :mod:`~ribwright.core.audit.calculation`: a spec and its worksheet function under one public name.
- :mod:`~ribwright.core.audit.index`: the committed list of all calculations, read without importing them.
"""

from ribwright.core.audit.calculation import Calculation, Outcome, Result, calculation
from ribwright.core.audit.formula import FORMULAS, Formula, formula, formula_of
from ribwright.core.audit.spec import (
    Field,
    choice,
    fields_of,
    flag,
    form_to_raw,
    quantity,
    raw_of,
    read,
    rows,
    text,
    whole,
)
from ribwright.core.audit.worksheet import Step, Worksheet, answer_of_outcome, document_of_outcome

__all__ = [
    "FORMULAS",
    "Calculation",
    "Field",
    "Formula",
    "Outcome",
    "Result",
    "Step",
    "Worksheet",
    "answer_of_outcome",
    "calculation",
    "choice",
    "document_of_outcome",
    "fields_of",
    "flag",
    "form_to_raw",
    "formula",
    "formula_of",
    "quantity",
    "raw_of",
    "read",
    "rows",
    "text",
    "whole",
]
