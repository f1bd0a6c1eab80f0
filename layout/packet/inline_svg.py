"""Drawings made fit to stand inside the phone packet's page.

A page with a strict content-security policy takes no style attribute and no foreign id, so each drawing is read as
XML and written again: only shapes and text are kept, ids get the drawing's own prefix, styles become classes.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from layout.errors import DrawingError
from layout.paths import short_path

_SVG = "{http://www.w3.org/2000/svg}"
_ELEMENTS = {
    "svg", "g", "title", "desc", "defs", "path", "line", "polyline", "polygon", "rect", "circle", "ellipse", "text",
    "tspan", "pattern", "clipPath", "marker", "use", "symbol",
}
_ATTRIBUTES = {
    "id", "class", "d", "points", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "rx", "ry", "dx", "dy", "width",
    "height", "viewBox", "transform", "fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-dasharray",
    "stroke-linejoin", "stroke-linecap", "stroke-opacity", "opacity", "font-size", "font-family", "font-weight",
    "font-style", "text-anchor", "dominant-baseline", "textLength", "lengthAdjust", "patternUnits", "patternTransform",
    "patternContentUnits", "clip-path", "clip-rule", "clipPathUnits", "marker-start", "marker-end", "marker-mid",
    "markerWidth", "markerHeight", "markerUnits", "refX", "refY", "orient", "preserveAspectRatio", "href",
}
_COORDINATES = {"d", "points", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "width", "height", "transform",
                "textLength", "font-size"}
_SHARED = ("font-size", "font-weight", "text-anchor")
"""Attributes of letters that many texts have alike: they become classes, before the drawings' own rules."""
_DECIMAL = re.compile(r"-?\d*\.\d+")
_NUMBER = re.compile(r"-?\d*\.?\d+")
_OTHER_STEP = re.compile(r"[A-KN-Ya-z]")
"""A step of a path that is no straight line from point to point."""
_RULE = re.compile(r"\s*\.([A-Za-z][\w-]*)\s*\{([^{}]*)\}")
_UNITS = {"in": 96.0, "mm": 96 / 25.4, "cm": 96 / 2.54, "pt": 96 / 72, "px": 1.0, "": 1.0}


@dataclass(frozen=True)
class Inlined:
    """A drawing for the page, and the piece tags it shows."""

    name: str
    title: str
    markup: str
    pieces: tuple[str, ...]


class Inliner:
    """Takes drawings one by one; ``css`` then holds the rules that all of them need.

    Parameters
    ----------
    tags
        The plan's piece tags, to know which group of a drawing is which piece.
    """

    def __init__(self, tags: Sequence[str]) -> None:
        self._by_id = {"piece-" + re.sub(r"\s+", "_", tag): tag for tag in tags}
        self._letters: dict[str, str] = {}
        self._rules: dict[str, str] = {}
        self._styles: dict[str, str] = {}
        self._count = 0
        self._digits = 1

    @property
    def css(self) -> str:
        """The style rules of the drawings taken so far."""
        lines = [f".{name}{{{body}}}" for body, name in self._letters.items()]
        lines += [f".{name}{{{body}}}" for name, body in self._rules.items()]
        lines += [f".{name}{{{body}}}" for body, name in self._styles.items()]
        return "\n".join(lines)

    def take(self, name: str, text: str) -> Inlined:
        """Return a drawing for the page.

        Parameters
        ----------
        name
            The drawing's file, for messages.
        text
            The SVG document.

        Raises
        ------
        DrawingError
            When the text is no SVG.
        """
        try:
            root = ET.fromstring(text)
        except ET.ParseError as error:
            raise DrawingError(f"{name} is not SVG: {error}") from None
        if root.tag != f"{_SVG}svg":
            raise DrawingError(f"{name} is not SVG: its root is {root.tag}")
        self._count += 1
        self._digits = 2 if root.get("width", "").endswith("mm") else 1  # a user unit is a millimetre, or 1/96 in
        prefix = f"d{self._count}-"
        renamed = self._take_rules(root, prefix)
        found: dict[str, None] = {}
        kept = self._kept(root, prefix, renamed, found)
        title = next((child.text or "" for child in root if child.tag == f"{_SVG}title"), name)
        _size(kept, root)
        kept.set("role", "group")
        kept.set("aria-label", title)
        return Inlined(name, title, ET.tostring(kept, encoding="unicode"), tuple(found))

    def _take_rules(self, root: ET.Element, prefix: str) -> dict[str, str]:
        """Collect the drawing's class rules; one that differs from another drawing's gets a name of its own."""
        renamed: dict[str, str] = {}
        for style in root.iter(f"{_SVG}style"):
            for name, body in _RULE.findall(style.text or ""):
                rule = _declarations(body)
                if self._rules.setdefault(name, rule) != rule:
                    renamed[name] = prefix + name
                    self._rules[prefix + name] = rule
        return renamed

    def _kept(self, element: ET.Element, prefix: str, renamed: Mapping[str, str],
              found: dict[str, None]) -> ET.Element:
        """Return an element of the page with what may stand in it."""
        copy = ET.Element(element.tag.removeprefix(_SVG))
        classes = [renamed.get(name, name) for name in element.get("class", "").split()]
        for key, value in element.attrib.items():
            local = key.rpartition("}")[2]
            if local not in _ATTRIBUTES or local == "class":
                continue
            if local == "href" and not value.startswith("#"):
                continue
            if local in _SHARED:
                continue
            if local == "d":
                value = _short_path(value, self._digits)
            elif local in _COORDINATES:
                value = _short(value, self._digits)
            copy.set(local, _pointed(prefix + value if local == "id" else value, prefix, local))
        letters = _declarations(";".join(
            f"{key}:{element.get(key)}" + ("px" if key == "font-size" and element.get(key, "")[-1:].isdigit() else "")
            for key in _SHARED if element.get(key)))
        if letters:
            classes.append(self._letters.setdefault(letters, f"lw-f{len(self._letters) + 1}"))
        if element.get("style"):
            body = _declarations(element.get("style", ""))
            classes.append(self._styles.setdefault(body, f"lw-s{len(self._styles) + 1}"))
        tag = self._piece(element)
        if tag is not None:
            found[tag] = None
            copy.attrib.pop("id", None)
            copy.set("data-piece", tag)
            copy.set("role", "button")
            copy.set("tabindex", "-1")
            classes.append("piece")
        if classes:
            copy.set("class", " ".join(classes))
        copy.text, copy.tail = element.text, element.tail
        for child in element:
            if isinstance(child.tag, str) and child.tag.removeprefix(_SVG) in _ELEMENTS:
                copy.append(self._kept(child, prefix, renamed, found))
        if tag is not None and not any(child.tag == "title" and child.text for child in copy):
            copy.set("aria-label", tag)
        return copy

    def _piece(self, element: ET.Element) -> str | None:
        """Return the tag of the piece that a group is; a second part of a piece has a number after its id."""
        name = element.get("id", "")
        if name in self._by_id:
            return self._by_id[name]
        base, dot, number = name.rpartition(".")
        return self._by_id.get(base) if dot and number.isdigit() else None


def _short(value: str, digits: int) -> str:
    """Return coordinates with as many digits as a screen shows, so that the page stays small."""
    if "." not in value:
        return value
    return _DECIMAL.sub(lambda match: f"{float(match[0]):.{digits}f}".rstrip("0").rstrip("."), value)


def _short_path(path: str, digits: int) -> str:
    """Return a path of straight lines in steps from point to point, as short as it can be said; others as they are.

    Examples
    --------
    >>> _short_path("M10,20.04L30,20L30,25Z M1.5,2L2,3", 1)
    'm10 20h20v5zm-8.5-18 .5 1'
    """
    if not path.startswith("M") or _OTHER_STEP.search(path):
        return _short(path, digits)
    grain = 10 ** digits
    strokes: list[tuple[list[tuple[int, int]], bool]] = []
    for stroke in path[1:].split("M"):
        along = [round(float(number) * grain) for number in _NUMBER.findall(stroke)]
        strokes.append((list(zip(along[::2], along[1::2])), "Z" in stroke))
    return short_path(strokes, digits)


@lru_cache(maxsize=1_000)
def _declarations(body: str) -> str:
    """Return style declarations without any that could reach out of the page."""
    parts = (part.strip() for part in body.split(";"))
    return ";".join(part for part in parts if part and re.fullmatch(r"[a-z-]+\s*:\s*[^<>@\\{}]+", part)
                    and "url(" not in part.lower() and "expression" not in part.lower())


def _pointed(value: str, prefix: str, name: str) -> str:
    """Return an attribute with what it points at renamed like the ids."""
    if name == "href":
        return "#" + prefix + value[1:]
    return value if "url(" not in value else re.sub(r"url\(\s*#([^)\s]+)\s*\)", rf"url(#{prefix}\1)", value)


def _size(kept: ET.Element, root: ET.Element) -> None:
    """Give a drawing its plotted size in pixels, as plain numbers, with a viewBox."""
    for name in ("width", "height"):
        match = re.fullmatch(r"\s*([0-9.]+)\s*(in|mm|cm|pt|px|)\s*", root.get(name, ""))
        if match:
            kept.set(name, f"{float(match[1]) * _UNITS[match[2]]:.2f}".rstrip("0").rstrip("."))
    if "viewBox" not in kept.attrib:
        kept.set("viewBox", f"0 0 {kept.get('width', '100')} {kept.get('height', '100')}")
