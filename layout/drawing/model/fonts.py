"""How wide text is: the advance widths of DejaVu Sans, the face the PDF embeds.

The table stands here so that labels are placed the same way wherever a plan is made; a test compares it with
the font file. Arial and Helvetica, which a CAD program may put in its place, are narrower.
"""

from __future__ import annotations

from layout.drawing.model.entities import Across, Box, Up, Vec

EM = 2048
"""Font units in one em."""
CAP = 1493
"""Height of capitals [font units]."""
DESCENT = 0.33
"""How far the lowest letters hang below the line, in heights of capitals."""

_ASCII = (
    651, 821, 942, 1716, 1303, 1946, 1597, 563, 799, 799, 1024, 1716, 651, 739, 651, 690, 1303, 1303, 1303, 1303,
    1303, 1303, 1303, 1303, 1303, 1303, 690, 690, 1716, 1716, 1716, 1087, 2048, 1401, 1405, 1430, 1577, 1294, 1178,
    1587, 1540, 604, 604, 1343, 1141, 1767, 1532, 1612, 1235, 1612, 1423, 1300, 1251, 1499, 1401, 2025, 1403, 1251,
    1403, 799, 690, 799, 1716, 1024, 1024, 1255, 1300, 1126, 1300, 1260, 721, 1300, 1298, 569, 569, 1186, 569, 1995,
    1298, 1253, 1300, 1300, 842, 1067, 803, 1298, 1212, 1675, 1212, 1212, 1075, 1303, 690, 1303, 1716,
)
_LATIN = (
    651, 821, 1303, 1303, 1303, 1303, 690, 1024, 1024, 2048, 965, 1253, 1716, 739, 2048, 1024, 1024, 1716, 821, 821,
    1024, 1303, 1303, 651, 1024, 821, 965, 1253, 1985, 1985, 1985, 1087, 1401, 1401, 1401, 1401, 1401, 1401, 1995,
    1430, 1294, 1294, 1294, 1294, 604, 604, 604, 604, 1587, 1532, 1612, 1612, 1612, 1612, 1612, 1716, 1612, 1499,
    1499, 1499, 1499, 1251, 1239, 1290, 1255, 1255, 1255, 1255, 1255, 1255, 2011, 1126, 1260, 1260, 1260, 1260, 569,
    569, 569, 569, 1253, 1298, 1253, 1253, 1253, 1253, 1253, 1716, 1253, 1298, 1298, 1298, 1298, 1212, 1300, 1212,
)
WIDTHS = {32 + n: width for n, width in enumerate(_ASCII)} | {160 + n: width for n, width in enumerate(_LATIN)} | {
    0x2013: 1024, 0x2014: 2048, 0x2018: 651, 0x2019: 651, 0x201c: 1061, 0x201d: 1061, 0x2022: 1208, 0x2026: 2048,
    0x2032: 465, 0x2033: 765, 0x2190: 1716, 0x2192: 1716, 0x2264: 1716, 0x2265: 1716,
}
"""Advance of each character [font units]; one that is not listed counts as a whole em, which none exceeds by much."""


def width(text: str, height: float, *, strong: bool = False) -> float:
    """Return how wide a line of text is.

    Parameters
    ----------
    text
        The line.
    height
        Height of its capitals [any unit].
    strong
        Set in the bold face, which is up to 12 % wider.

    Returns
    -------
    float
        Width [the unit of ``height``].

    Examples
    --------
    >>> round(width("A-01", 3.0), 2)
    9.42
    """
    units = sum(WIDTHS.get(ord(character), EM) for character in text)
    return units * height / CAP * (1.12 if strong else 1.0)


def text_box(
    at: Vec, text: str, height: float, *, across: Across = "left", up: Up = "base", turned: bool = False,
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


def shortened(text: str, height: float, room: float) -> str:
    """Return the text, cut and ended by … where it is wider than the room for it.

    Parameters
    ----------
    text
        The line.
    height
        Height of its capitals.
    room
        Widest allowed, in the unit of ``height``.
    """
    if width(text, height) <= room:
        return text
    while text and width(text + "…", height) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def wrapped(text: str, height: float, room: float) -> list[str]:
    """Return the text as lines no wider than the room, broken between words.

    Parameters
    ----------
    text
        One paragraph.
    height
        Height of its capitals.
    room
        Widest line, in the unit of ``height``.
    """
    lines: list[str] = []
    line = ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if line and width(longer, height) > room:
            lines.append(line)
            line = word
        else:
            line = longer
    lines.append(line)
    return [shortened(each, height, room) for each in lines]
