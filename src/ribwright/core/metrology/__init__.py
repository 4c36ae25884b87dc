"""Photo metrology: arrays in, millimetres out.

A printed gauge sheet (a chessboard with numbered markers) in the picture turns an ordinary phone
photo into a measurement. The modules, from the bottom:

- ``layout``: what is printed on a gauge sheet, and what the builder typed beside the photo;
- ``sighting``: the sheet found in the picture (markers, then chess corners to a fraction of a pixel);
- ``camera``: one-photo calibration with priors, and its covariance;
- ``trace``: the end of a sheet followed along a target as a matched pair of edges;
- ``profile``, ``rivet_row``, ``straightness``, ``template_in``: what is measured with it;
- ``gauge_sheet``: new sheets for a given target and paper;
- ``overlay``: the picture people can check; ``profile_overlay``, ``row_overlay``: what is drawn on it.

Nothing here decodes a file, and nothing here sees a known answer.
"""
