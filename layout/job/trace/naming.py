"""Which text names which wall, and which is the tag of an opening or a sleeve."""

from __future__ import annotations

import itertools
import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from layout.job.limits import MAX_NAME
from layout.job.trace.drawn import DrawnBox, DrawnWords
from layout.job.trace.joining import SLACK
from layout.job.trace.walls import Stand, DrawnWall
from layout.units import INCH, read_length

TAG = re.compile(r"[A-Za-z]{1,4}[-.]?\d{1,4}[A-Za-z]?")
TAG_REACH = (9.0, 192.0)
"""A tag stands within so many letter heights of what it names, or within so many ticks."""
TITLE_REACH = 1.25
"""A title stands on its wall, or within so many times the wall's height above or below it."""
FARTHER = 1.5
"""A title that is this many times as far from one wall as from another is for the nearer."""

_LEVEL = re.compile(
    r"(?:(?:t|top|b|bot|bott|bottom)[. /]*(?:o|of|/)[. /]*(?:w|wall|f|ftg|footing|s|slab|c|conc|concrete|p|pier)\b"
    r"|t/|b/|tow\b|tof\b|bof\b|tos\b|\b(?:el|elev|lvl|level|datum|f\.?\s?f\.?|ffe|inv|invert|gr|grade"
    r"|fin(?:ish(?:ed)?)?\.? ?(?:grade|floor|gr))\b\.?\s*(?:el(?:ev)?\.?)?\s*[:=@]?\s*[-+±]?\s*\d)"
    r"|\b(?:elevation|level)\b\s*[:=@]?\s*[-+±]?\s*(?:\d{3}|\d+[.'])"
    r"|^[-+±]?\s*\d[\d.,'\"/ -]*$", re.IGNORECASE)
_NOTE = re.compile(
    r"\b(?:not for|for (?:construction|approval|review|permit|bid|coordination)|do not|see |refer|verify|v\.?i\.?f|"
    r"n\.?t\.?s|not to scale|typ|typical|similar|sim|note|notes|scale|issued|preliminary|draft|revis\w*|drawn by|"
    r"checked|copyright|confidential|void|provide|install|slope|min\.|max\.|o\.?c\.?|u\.?n\.?o|contractor|"
    r"drawing|dwg|sheet|grade|footing|ftg)(?:\b|(?<=\.|\s))", re.IGNORECASE)
_SCALE = re.compile(r"\d\s*[\"']?\s*=\s*\d|^1\s*:\s*\d+$|\d\s*(?:['\"″′]|mm\b|cm\b|m\b|ft\b|in\b)")
"""A scale, or a length in the text."""


def is_name(text: str) -> bool:
    """Tell whether a text may name a wall: no length, level, scale or note.

    Examples
    --------
    >>> [is_name(text) for text in ("East wall", "NOT FOR CONSTRUCTION", "EL. 98.50", "T.O.W. 100'-0\\"", "12'-4")]
    [True, False, False, False, False]
    >>> [is_name(text) for text in ("ELEVATION 2", "South elevation", "ELEVATION 98.50", "Slab, EL. 94")]
    [True, True, False, False]
    """
    if not 0 < len(text) <= MAX_NAME or not any(letter.isalpha() for letter in text):
        return False
    if _LEVEL.search(text) or _NOTE.search(text) or _SCALE.search(text):
        return False
    try:
        read_length(text, INCH)
    except ValueError:
        return True
    return False


# --- tags --------------------------------------------------------------------------------------

def tags_beside(wall: DrawnWall, words: Sequence[DrawnWords]) -> tuple[dict[int, str], set[int]]:
    """Return the tags beside a wall's openings and sleeves, and which words they are.

    Parameters
    ----------
    wall
        The wall.
    words
        Words on it and around it.

    Returns
    -------
    dict of int to str
        Tag by number of the feature: the openings in order, then the sleeves.
    set of int
        Identities of the words that are tags.
    """
    boxes: list[DrawnBox] = [*(opening.box for opening in wall.openings), *(disc.box for disc in wall.sleeves)]
    pairs: list[tuple[float, float, int, int, str]] = []
    for number, word in enumerate(words):
        match = TAG.fullmatch(word.text.split()[0])
        if match:
            reach = max(TAG_REACH[0] * word.height, TAG_REACH[1])
            for feature, box in enumerate(boxes):
                apart = _apart(word, box)
                if apart <= reach:
                    middle = (box[0] + box[2]) / 2, (box[1] + box[3]) / 2
                    pairs.append((apart, math.dist(word.middle, middle), feature, number, match[0]))
    tags: dict[int, str] = {}
    used: set[int] = set()
    for _, _, feature, number, tag in sorted(pairs):
        if feature not in tags and number not in used:
            tags[feature] = tag
            used.add(number)
    return tags, {id(words[number]) for number in used}


def _apart(word: DrawnWords, box: DrawnBox) -> float:
    """Return the distance from a text to a box."""
    (x, y) = word.middle
    return math.hypot(max(box[0] - x, x - box[2], 0.0), max(box[1] - y, y - box[3], 0.0))


def tagged(tags: Sequence[str], is_sleeve: Sequence[bool]) -> list[str]:
    """Return tags unlike one another; an opening without one is W1, W2, …, a sleeve P1, P2, …."""
    windows, pipes = (f"W{number}" for number in itertools.count(1)), (f"P{number}" for number in itertools.count(1))
    openings = [tag for tag, sleeve in zip(tags, is_sleeve) if not sleeve]
    sleeves = [tag for tag, sleeve in zip(tags, is_sleeve) if sleeve]
    kept = unlike([tag for tag in [*openings, *sleeves] if tag], iter(()))
    free = set(kept)
    fresh = {False: (tag for tag in windows if tag not in free), True: (tag for tag in pipes if tag not in free)}
    given = iter(kept)
    made = [next(given) if tag else next(fresh[False]) for tag in openings]
    other = iter([next(given) if tag else next(fresh[True]) for tag in sleeves])
    first = iter(made)
    return [next(other) if sleeve else next(first) for sleeve in is_sleeve]


def unlike(names: Sequence[str], others: Iterator[str]) -> list[str]:
    """Return names made unlike one another: later ones get -2, -3; empty ones are taken from ``others``."""
    taken = {name for name in names if name}
    seen: set[str] = set()
    made: list[str] = []
    for name in names:
        if not name:
            name = next(other for other in others if other not in taken)
        elif name in seen:
            name = next(f"{name}-{number}" for number in range(2, len(names) + 2)
                        if f"{name}-{number}" not in taken | seen)
        seen.add(name)
        taken.add(name)
        made.append(name)
    return made


# --- titles ------------------------------------------------------------------------------------

def words_near(stand: Stand, words: Iterable[DrawnWords]) -> dict[int, list[DrawnWords]]:
    """Return the words on each wall, and those above and below it within TITLE_REACH, by the wall's identity."""
    found: dict[int, list[DrawnWords]] = {}
    for word in words:
        x, y = word.middle
        for wall in stand.over((x, y, x, y), reach=TITLE_REACH):
            if wall.left - SLACK <= x <= wall.right + SLACK:
                found.setdefault(id(wall), []).append(word)
    return found


@dataclass(frozen=True)
class Titles:
    """The text that names each wall, by the wall's identity, and texts that might name more than one."""

    of: dict[int, DrawnWords]
    doubtful: list[DrawnWords]


def titles_of(stand: Stand, near: dict[int, list[DrawnWords]], tags: set[int]) -> Titles:
    """Return which text names which wall.

    Parameters
    ----------
    stand
        The walls.
    near
        Words by wall.
    tags
        Identities of the words that are tags.

    Notes
    -----
    A drawing has its titles on the walls and above them, or on them and below: the way that names most walls is taken,
    then the one with most texts, with the larger letters, with titles that stand nearer. A text names one wall. Where
    nothing tells the ways apart none of their texts is taken, and that is told.
    """
    walls = list(stand.walls)
    pairs = [(wall, word) for wall in walls for word in near.get(id(wall), ())
             if id(word) not in tags and is_name(word.text)]
    above, below = (_one_each([(wall, word) for wall, word in pairs if _side(wall, word) in (side, 0)])
                    for side in (1, -1))
    for told in (_walls_told, _largest):
        if told(above) != told(below):
            return Titles(max(above, below, key=told), [])
    far_above, far_below = (sum(_distance(wall, way[id(wall)]) for wall in walls if id(wall) in way)
                            for way in (above, below))
    if above == below or far_above * FARTHER < far_below:
        return Titles(above, [])
    if far_below * FARTHER < far_above:
        return Titles(below, [])
    doubtful = [word for way, other in ((above, below), (below, above)) for key, word in way.items()
                if other.get(key) is not word]
    return Titles({key: word for key, word in above.items() if below.get(key) is word}, doubtful)


def _walls_told(way: dict[int, DrawnWords]) -> tuple[int, int]:
    """Return how many walls a way names, and with how many texts unlike one another."""
    return len(way), len({word.text for word in way.values()})


def _largest(way: dict[int, DrawnWords]) -> float:
    """Return the height of the letters of a way's smallest title."""
    return round(min((word.height for word in way.values()), default=0.0), 1)


def _side(wall: DrawnWall, word: DrawnWords) -> int:
    """Return 1 for a text above a wall, -1 for one below it, 0 for one on it."""
    y = word.middle[1]
    return 1 if y > wall.box[3] else -1 if y < wall.box[1] - (wall.depth or 0.0) else 0


def _distance(wall: DrawnWall, word: DrawnWords) -> float:
    return max(word.middle[1] - wall.box[3], wall.box[1] - word.middle[1], 0.0)


def _one_each(pairs: Sequence[tuple[DrawnWall, DrawnWords]]) -> dict[int, DrawnWords]:
    """Return a text for each wall, the largest first, then the nearest to its middle; a text names the nearest wall."""
    nearest: dict[int, DrawnWall] = {}
    for wall, word in pairs:
        other = nearest.get(id(word))
        if other is None or _distance(wall, word) < _distance(other, word):
            nearest[id(word)] = wall
    best: dict[int, DrawnWords] = {}
    for wall, word in pairs:
        if nearest[id(word)] is wall:
            held = best.get(id(wall))
            if held is None or _rank(wall, word) < _rank(wall, held):
                best[id(wall)] = word
    return best


def _rank(wall: DrawnWall, word: DrawnWords) -> tuple[float, float, float, float]:
    middle = (wall.left + wall.right) / 2
    return -round(word.height, 3), _distance(wall, word), -word.middle[1], abs(word.middle[0] - middle)


def face_names(given: Sequence[str]) -> tuple[list[str], bool]:
    """Return names of a row's faces, and whether a name given to several of them was taken from all."""
    counts = Counter(given)
    names = [name if counts[name] == 1 else "" for name in given]
    return unlike(names, (f"Face {number}" for number in itertools.count(1))), \
        any(counts[name] > 1 for name in given if name)
