"""How large a job may be; beyond these the reader refuses, plainly, instead of running for ever."""

from __future__ import annotations

MAX_BYTES = 5_000_000
"""Largest job file [bytes]."""

MAX_LINES = 200_000
"""Most lines in a YAML file."""

MAX_LINE = 100_000
"""Longest line in a YAML file [characters]; JSON may stand on one line."""

MAX_DEPTH = 20
"""Deepest nesting of lists and mappings; a job needs eight."""

MAX_VALUES = 120_000
"""Most values in a file once its aliases are written out in full: more than a job within the limits below has, however
it is written, so that what is written of a job can be read again."""

MAX_RUNS = 100
MAX_FACES = 500
"""Most faces in a job, all runs together."""

MAX_FEATURES = 2_000
"""Most openings and sleeves in a job, together."""

MAX_FEATURES_A_FACE = 200
"""Most openings, and most sleeves, on one face."""

MAX_POINTS = 500
"""Most points in one profile."""

MAX_POINTS_TOGETHER = 20_000
"""Most points in all profiles of a job, level ends not counted, and low and high points together."""

MAX_ROLLS = 50
"""Most kinds of roll of one product."""

MAX_REMNANTS = 500
"""Most remnants of one product."""

MAX_LIST = 1_000
"""Most entries in any other list: lows, highs, holidays, alternates."""

MAX_DROPS = 2_500
"""Most drops that the runs may need at the sheet's own width, all runs together."""

MAX_PIECES = 5_000
"""Most pieces that these drops may be hung in."""

MAX_NAME = 120
"""Longest name or tag [characters]."""

MAX_FACE_LENGTH = "5280 ft"
"""Longest face: one mile."""

MIN_FACE_LENGTH = "1 in"
MIN_SLEEVE = "1/4 in"
MIN_SLOT = "1/2 in"
"""Less is no face, no pipe that a hole can be cut for, and no slot in a wall top; so much of a face lies past the
footings of its inside corners."""

MIN_HOLD = "1 1/4 in"
"""At a run's end past an outside corner where the ledge changes, the cover is held by no less."""

MAX_WALL_HEIGHT = "200 ft"
"""Greatest height of a wall top over its footing."""

MAX_ELEVATION = "30000 ft"
"""Elevations and stations lie within this of 0, so surveyed levels may be used as they are."""

MAX_SHEET_WIDTH = "20 ft"
MAX_ROLL_LENGTH = "2000 ft"
MAX_DETAIL = "20 ft"
"""Greatest lap, clearance, ledge, strip or sleeve."""

FIRST_YEAR, LAST_YEAR = 1900, 2999
"""Years of dates; the work and what follows it end before the calendar does."""

MAX_FAULTS = 1_000
"""Most faults listed; a file with more says how many more."""
