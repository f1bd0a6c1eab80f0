"""Which layer means what: by words in its name, or as the drafter says."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from layout.errors import Fault
from layout.job.tree import show

WORDS: dict[str, frozenset[str]] = {
    "window": frozenset(("WINDOW", "WINDOWS", "GLAZ")),
    "door": frozenset(("DOOR", "DOORS")),
    "vent": frozenset(("VENT", "VENTS", "LOUVER", "LOUVERS", "LOUVRE", "LOUVRES")),
    "opening": frozenset(("OPENING", "OPENINGS", "OPNG", "OPNGS")),
    "sleeve": frozenset(("SLEEVE", "SLEEVES", "SLV", "PIPE", "PIPES", "PENETRATION", "PENETRATIONS", "PENE")),
    "datum": frozenset(("DATUM",)),
    "grade": frozenset(("GRADE", "GRADES", "GRAD", "GRADING")),
    "footing": frozenset(("FOOTING", "FOOTINGS", "FTG", "FTGS", "FTNG")),
    "wall": frozenset(("WALL", "WALLS")),
    "foundation": frozenset(("FNDN", "FOUNDATION", "FOUNDATIONS")),
}
"""What a layer is for, by a word of its name; the first in this order decides where a name has several."""

NOTES = frozenset((
    "ANNO", "TEXT", "TEXTS", "DIM", "DIMS", "DIMENSION", "DIMENSIONS", "NOTE", "NOTES", "PATT", "HATCH", "HATCHING",
    "IDEN", "SYMB", "TAG", "TAGS", "TITLE", "TTLB", "NPLT",
))
"""Words of layers that hold notes and hatching, whatever else is in their names."""

OPENINGS = ("window", "door", "vent", "opening")
ROLES = ("wall", "footing", "grade", *OPENINGS, "sleeve", "datum", "none")
"""What ``--as`` may name; ``none`` is a layer that is to be passed over."""

STATUS = {"A": "abandoned", "D": "to be demolished", "E": "existing", "F": "future", "M": "to be moved",
          "T": "temporary", "X": "not in contract"}
"""What is not new work, by the status field of a layer name (US National CAD Standard, layer guidelines, status codes;
from memory). N is new work; 1 to 9 are phases."""
STATUS_WORDS = {
    **dict.fromkeys(("DEMO", "DEMOLISH", "DEMOLISHED", "DEMOLITION"), "to be demolished"),
    **dict.fromkeys(("EXST", "EXIST", "EXISTING", "EXTG"), "existing"), "FUTURE": "future", "FUTR": "future",
    "TEMP": "temporary", "TEMPORARY": "temporary", "NIC": "not in contract", "ABANDONED": "abandoned",
}
"""The same, by words that offices use."""

_PARTS = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+")
_STANDARD = re.compile(r"[A-Z]{1,2}-[A-Z0-9]{4}(?:-[A-Z0-9]{4}){0,2}-([A-Z])")
_FROM_FILE = re.compile(r".*\||.*\$\d+\$", re.DOTALL)
"""What stands before the name of a layer that came with a reference."""


def role_of(layer: str) -> str:
    """Return what a layer is for by its name alone; empty when no word of it is known.

    Examples
    --------
    >>> role_of("Z-WALL-OTLN-N"), role_of("A-Wall-Window"), role_of("S-FNDN"), role_of("WALL-DIMS"), role_of("DRYWALL")
    ('wall', 'window', 'footing', '', '')
    """
    words = _words(layer)
    if words & NOTES:
        return ""
    for role, known in WORDS.items():
        if words & known:
            return "footing" if role == "foundation" else role
    return ""


def _words(layer: str) -> set[str]:
    return {part.upper() for part in _PARTS.findall(own_name(layer))}


def own_name(layer: str) -> str:
    """Return a layer's name without that of the file it came from.

    Examples
    --------
    >>> own_name("WALLS|C-TREE"), own_name("Base$0$A-WALL")
    ('C-TREE', 'A-WALL')
    """
    return _FROM_FILE.sub("", layer)


def status_of(layer: str) -> str:
    """Return what a layer is for when that is not new work; empty when nothing says so.

    Examples
    --------
    >>> status_of("A-WALL-D"), status_of("A-WALL-DEMO"), status_of("A-WALL-N"), status_of("WALL-E")
    ('to be demolished', 'to be demolished', '', '')
    """
    words = _words(layer)
    for word, status in STATUS_WORDS.items():
        if word in words:
            return status
    match = _STANDARD.fullmatch(own_name(layer).upper())
    return STATUS.get(match[1], "") if match else ""


@dataclass(frozen=True)
class Roles:
    """What each layer is for.

    Parameters
    ----------
    told
        Layers the drafter named, in capitals, with what each is for.
    """

    told: Mapping[str, str]

    def of(self, layer: str) -> str:
        """Return what a layer is for; empty when it is for nothing that is read."""
        told = self.told.get(layer.upper())
        if told is not None:
            return "" if told == "none" else told
        role = role_of(layer)
        return "" if role in self.told.values() else role


def read_roles(given: Sequence[str]) -> tuple[Roles, list[Fault]]:
    """Return what the drafter says of layers, such as ``wall=A-CONC``, with the faults in it.

    Notes
    -----
    What is named so is read from the layers named only, no longer by words.
    """
    told: dict[str, str] = {}
    faults: list[Fault] = []
    for text in given:
        role, equals, layer = text.partition("=")
        role, layer = role.strip().lower(), layer.strip()
        if not equals or role not in ROLES or not layer:
            faults.append(Fault(0, "--as", f"must be a word and a layer, such as wall=A-CONC, the word one of "
                                f"{', '.join(ROLES)}", show(text)))
        elif told.get(layer.upper(), role) != role:
            faults.append(Fault(0, "--as", "must name a layer once", show(text)))
        else:
            told[layer.upper()] = role
    return Roles(told), faults
