"""Weight, balance and rigging: from the first part on the kitchen scales to the finished aeroplane on three.

- :mod:`~ribwright.core.massprops.moments`: weight times arm, and the band of a centre of gravity.
- :mod:`~ribwright.core.massprops.weighing`: scales to empty weight and CG; usual errors by name.
- :mod:`~ribwright.core.massprops.buildup`: parts list to running weight, CG and forecast.
- :mod:`~ribwright.core.massprops.loading`: stations against the envelope, the worst case found exactly.
- :mod:`~ribwright.core.massprops.balance`: a control surface about its hinge.
- :mod:`~ribwright.core.massprops.rigging`: travels, twist by reversal, symmetry.
"""
