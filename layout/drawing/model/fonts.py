"""How wide text is: the advance widths of DejaVu Sans, the face the PDF embeds.

The table stands here so that labels are placed the same way wherever a plan is made; a test compares it with
the font file. Arial and Helvetica, which a CAD program may put in its place, are narrower.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache

from layout.drawing.model.entities import AlignAcross, Box, AlignUp, Vec

EM = 2048
"""Font units in one em."""
CAP = 1493
"""Height of capitals [font units]."""
DESCENT = 0.33
"""How far the lowest letters hang below the line, in heights of capitals."""

_ASCII = (
    651, 821, 942, 1716, 1303, 1946, 1597, 563, 799, 799, 1024, 1716, 651, 739, 651, 690, 1303, 1303, 1303, 1303,
    1303, 1303, 1303, 1303, 1303, 1303, 690, 690, 1716, 1716, 1716, 1087, 2048, 1401, 1405, 1430, 1577, 1294,
    1178, 1587, 1540, 604, 604, 1343, 1141, 1767, 1532, 1612, 1235, 1612, 1423, 1300, 1251, 1499, 1401, 2025,
    1403, 1251, 1403, 799, 690, 799, 1716, 1024, 1024, 1255, 1300, 1126, 1300, 1260, 721, 1300, 1298, 569, 569,
    1186, 569, 1995, 1298, 1253, 1300, 1300, 842, 1067, 803, 1298, 1212, 1675, 1212, 1212, 1075, 1303, 690, 1303,
    1716,
)
_LATIN = (
    651, 821, 1303, 1303, 1303, 1303, 690, 1024, 1024, 2048, 965, 1253, 1716, 739, 2048, 1024, 1024, 1716, 821,
    821, 1024, 1303, 1303, 651, 1024, 821, 965, 1253, 1985, 1985, 1985, 1087, 1401, 1401, 1401, 1401, 1401, 1401,
    1995, 1430, 1294, 1294, 1294, 1294, 604, 604, 604, 604, 1587, 1532, 1612, 1612, 1612, 1612, 1612, 1716, 1612,
    1499, 1499, 1499, 1499, 1251, 1239, 1290, 1255, 1255, 1255, 1255, 1255, 1255, 2011, 1126, 1260, 1260, 1260,
    1260, 569, 569, 569, 569, 1253, 1298, 1253, 1253, 1253, 1253, 1253, 1716, 1253, 1298, 1298, 1298, 1298, 1212,
    1300, 1212,
)
_BOLD_ASCII = (
    713, 934, 1067, 1716, 1425, 2052, 1786, 627, 936, 936, 1071, 1716, 778, 850, 778, 748, 1425, 1425, 1425, 1425,
    1425, 1425, 1425, 1425, 1425, 1425, 819, 819, 1716, 1716, 1716, 1188, 2048, 1585, 1561, 1503, 1700, 1399,
    1399, 1681, 1714, 762, 762, 1587, 1305, 2038, 1714, 1741, 1501, 1741, 1577, 1475, 1397, 1663, 1585, 2259,
    1579, 1483, 1485, 936, 748, 936, 1716, 1024, 1024, 1382, 1466, 1214, 1466, 1389, 891, 1466, 1458, 702, 702,
    1362, 702, 2134, 1458, 1407, 1466, 1466, 1010, 1219, 979, 1458, 1335, 1892, 1321, 1335, 1192, 1458, 748, 1458,
    1716,
)
_BOLD_LATIN = (
    713, 934, 1425, 1425, 1303, 1425, 748, 1024, 1024, 2048, 1155, 1323, 1716, 850, 2048, 1024, 1024, 1716, 897,
    897, 1024, 1507, 1303, 778, 1024, 897, 1155, 1323, 2120, 2120, 2120, 1188, 1585, 1585, 1585, 1585, 1585, 1585,
    2222, 1503, 1399, 1399, 1399, 1399, 762, 762, 762, 762, 1716, 1714, 1741, 1741, 1741, 1741, 1741, 1716, 1741,
    1663, 1663, 1663, 1663, 1483, 1511, 1473, 1382, 1382, 1382, 1382, 1382, 1382, 2146, 1214, 1389, 1389, 1389,
    1389, 702, 702, 702, 702, 1407, 1458, 1407, 1407, 1407, 1407, 1407, 1716, 1407, 1458, 1458, 1458, 1458, 1335,
    1466, 1335,
)


def _table(ascii_: Sequence[int], latin: Sequence[int], others: Mapping[int, int]) -> dict[int, int]:
    """Return advances by character code."""
    return dict(enumerate(ascii_, start=32)) | dict(enumerate(latin, start=160)) | dict(others)


WIDTHS = {
    False: _table(_ASCII, _LATIN, {
        0x2013: 1024, 0x2014: 2048, 0x2018: 651, 0x2019: 651, 0x201c: 1061, 0x201d: 1061, 0x2022: 1208, 0x2026: 2048,
        0x2032: 465, 0x2033: 765, 0x2190: 1716, 0x2192: 1716, 0x2264: 1716, 0x2265: 1716,
    }),
    True: _table(_BOLD_ASCII, _BOLD_LATIN, {
        0x2013: 1024, 0x2014: 2048, 0x2018: 778, 0x2019: 778, 0x201c: 1346, 0x201d: 1346, 0x2022: 1309, 0x2026: 2048,
        0x2032: 540, 0x2033: 915, 0x2190: 1716, 0x2192: 1716, 0x2264: 1716, 0x2265: 1716,
    }),
}
"""Advance of each character [font units], plain and bold; one that is not listed counts as a whole em."""


def width(text: str, height: float, *, strong: bool = False) -> float:
    """Return how wide a line of text is.

    Parameters
    ----------
    text
        The line.
    height
        Height of its capitals [any unit].
    strong
        Set in the bold face.

    Returns
    -------
    float
        Width [the unit of ``height``].

    Examples
    --------
    >>> round(width("A-01", 3.0), 2)
    9.54
    """
    return _advance(text, strong) * height / CAP


@lru_cache(maxsize=10_000)
def _advance(text: str, strong: bool) -> int:
    """Return how wide a line of text is [font units]."""
    table = WIDTHS[strong]
    return sum(table.get(ord(character), EM) for character in text)


def text_box(
    at: Vec, text: str, height: float, *, across: AlignAcross = "left", up: AlignUp = "base", turned: bool = False,
    strong: bool = False,
) -> Box:
    """Return the box a line of text takes, descenders included.

    Parameters
    ----------
    at
        Anchor.
    text
        The line.
    height
        Height of its capitals, in the unit of ``at``.
    across, up
        What of the text lies at the anchor.
    turned
        Reads upward.
    strong
        Bold.

    Returns
    -------
    Box
        In the unit of ``at``.
    """
    wide = width(text, height, strong=strong)
    left = {"left": 0.0, "centre": -wide / 2, "right": -wide}[across]
    base = {"base": 0.0, "middle": -height / 2, "top": -height}[up]
    box = Box(left, base - DESCENT * height, left + wide, base + height)
    if turned:
        box = Box(-box.top, box.left, -box.bottom, box.right)
    return box.moved(at)


def shortened(text: str, height: float, room: float, *, strong: bool = False) -> str:
    """Return the text, cut and ended by … where it is wider than the room for it.

    Parameters
    ----------
    text
        The line.
    height
        Height of its capitals.
    room
        Widest allowed, in the unit of ``height``.
    strong
        Bold.
    """
    if width(text, height, strong=strong) <= room:
        return text
    while text and width(text + "…", height, strong=strong) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def abridged(text: str, height: float, room: float, *, strong: bool = False) -> str:
    """Return the text, with … in the place of its middle where it is wider than the room: a tag's number is at its end.

    Parameters
    ----------
    text
        The line.
    height
        Height of its capitals.
    room
        Widest allowed, in the unit of ``height``.
    strong
        Bold.

    Examples
    --------
    >>> abridged("Foundation wall of the north building-07", 2.5, 40.0)
    'Foundatio…uilding-07'
    """
    if width(text, height, strong=strong) <= room:
        return text
    kept = len(text)
    while kept:
        kept -= 1
        made = f"{text[:kept // 2].rstrip()}…{text[len(text) - (kept + 1) // 2:].lstrip()}"
        if width(made, height, strong=strong) <= room:
            return made
    return "…"


def wrapped(text: str, height: float, room: float, *, strong: bool = False) -> list[str]:
    """Return the text as lines no wider than the room, broken between words, and within a word wider than the room.

    Parameters
    ----------
    text
        One paragraph.
    height
        Height of its capitals.
    room
        Widest line, in the unit of ``height``; a single letter wider than it is a line all the same.
    strong
        Bold.
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and width(longer, height, strong=strong) > room:
            lines.append(line)
            longer = word
        line = ""
        for part in (longer,) if width(longer, height, strong=strong) <= room else longer:
            if line and width(line + part, height, strong=strong) > room:
                lines.append(line)
                line = ""
            line += part
    return [*lines, line]
