"""What the phone packet shows, worked out before any markup: cards, rolls, faces, totals."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from layout.marks import is_plain
from layout.packet.crew import Crew, crew_marks
from layout.packet.cut_list import CutRow, rows, tuck_notes
from layout.packet.orders import Orders
from layout.packet.sequence import OFF_THE_WALL, hung_in_order
from layout.packet.shape_card import Edges, on_roll, shape_svg
from layout.records import MEMBRANE, FaceSpan, Piece, Plan, Roll, Seam
from layout.units import Unit, inches, tape


def anchor(tag: str) -> str:
    """Return the part of an address that opens a piece's card: ``#piece-TAG``."""
    return "#piece-" + quote(tag, safe="")


_MEASURE = re.compile(r"""((?:\d+'-)?(?:\d+[ ])?(?:\d+/\d+|\d+)"|\d+'-\d+(?:[ ]\d+/\d+)?"|\d+[ ]mm)""")


def bound(text: str) -> str:
    """Return a text whose measures are not broken between two lines: their spaces are no-break spaces.

    Examples
    --------
    >>> bound("at 9'-0 5/16\\" down")
    'at 9\'-0\\xa05/16" down'
    """
    return _MEASURE.sub(lambda measure: unbroken(measure[0]), text)


def unbroken(text: str) -> str:
    """Return a text with no-break spaces."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


@dataclass(frozen=True)
class Neighbour:
    """What one edge of a piece does: over or under which piece or drop, and by how much."""

    edge: str
    verb: str
    tag: str
    lap: str
    href: str


@dataclass(frozen=True)
class Card:
    """One piece as its card shows it.

    ``from_left`` is from its face's left end; ``marks``, ``crew`` and ``shape`` are for the side that is up; ``near``
    says which corner, opening or sleeve it goes to; ``fold`` is a picture of how it folds, as markup, or empty;
    ``plain`` tells that the piece is its whole rectangle.
    """

    row: CutRow
    tag: str
    href: str
    kind: str
    place: str
    length: str
    width: str
    roll: str
    at: str
    to: str
    install: str
    pile: str
    station: str
    from_left: str
    marks: tuple[str, ...]
    marks_other: tuple[str, ...]
    neighbours: tuple[Neighbour, ...]
    notes: tuple[str, ...]
    shape: str
    crew: Crew
    near: str
    fold: str
    plain: bool


@dataclass(frozen=True)
class StripCut:
    """One cut on a roll's drawn strip, in hundredths of the roll's length and width."""

    tag: str
    href: str
    x: float
    y: float
    wide: float
    high: float


@dataclass(frozen=True)
class RollView:
    """One roll: what it is, its drawn strip, its cuts in order, what is left."""

    tag: str
    product: str
    stock: str
    remnant: bool
    length: str
    width: str
    strips: tuple[StripCut, ...]
    left_at: float
    cards: tuple[Card, ...]
    left: str
    keep: bool

    @property
    def columns(self) -> int:
        """In how many columns its list is printed, to stand on one page."""
        return _columns([(f"at {card.at} to {card.to} pile {card.place} {'; '.join(card.notes)}", *card.marks)
                         for card in self.cards])


@dataclass(frozen=True)
class FaceView:
    """One face's pieces in the order they go on."""

    run: str
    face: str
    layer: str
    cover_by: str
    cards: tuple[Card, ...]

    @property
    def columns(self) -> int:
        """In how many columns its list is printed, to stand on one page."""
        edges = [" ".join(f"{one.edge} {one.verb} {one.tag}" for one in card.neighbours) for card in self.cards]
        return _columns([(f"install 00 pile 00 {words}",) for words in edges])


_PRINTED = ((1, 96, 54), (2, 56, 146))
"""Columns, letters on a line under a piece's tag, and lines on a page of letter paper."""


def _columns(listed: Sequence[Sequence[str]]) -> int:
    """Return the fewest columns in which a list of pieces, each with its lines, stands on one page."""
    for columns, letters, lines in _PRINTED:
        if sum(1.25 + sum(-(-len(text) // letters) for text in texts) for texts in listed) <= lines:
            return columns
    return 3


def cards(plan: Plan, folds: Mapping[str, str] | None = None) -> tuple[Card, ...]:
    """Return every piece's card, in cutting order; ``folds`` is tag -> SVG markup of how a piece folds."""
    unit = plan.job.unit
    up = plan.job.film_side_up
    tucks = tuck_notes(plan)
    neighbours = _Neighbours(plan)
    starts = {(wall.run, face.name): face.left for wall in plan.walls for face in wall.faces}
    found = []
    for row in rows(plan):
        piece, cut = row.piece, row.cut
        around = neighbours.of(piece)
        crew = crew_marks(piece, unit, mirrored=not up)
        edges = Edges(**{name: _edge_text(around, name) for name in ("left", "right", "top", "bottom")})
        found.append(Card(
            row=row, tag=piece.tag, href=anchor(piece.tag), kind=piece.kind, place=place_of(piece),
            length=tape(piece.length, unit), width=inches(piece.width, unit), roll=row.roll.tag,
            at=tape(cut.at, unit), to=tape(cut.at + cut.length, unit),
            install=str(piece.install) if piece.install else "before the field", pile=row.pile,
            station="" if row.station is None else tape(row.station, unit),
            from_left=_from_left(row, starts.get((piece.run, piece.face)), unit),
            marks=row.marks if up else row.marks_liner, marks_other=row.marks_liner if up else row.marks,
            neighbours=around, notes=_card_notes(row, piece, tucks.get(piece.drop, ())),
            shape=shape_svg(piece, unit, film_side_up=up, edges=edges, corners=crew.corners,
                            lies=on_roll(piece, cut, row.roll, unit)),
            crew=crew, near=goes_to(piece, plan), fold=(folds or {}).get(piece.tag, ""), plain=is_plain(piece),
        ))
    return tuple(found)


def _from_left(row: CutRow, start: int | None, unit: Unit) -> str:
    """Return how far a piece's left edge hangs from its face's left end; nothing when it begins before it."""
    if row.station is None or start is None or row.station < start:
        return ""
    return tape(row.station - start, unit)


def goes_to(piece: Piece, plan: Plan) -> str:
    """Return the corner, opening or sleeve that a piece goes to, in words; empty where there is none."""
    wall = next((wall for wall in plan.walls if (wall.run, wall.layer) == (piece.run, MEMBRANE)), None)
    if wall is None:
        return ""
    if piece.kind in ("collar", "sleeve patch"):
        return f"around {' and '.join(tag for tag, *_ in piece.sleeves) or 'its sleeve'}"
    if piece.kind == "patch":
        return f"over the hole in {piece.tag.rpartition('-P')[0]}"
    spans = list(zip(wall.faces, [*wall.faces[1:], wall.faces[0]]))
    if not piece.flat:
        start = next((span.left for span in wall.faces if span.name == piece.face), None)
        if piece.spot is None or start is None or " corner of " in piece.where:
            return piece.where
        return f"{piece.where}, {tape((piece.spot - start) % wall.length, plan.job.unit)} from the left of {piece.face}"
    xs, ys = [x for x, _ in piece.outline], [y for _, y in piece.outline]
    turns = (0, wall.length) if wall.closed else (0,)
    open_end = [] if wall.closed else [wall.faces[-1]]
    words = [_corner_words(*pair) for pair in spans if pair[0] not in open_end and pair[0].corner != "none"
             and any(min(xs) < pair[0].right + turn < max(xs) for turn in turns)]
    for hole in wall.holes:
        if any(min(xs) < hole.right + turn and hole.left + turn < max(xs) for turn in turns) and (
                min(ys) < hole.top and hole.bottom < max(ys)):
            words.append(f"{hole.kind} {hole.tag}")
    words += [f"sleeve {tag}" for tag, *_ in piece.sleeves]
    return ", ".join(dict.fromkeys(words))


def _corner_words(left: FaceSpan, right: FaceSpan) -> str:
    return f"{left.corner} corner of {left.name} and {right.name}"


def place_of(piece: Piece) -> str:
    """Return where a piece goes, as the crew says it."""
    return f"{piece.run} · {piece.face}" if piece.face else piece.run


def _card_notes(row: CutRow, piece: Piece, tucks: Sequence[str]) -> tuple[str, ...]:
    notes = [note for note in row.note.split("; ") if note] if row.note else []
    notes = [note for note in notes if note not in tucks] + list(tucks)
    return tuple([*notes, *dict.fromkeys(f"slit: {slit.why}" for slit in piece.slits if slit.why)])


def _edge_text(around: Sequence[Neighbour], edge: str) -> str:
    """Return what one edge does, for the drawn shape."""
    return ", ".join(f"{entry.verb} {entry.tag}" for entry in around if entry.edge == edge)


class _Neighbours:
    """Side laps and end laps, by drop and by piece."""

    def __init__(self, plan: Plan) -> None:
        self.unit = plan.job.unit
        self.left: dict[str, Seam] = {seam.right: seam for seam in plan.seams}
        self.right: dict[str, Seam] = {seam.left: seam for seam in plan.seams}
        self.pieces = {piece.tag: piece for piece in plan.pieces}
        self.drops = {drop.tag: drop for drop in plan.drops}

    def of(self, piece: Piece) -> tuple[Neighbour, ...]:
        """Return what a piece's edges do, film side up."""
        found = []
        for edge, seam in (("left", self.left.get(piece.drop)), ("right", self.right.get(piece.drop))):
            if seam is None or not piece.drop:
                continue
            other = seam.left if edge == "left" else seam.right
            verb = "over" if seam.over == piece.drop else "under"
            lap = inches(seam.right_edge - seam.left_edge, self.unit)
            found.append(Neighbour(edge, verb, other, lap, self._href(other)))
        return (*found, *self._end_laps(piece))

    def _href(self, drop: str) -> str:
        """Return the card of a drop's first piece."""
        pieces = self.drops[drop].pieces if drop in self.drops else ()
        return anchor(pieces[0]) if pieces else ""

    def _end_laps(self, piece: Piece) -> list[Neighbour]:
        drop = self.drops.get(piece.drop)
        if drop is None:
            return []
        own = _span(piece)
        found = []
        for tag in drop.pieces:
            other = self.pieces.get(tag)
            if other is None or tag == piece.tag or not _side_by_side(piece, other):
                continue
            low, high = _span(other)
            lap = min(own[1], high) - max(own[0], low)
            if lap <= 0:
                continue
            edge, verb = ("bottom", "over") if own[1] > high else ("top", "under")
            found.append(Neighbour(edge, verb, tag, inches(lap, self.unit), anchor(tag)))
        return found


def _span(piece: Piece) -> tuple[int, int]:
    return min(y for _, y in piece.outline), max(y for _, y in piece.outline)


def _side_by_side(one: Piece, other: Piece) -> bool:
    """Tell whether two pieces of a drop share some of its width."""
    left = max(min(x for x, _ in one.outline), min(x for x, _ in other.outline))
    right = min(max(x for x, _ in one.outline), max(x for x, _ in other.outline))
    return left < right


def roll_views(plan: Plan, dealt: Sequence[Card]) -> tuple[RollView, ...]:
    """Return the rolls with their cards, in cutting order."""
    by_roll: dict[str, list[Card]] = {}
    for card in dealt:
        by_roll.setdefault(card.roll, []).append(card)
    opened = {card.row.roll.tag: card.row.roll for card in dealt}
    return tuple(_roll_view(opened[tag], by_roll[tag], plan.job.unit) for tag in by_roll)


def _roll_view(roll: Roll, dealt: Sequence[Card], unit: Unit) -> RollView:
    def share(part: int, whole: int) -> float:
        return round(100 * part / whole, 3)

    strips = tuple(
        StripCut(card.tag, card.href, share(card.row.cut.at, roll.length), share(card.row.cut.across, roll.width),
                 share(card.row.cut.length, roll.length), share(card.row.cut.width, roll.width))
        for card in dealt
    )
    used = max((card.row.cut.at + card.row.cut.length for card in dealt), default=0)
    return RollView(
        roll.tag, roll.product, roll.stock, roll.remnant, tape(roll.length, unit), inches(roll.width, unit), strips,
        share(used, roll.length), tuple(dealt), tape(roll.leftover.length, unit), roll.leftover.keep,
    )


def face_views(plan: Plan, dealt: Sequence[Card], order: Orders) -> tuple[FaceView, ...]:
    """Return the faces with their cards in the order they go on."""
    place = {piece.tag: i for i, piece in enumerate(hung_in_order(plan))}
    groups: dict[tuple[str, str, str], list[Card]] = {}
    for card in dealt:
        piece = card.row.piece
        if piece.layer != OFF_THE_WALL:
            groups.setdefault((piece.layer, piece.run, piece.face), []).append(card)
    runs = {run.name: i for i, run in enumerate(plan.job.runs)}
    faces = {(run.name, face.name): i for run in plan.job.runs for i, face in enumerate(run.faces)}
    cover = {(face.run, face.face): face.cover_by for face in order.faces if face.cover_by}

    def sequence(key: tuple[str, str, str]) -> tuple[bool, str, int, int]:
        layer, run, face = key
        return layer != MEMBRANE, layer, runs.get(run, len(runs)), faces.get((run, face), len(faces))

    found = []
    for layer, run, face in sorted(groups, key=sequence):
        by = cover.get((run, face), "") if layer == MEMBRANE else ""
        found.append(FaceView(run, face, layer, by, tuple(
            sorted(groups[layer, run, face], key=lambda card: place[card.tag]))))
    return tuple(found)
