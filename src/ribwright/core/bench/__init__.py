"""What is asked at the bench, what was measured, and what follows: requirement, reading, finding.

The one comparator lives in :mod:`ribwright.core.bench.compare`; nobody else holds a value against
a limit. A :class:`StageSheet` is a stage of an operation as it is done: tray, trial piece, steps.
"""

from ribwright.core.bench.compare import Finding, Verdict, compare, verdict_codes, worst
from ribwright.core.bench.requirement import Because, Reading, Requirement
from ribwright.core.bench.sheet import CAUTIONS, Setting, StageSheet, TrayItem, Trial, document_of_sheet

__all__ = [
    "CAUTIONS",
    "Because",
    "Finding",
    "Reading",
    "Requirement",
    "Setting",
    "StageSheet",
    "TrayItem",
    "Trial",
    "Verdict",
    "compare",
    "document_of_sheet",
    "verdict_codes",
    "worst",
]
