"""9xx, the phone packet: every piece's card, its marks, edges, notes and drawn shape, read back from packet.html.

Cards are found by their names (``id="piece-TAG"``), lists by the words above them, shapes by the classes of their
parts; where on the page any of it stands does not matter.
"""

from __future__ import annotations

import json
import re
from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import unescape
from pathlib import Path

from layout.audit.asked import Asked
from layout.audit.files import NotReadable, read_text
from layout.audit.findings import Findings
from layout.audit.marks import LYING
from layout.audit.written import Written, WrittenPiece

PEN = 0.12
"""Points of a drawn shape are the same within this in its own units; it writes tenths."""

_NAME = re.compile('id="piece-')
_CARD = re.compile(r'<[a-z]+\b[^>]*\bid="piece-([^"]*)"[^>]*>')
_ROW = re.compile(r'<li\b[^>]*\bdata-row="([^"]*)"[^>]*>(.*?)</li>\s*(?=<li\b[^>]*\bdata-row=|</ol>)', re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
_MARKS = re.compile(r"Marks, (film|liner) side up<.*?<ul\b[^>]*>(.*?)</ul>", re.DOTALL)
_ITEM = re.compile(r"<li\b[^>]*>(.*?)</li>", re.DOTALL)
_LIST = re.compile(r'<ul class="marks">(.*?)</ul>', re.DOTALL)
_SHAPE = re.compile(r'<svg class="shape(?: wide)?"(.*?)</svg>', re.DOTALL)
_EDGE_WORDS = re.compile(r"(?<!its)(left|right|top|bottom)edge(over|under)")
_SIDE_UP = re.compile(r"(film|liner) side up")
_NUMBER = r"(-?[0-9.]+)"
_SHEET = re.compile(
    rf'<rect class="sheet" x="{_NUMBER}" y="{_NUMBER}" width="{_NUMBER}" height="{_NUMBER}"')
_CUT_OUT = re.compile(r'<path class="cutout"[^>]* d="([^"]*)"')
_SLIT = re.compile(rf'<line class="slit" x1="{_NUMBER}" y1="{_NUMBER}" x2="{_NUMBER}" y2="{_NUMBER}"')
_TURNED = re.compile(
    rf'<text class="edge"[^>]*transform="translate\({_NUMBER} [^"]*rotate[^"]*"[^>]*>([^<]*)</text>')


@dataclass(frozen=True)
class Lapping:
    """What one edge of a piece does, as the wall is seen: over or under what, and by how much as it is said."""

    edge: str
    verb: str
    tag: str
    lap: str


def check_page(path: Path, plan: Written, asked: Asked, digest: str, needed_dates: Mapping[tuple[str, str], str],
               tucks: Mapping[str, Sequence[str]], book: Findings) -> None:
    """Hold packet.html against plan.json and the job.

    Parameters
    ----------
    path
        The page.
    plan, asked
        What plan.json says, and what the job asks.
    digest
        What stands for the plan's pieces.
    needed_dates
        The day by which each (run, face) must be covered.
    tucks
        What must be said of tucking, by the drop's tag.
    book
        Where findings are noted.
    """
    try:
        text = read_text(path)
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return
    cards = _cards(text)
    _check_named(text, cards, plan, book)
    _check_digest(text, digest, book)
    _check_sides(text, asked, book)
    _check_cover_by(text, needed_dates, book)
    rows: dict[str, list[str]] = {}
    for tag, body in _ROW.findall(text):
        rows.setdefault(unescape(tag), []).append(body)
    laps = {} if book.has(302) else lappings(plan, book)  # seams of no neighbours say nothing about edges
    for piece in plan.pieces:
        card = cards.get(piece.tag, "")
        if card:
            _check_marks(card, rows.get(piece.tag, ()), piece, asked, book)
            if laps:
                _check_edges(card, rows.get(piece.tag, ()), piece, laps[piece.tag], book)
            _check_tucks(card, rows.get(piece.tag, ()), piece, tucks.get(piece.drop, ()), book)
            _check_shape(card, piece, laps.get(piece.tag), asked, book)


def markup_text(markup: str) -> str:
    """Return the text of markup without its white space."""
    return without_space(unescape(_TAG.sub("", markup)))


def without_space(text: str) -> str:
    """Return a text without its white space."""
    return "".join(text.split())


def lappings(plan: Written, book: Findings) -> dict[str, list[Lapping]]:
    """Return what the edges of each piece do: side laps by the seams, end laps by the outlines."""
    found: dict[str, list[Lapping]] = {piece.tag: [] for piece in plan.pieces}
    of_drop = {drop.tag: drop.pieces for drop in plan.drops}
    for seam in plan.seams:
        lap = book.say_width(seam.right_edge - seam.left_edge)
        for drop, edge, other in ((seam.right, "left", seam.left), (seam.left, "right", seam.right)):
            verb = "over" if seam.over == drop else "under"
            for tag in of_drop[drop]:
                found[tag].append(Lapping(edge, verb, other, lap))
    rings = {piece.tag: piece.ring for piece in plan.pieces}
    for whole in plan.drops:
        for tag in whole.pieces:
            for other in whole.pieces:
                deep = _end_lap(rings[tag], rings[other]) if tag != other else 0
                if deep > 0:
                    higher = max(y for _, y in rings[tag]) > max(y for _, y in rings[other])
                    edge, verb = ("bottom", "over") if higher else ("top", "under")
                    found[tag].append(Lapping(edge, verb, other, book.say_width(deep)))
    return found


def _end_lap(one: Sequence[tuple[int, int]], other: Sequence[tuple[int, int]]) -> int:
    """Return how far two pieces of a drop lap up and down; 0 when they are not above one another."""
    left, right = (pick(min(x for x, _ in one), min(x for x, _ in other)) if pick is max else
                   pick(max(x for x, _ in one), max(x for x, _ in other)) for pick in (max, min))
    if left >= right:
        return 0
    return (min(max(y for _, y in one), max(y for _, y in other))
            - max(min(y for _, y in one), min(y for _, y in other)))


# --- the whole page ----------------------------------------------------------------------------

def _check_named(text: str, cards: Container[str], plan: Written, book: Findings) -> None:
    """Note pieces that the page does not name, on a card or elsewhere."""
    rest = [piece.tag for piece in plan.pieces if piece.tag not in cards]
    shown = unescape(text) if rest else ""
    for tag in rest:
        if tag not in shown:
            book.note(915, "packet.html", f"piece {tag}", "none")


def _check_digest(text: str, digest: str, book: Findings) -> None:
    found = re.search(r'<script[^>]*id="packet-data"[^>]*>(.*?)</script>', text, re.DOTALL)
    try:
        said = json.loads(found[1]).get("plan") if found else None
    except (ValueError, AttributeError, RecursionError):
        said = None
    if said != digest:
        book.note(933, "packet.html, the data of the page", digest, str(said or "none"))


def _check_sides(text: str, asked: Asked, book: Findings) -> None:
    """Every word on the page that says which side is up says the job's, but for the marks of the other side."""
    up = "film" if asked.film_side_up else "liner"
    sentence = re.search(r"sheet lies\s+(film|liner)\s+side\s+up", text)
    if not sentence or sentence[1] != up:
        book.note(921, "packet.html, how the sheet lies", f"{up} side up", sentence[1] if sentence else "not said")


def _check_cover_by(text: str, needed: Mapping[tuple[str, str], str], book: Findings) -> None:
    """Each face's list says the day by which it must be covered."""
    lists: dict[str, str] = {}
    for body in re.findall(r'<article class="face-list"(.*?)<ol', text, re.DOTALL):
        words = re.search(r"<h3[^>]*>(.*?)</h3>", body, re.DOTALL)
        lists.setdefault(markup_text(words[1]) if words else "", markup_text(body))
    for (run, face), date in needed.items():
        words_of = lists.get(without_space(f"{run}·{face}"), "")
        if f"coverby{date}" not in words_of:
            found = re.search(r"coverby([0-9-]+)", words_of)
            book.note(928, f"packet.html, run {run}, face {face}", f"cover by {date}", found[1] if found else "nothing")


# --- one card ----------------------------------------------------------------------------------

def _cards(text: str) -> dict[str, str]:
    """Return the markup of each card by its tag: from its name to the next card's, or to the end of its section."""
    heads = (_CARD.match(text, text.rfind("<", 0, name.start())) for name in _NAME.finditer(text))
    starts = [head for head in heads if head]
    found: dict[str, str] = {}
    for start, after in zip(starts, [*starts[1:], None]):
        end = after.start() if after else len(text)
        section = text.find("</section>", start.end(), end)
        found.setdefault(unescape(start[1]), text[start.start():section if section >= 0 else end])
    return found


def _check_marks(card: str, rows: Sequence[str], piece: WrittenPiece, asked: Asked, book: Findings) -> None:
    """The card has the marks of both sides under their names; the cut list on the page those of the side that is up."""
    needed = {"film": [without_space(mark) for mark in piece.marks],
              "liner": [without_space(mark) for mark in piece.marks_liner]}
    found = {side: [markup_text(item) for item in _ITEM.findall(body)] for side, body in _MARKS.findall(card)}
    up, down = ("film", "liner") if asked.film_side_up else ("liner", "film")
    for side in (up, down):
        if needed[side] and found.get(side) != needed[side]:
            book.note(919, f"packet.html, piece {piece.tag}, {side} side up", "; ".join(needed[side]),
                      "; ".join(found.get(side, ())) or "none")
    listed = [[markup_text(item) for item in _ITEM.findall(body)] for row in rows for body in _LIST.findall(row)]
    if needed[up] and needed[up] not in listed:
        book.note(919, f"packet.html, piece {piece.tag}, where it is cut", "; ".join(needed[up]),
                  "; ".join(listed[0]) if listed else "none")
    first = _MARKS.search(card)
    if first and first[1] != up:
        book.note(921, f"packet.html, piece {piece.tag}", f"marks {up} side up first", f"{first[1]} side up")


def _check_edges(
    card: str, rows: Sequence[str], piece: WrittenPiece, laps: Sequence[Lapping], book: Findings,
) -> None:
    words = markup_text(card.split("<svg", 1)[0])
    place = f"packet.html, piece {piece.tag}"
    for lap in laps:
        said = without_space(f"{lap.edge} edge {lap.verb} {lap.tag}, lap {lap.lap}")
        if said not in words:
            found = re.search(rf"{lap.edge}edge[^·]*?lap[0-9'\"/ m]*", words)
            book.note(922, place, f"{lap.edge} edge {lap.verb} {lap.tag}, lap {lap.lap}", found[0] if found else "none")
    count = len(_EDGE_WORDS.findall(words))
    if count > len(laps):
        book.note(922, place, f"{len(laps)} edges that lap", f"{count}")
    hung = [markup_text(row) for row in rows if 'data-tick="hung"' in row]
    for lap in laps if hung else ():
        if without_space(f"{lap.edge} {lap.verb} {lap.tag}") not in hung[0]:
            book.note(922, f"{place}, where it is hung", f"{lap.edge} {lap.verb} {lap.tag}", "another")


def _check_tucks(card: str, rows: Sequence[str], piece: WrittenPiece, needed: Sequence[str], book: Findings) -> None:
    cut = [row for row in rows if 'data-tick="cut"' in row]
    for place, words in (("", markup_text(card)), (", where it is cut", markup_text("".join(cut)))):
        check_tuck_words(f"packet.html, piece {piece.tag}{place}", words, needed, book)


def check_tuck_words(place: str, words: str, needed: Sequence[str], book: Findings) -> None:
    """Note words about tucking that are missing from a text, or stand there where nothing is tucked.

    Parameters
    ----------
    place
        Where the text stands.
    words
        The text, without white space.
    needed
        What it must say, with white space.
    book
        Where findings are noted.
    """
    for text in needed:
        if without_space(text) not in words:
            book.note(927, place, text, "not said")
    said = words.count("edgeloose") + len(re.findall(r"tuckits(?:left|right)edge", words))
    if said > len(needed):
        book.note(927, place, f"{len(needed)} notes about tucking", f"{said}")


def tuck_words(plan: Written) -> dict[str, list[str]]:
    """Return what must be said on each piece of a drop beside a tucked seam, by the drop's tag."""
    needed: dict[str, list[str]] = {}
    for seam in plan.seams:
        if seam.tuck:
            under = seam.left if seam.over == seam.right else seam.right
            loose, hidden = ("right", "left") if seam.over == seam.left else ("left", "right")
            needed.setdefault(seam.over, []).append(f"leave its {loose} edge loose: {under} tucks under it")
            needed.setdefault(under, []).append(f"tuck its {hidden} edge under {seam.over}")
    return needed


# --- the drawn shape ---------------------------------------------------------------------------

def _check_shape(card: str, piece: WrittenPiece, laps: Sequence[Lapping] | None, asked: Asked, book: Findings) -> None:
    """The shape on the card is the piece with the side up that is up, its slits and the words along its edges."""
    shape = _SHAPE.search(card)
    place = f"packet.html, shape of {piece.tag}"
    if not shape:
        if len(piece.ring) != 4 or piece.holes or piece.slits:
            book.note(923, place, "a shape", "none")
        return
    side = _SIDE_UP.search(shape[1])
    up = "film" if asked.film_side_up else "liner"
    if not side or side[1] != up:
        book.note(921, place, f"{up} side up", side[1] if side else "not said")
        return
    frame, path = _SHEET.search(shape[1]), _CUT_OUT.search(shape[1])
    if not frame or not path:
        book.note(923, place, "a sheet and what is cut from it", "none")
        return
    left, top, wide, high = (float(frame[i]) for i in range(1, 5))
    lying = bool(piece.marks) and piece.marks[0] == LYING
    across, down = (piece.length, piece.width) if lying else (piece.width, piece.length)

    x0, y0 = min(x for x, _ in piece.ring), max(y for _, y in piece.ring)

    def drawn(points: Sequence[tuple[int, int]]) -> list[tuple[float, float]]:
        placed = [((x - x0 if asked.film_side_up else across - (x - x0)), y0 - y) for x, y in points]
        return [(left + x * wide / across, top + y * high / down) for x, y in placed]

    rings = [[tuple(map(float, spot.split(","))) for spot in part.split("L")]
             for part in re.findall(r"M([-0-9.,L]+)Z", path[1])]
    if not _same_rings([drawn(ring) for ring in (piece.ring, *piece.holes)], rings):
        book.note(923, place, "the piece, " + up + " side up", "another shape")
    lines = [[(float(a), float(b)), (float(c), float(d))] for a, b, c, d in _SLIT.findall(shape[1])]
    if not _same_rings([drawn(slit) for slit in piece.slits], lines):
        book.note(923, place, f"{len(piece.slits)} slits in their places", f"{len(lines)}, or elsewhere")
    if laps is not None:
        _check_edge_words(shape[1], laps, left + wide / 2, place, up, book)


def _same_rings(needed: Sequence[Sequence[tuple[float, ...]]], found: Sequence[Sequence[tuple[float, ...]]]) -> bool:
    """Tell whether two sets of chains have the same points, whatever the order of chains and of points."""
    rest = [list(ring) for ring in found]
    for ring in needed:
        for other in rest:
            if len(other) == len(ring) and all(
                any(abs(a[0] - b[0]) <= PEN and abs(a[1] - b[1]) <= PEN for b in other) for a in ring
            ):
                rest.remove(other)
                break
        else:
            return False
    return not rest


def _check_edge_words(shape: str, laps: Sequence[Lapping], middle: float, place: str, up: str, book: Findings) -> None:
    """The words along the left and the right edge of a shape are those of that edge, mirrored when the liner is up."""
    said: dict[str, set[str]] = {"left": set(), "right": set()}
    for x, words in _turned_words(shape):
        for part in words.split(", "):
            said["left" if x < middle else "right"].add(without_space(part))
    mirror = {"left": "right", "right": "left"}
    for side in ("left", "right"):
        edge = side if up == "film" else mirror[side]
        needed = {without_space(f"{lap.verb} {lap.tag}") for lap in laps if lap.edge == edge}
        if said[side] != needed:
            book.note(922, f"{place}, {side} as it lies", ", ".join(sorted(needed)) or "nothing",
                      ", ".join(sorted(said[side])) or "nothing")


def _turned_words(shape: str) -> Iterator[tuple[float, str]]:
    for x, words in _TURNED.findall(shape):
        yield float(x), unescape(words)
