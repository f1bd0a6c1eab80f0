"""What a person asks of the drawings: paper, scale, layers, and which programs are to read the DXF."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from layout.errors import DrawingError

SCALES = (1, 2, 4, 5, 8, 10, 12, 16, 20, 24, 25, 32, 48, 50, 64, 96, 100, 128, 192, 200)
"""Scales that may be asked for: the architect's in inches, ISO 5455 and 1:25 in millimetres."""
DXF = "R2010"
"""The release of the format that is written unless another is asked for."""


@dataclass(frozen=True)
class DrawingOptions:
    """What a person asks of the drawings.

    Parameters
    ----------
    layers
        An office's mapping file for layers, or the name of one that comes along; None for the standard ones.
    paper
        Name of the paper of sheets and pages; empty for the usual ones of the job's unit.
    scale
        Of the elevations on sheets and pages, 48 for 1:48; 0 for the largest that needs the fewest sheets.
    dxf
        Release of the DXF.
    flat
        Tags as text, dimensions and hatches as lines, and each sheet as a file of its own.
    blocks
        Each face as a file of its own, to be inserted.
    """

    layers: Path | None = None
    paper: str = ""
    scale: int = 0
    dxf: str = DXF
    flat: bool = False
    blocks: bool = False


def read_scale(text: str) -> int:
    """Return a scale as a person writes it: 48, 1:48, 1/4" or 1/4" = 1'-0".

    Parameters
    ----------
    text
        The scale; empty is 0.

    Raises
    ------
    DrawingError
        When it is none of the standard scales.

    Examples
    --------
    >>> read_scale('1/4" = 1\'-0"'), read_scale("1:50"), read_scale("")
    (48, 50, 0)
    """
    plain = text.strip()
    if not plain:
        return 0
    whole = re.fullmatch(r"(?:1\s*:\s*)?(\d{1,4})", plain)
    if whole and int(whole[1]) in SCALES:
        return int(whole[1])
    inch = re.fullmatch(r"""(?:(\d+)[ -])?(\d+)(?:/(\d+))?\s*(?:in|")(?:\s*=\s*1\s*(?:ft|'(?:-0")?))?""", plain)
    if inch and int(inch[3] or 1):
        size = Fraction(int(inch[2]), int(inch[3] or 1)) + int(inch[1] or 0)
        if size and (12 / size).denominator == 1 and int(12 / size) in SCALES:
            return int(12 / size)
    raise DrawingError(f"scale must be a standard one such as 1:48, 1:50 or 1/4 in (got {text!r})")
