"""Fastening: which fastener, how long, which hole, where, how strong, and what to do when it went wrong.

Choosing
- :mod:`~ribwright.core.fastening.rivets`: part numbers of the public standards, read and written
- :mod:`~ribwright.core.fastening.identify`: three caliper numbers and a head mark give the part number
- :mod:`~ribwright.core.fastening.length`: the length of a solid rivet and the head it forms
- :mod:`~ribwright.core.fastening.holes`: drill by stage; dimple, countersink or neither for each layer
- :mod:`~ribwright.core.fastening.choice`: rivet and holes of a seam, called out or worked out
- :mod:`~ribwright.core.fastening.bolts`: AN3 to AN8, washers, torque

Laying out
- :mod:`~ribwright.core.fastening.spacing`, :mod:`~ribwright.core.fastening.row`: edge distance, pitch, a straight row
- :mod:`~ribwright.core.fastening.layout`: rows and fans along curves, kept clear of what is there
- :mod:`~ribwright.core.fastening.one_shot`: the zone of a hole that is drilled once

Whole seams
- :mod:`~ribwright.core.fastening.seam` (with ``seam_spec``, ``seam_sheets``, ``seam_picture``): solid rivets
- :mod:`~ribwright.core.fastening.wedge` (with ``double_flush``, ``wedge_sheets``): trailing-edge wedge, flush on both sides
- :mod:`~ribwright.core.fastening.pull_rivets` (with ``pull_rivet_sheets``): pull-type rivets from the supplier's data sheet
- :mod:`~ribwright.core.fastening.batch`: all seams of an aeroplane at once

Strength
- :mod:`~ribwright.core.fastening.strength`: the formulas
- :mod:`~ribwright.core.fastening.joint`: modes of a joint, as built against as drawn
- :mod:`~ribwright.core.fastening.groups`, :mod:`~ribwright.core.fastening.row_loads`, :mod:`~ribwright.core.fastening.buckling`

Mending and checking
- :mod:`~ribwright.core.fastening.mistakes` (with ``mistake_spec``, ``ruling``, ``question``)
- :mod:`~ribwright.core.fastening.splice`, :mod:`~ribwright.core.fastening.patch`
- :mod:`~ribwright.core.fastening.heads`, :mod:`~ribwright.core.fastening.row_check`, :mod:`~ribwright.core.fastening.straightness`
- :mod:`~ribwright.core.fastening.driven_row`: a model of driving, taught and not obeyed
- :mod:`~ribwright.core.fastening.hardware`: what to buy, what to lay out, what the same set-up does tonight
"""
