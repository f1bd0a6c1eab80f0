"""Lays out and cuts self-adhering waterproofing sheet for foundation walls.

A job file is read and checked (``job``), each run of faces is developed into one flat wall
(``faces``), drops are placed on it and shingled (``drops``), drops become pieces, with their
strips, collars and covers (``pieces``), pieces are cut from rolls (``rolls``), everything else is
counted and priced (``takeoff``), drawn (``drawing``), written as one packet (``packet``) and
audited by code that shares nothing with what it audits (``audit``). ``pipeline`` alone knows the
order; ``integrated`` is where drops and rolls are decided together. ``compare`` sets the plans of several
jobs side by side; for it alone ``courses`` lays the sheet level instead, and ``coursed`` cuts that.

Lengths inside are whole ticks: 1/16 in when a job is in inches, 1 mm when it is metric. Axes: x is
the station along a run from its start, to the right as seen from the soil side; y is up.
"""
