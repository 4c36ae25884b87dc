"""Fastening: which rivet, how long, which hole, where, how strong, and what to do when it went wrong.

- :mod:`~ribwright.core.fastening.rivets`: part numbers of the public standards, read and written
- :mod:`~ribwright.core.fastening.length`: the length of a solid rivet and the head it forms
- :mod:`~ribwright.core.fastening.holes`: drill by stage; dimple, countersink or neither for each layer
- :mod:`~ribwright.core.fastening.spacing`: edge distance, pitch, and the row laid out
- :mod:`~ribwright.core.fastening.strength`: shear, bearing, thin sheet, splices
- :mod:`~ribwright.core.fastening.heads`: formed heads judged, and rivets replaced
- :mod:`~ribwright.core.fastening.seam`: one seam from drawing data to worksheet, sheets and picture
"""
