"""7xx: every piece once on a roll that exists, and every roll can be cut as listed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import combinations

from shapely.geometry import Polygon, box

from layout.audit.asked import Asked, AskedStock
from layout.audit.findings import Findings
from layout.audit.walls import SPECK
from layout.audit.written import Written, WrittenCut, WrittenPiece, WrittenRoll
from layout.units import read_length

TURNABLE = {
    "collar", "footing cover", "inside cover", "riser cover", "ledge cover", "slope cover", "opening corner",
    "opening gusset", "sleeve patch",
}
"""Kinds of piece that may lie either way on a roll."""


def check_rolls(plan: Written, asked: Asked, book: Findings) -> None:
    """Note what cannot be cut, is cut twice or not at all, or comes from a roll that is not there."""
    pieces = {piece.tag: piece for piece in plan.pieces}
    _check_once(plan, book)
    for roll in plan.rolls:
        for cut in roll.cuts:
            _check_cut(roll, cut, pieces[cut.piece], asked, book)
        _check_apart(roll, book)
        _check_within(roll, pieces, asked.film_side_up, book)
        _check_leftover(roll, asked, book)
    _check_stock(plan.rolls, asked, book)


def _check_once(plan: Written, book: Findings) -> None:
    cuts = Counter(cut.piece for roll in plan.rolls for cut in roll.cuts)
    place = {cut.piece: roll.tag for roll in plan.rolls for cut in roll.cuts}
    for piece in plan.pieces:
        if not cuts[piece.tag]:
            book.note(701, f"piece {piece.tag}", "one roll", "none")
        elif cuts[piece.tag] > 1:
            book.note(702, f"piece {piece.tag}", "once", f"{cuts[piece.tag]} times")
        elif piece.roll != place[piece.tag]:
            book.note(707, f"piece {piece.tag}", place[piece.tag], piece.roll or "none")


def usable(roll: WrittenRoll, asked: Asked) -> int:
    """Return the length of a roll that may be cut from: bought ones lose their end [ticks]."""
    return roll.length - (0 if roll.remnant else asked.rules["roll_end"])


def _check_cut(
    roll: WrittenRoll, cut: WrittenCut, piece: WrittenPiece, asked: Asked, book: Findings,
) -> None:
    place = f"roll {roll.tag}, piece {cut.piece}"
    if min(cut.at, cut.across) < 0 or cut.at + cut.length > roll.length or cut.across + cut.width > roll.width:
        book.note(703, place, f"inside {book.say_length(roll.length)} by {book.say_length(roll.width)}",
                  f"to {book.say_length(cut.at + cut.length)}, {book.say_length(cut.across + cut.width)}")
    elif cut.at + cut.length > usable(roll, asked):
        book.note(715, place, f"at most to {book.say_length(usable(roll, asked))}",
                  f"to {book.say_length(cut.at + cut.length)}")
    size, other = (cut.length, cut.width), (cut.width, cut.length)
    wanted = (piece.length, piece.width)
    if size != wanted:
        if other != wanted:
            book.note(706, place, f"{book.say_length(wanted[0])} by {book.say_length(wanted[1])}",
                      f"{book.say_length(size[0])} by {book.say_length(size[1])}")
        elif piece.kind not in TURNABLE:
            book.note(713, place, "its length along the roll", "its length across")
    if piece.product != roll.product:
        book.note(712, place, piece.product, roll.product)


def _check_apart(roll: WrittenRoll, book: Findings) -> None:
    """Note overlaps, and blocks that cannot be ripped into lanes and these cross-cut.

    Cuts within what is cut away of another piece are looked at by ``_check_within``, and there beside each other.
    """
    cuts = [cut for cut in roll.cuts if not cut.within]
    block: list[WrittenCut] = []
    end = 0
    for cut in [*sorted(cuts, key=lambda cut: (cut.at, cut.across)), None]:
        if cut is None or (block and cut.at >= end):
            _check_block(roll, block, book)
            block = []
        if cut is not None:
            block.append(cut)
            end = max(end, cut.at + cut.length) if len(block) > 1 else cut.at + cut.length


def _check_block(roll: WrittenRoll, block: Sequence[WrittenCut], book: Findings) -> None:
    """Rips go where no piece lies on either side of them; between two rips pieces lie one after the other."""
    for a, b in combinations(block, 2):
        if _overlap(a, b):
            book.note(704, f"roll {roll.tag}", "cuts apart", f"{a.piece} and {b.piece} overlap")
            return
    lane: list[WrittenCut] = []
    edge = 0
    for cut in sorted(block, key=lambda cut: cut.across):
        if lane and cut.across >= edge:
            lane = []
        if any(cut.at < other.at + other.length and other.at < cut.at + cut.length for other in lane):
            book.note(705, f"roll {roll.tag}", "lanes that rips part, pieces one after the other in each",
                      ", ".join(cut.piece for cut in block[:6]))
            return
        lane.append(cut)
        edge = max(edge, cut.across + cut.width) if len(lane) > 1 else cut.across + cut.width


def _overlap(a: WrittenCut, b: WrittenCut) -> bool:
    return (a.across < b.across + b.width and b.across < a.across + a.width
            and a.at < b.at + b.length and b.at < a.at + a.length)


def _check_within(roll: WrittenRoll, pieces: Mapping[str, WrittenPiece], film_side_up: bool, book: Findings) -> None:
    """Note cuts within a piece that are not in what is cut away of it, or over each other."""
    inside = [cut for cut in roll.cuts if cut.within]
    hosts = {cut.piece: cut for cut in roll.cuts if not cut.within}
    for cut in inside:
        host, place = hosts.get(cut.within), f"roll {roll.tag}, piece {cut.piece}"
        if host is None:
            book.note(714, place, "within a piece of the same roll", cut.within)
        elif not _cut_away(cut, host, pieces[host.piece], film_side_up):
            book.note(714, place, f"in what is cut away of {cut.within}", "in the piece, or beside it")
    for a, b in combinations(inside, 2):
        if _overlap(a, b):
            book.note(704, f"roll {roll.tag}", "cuts apart", f"{a.piece} and {b.piece} overlap")


def _cut_away(cut: WrittenCut, host: WrittenCut, piece: WrittenPiece, film_side_up: bool) -> bool:
    """Tell whether a cut lies in its host's rectangle and off its host's shape, both as they lie on the roll."""
    left, top = min(x for x, _ in piece.ring), max(y for _, y in piece.ring)
    if (host.length, host.width) != (piece.length, piece.width):
        return False

    def on_roll(point: tuple[int, int]) -> tuple[int, int]:
        right = point[0] - left
        return host.at + top - point[1], host.across + (right if film_side_up else piece.width - right)

    shape = Polygon([on_roll(point) for point in piece.ring], [[on_roll(p) for p in hole] for hole in piece.holes])
    own = box(cut.at, cut.across, cut.at + cut.length, cut.across + cut.width)
    blank = box(host.at, host.across, host.at + host.length, host.across + host.width)
    return bool(blank.covers(own)) and float(shape.intersection(own).area) <= SPECK


def _check_leftover(roll: WrittenRoll, asked: Asked, book: Findings) -> None:
    used = max((cut.at + cut.length for cut in roll.cuts), default=0)
    needed = (roll.length - used, roll.width, usable(roll, asked) - used >= asked.rules["keep_remnant"])
    found = (roll.left_length, roll.left_width, roll.keep)
    if needed[0] >= 0 and found != needed:
        book.note(711, f"roll {roll.tag}", _left_words(needed, book), _left_words(found, book))


def _left_words(left: tuple[int, int, bool], book: Findings) -> str:
    return f"{book.say_length(left[0])} by {book.say_length(left[1])}, {'kept' if left[2] else 'scrap'}"


def _check_stock(rolls: Sequence[WrittenRoll], asked: Asked, book: Findings) -> None:
    used: Counter[tuple[str, str]] = Counter()
    opened: Counter[tuple[str, int, int]] = Counter()
    for roll in rolls:
        place = f"roll {roll.tag}"
        stock = stock_of_roll(roll, asked)
        if stock is None:
            if asked.stock.get(roll.product):
                book.note(708, place, "a roll or remnant of the job", f"{roll.stock}, {book.say_length(roll.length)}")
        elif not roll.remnant and roll.price != stock.price:
            book.note(708, place, f"price {_price(stock.price)}", f"price {_price(roll.price)}")
        if roll.remnant:
            used[roll.product, roll.stock] += 1
            if used[roll.product, roll.stock] == 2:
                book.note(709, place, "once", f"remnant {roll.stock} again")
        else:
            kind = (roll.product, roll.length, roll.width)
            opened[kind] += 1
            if stock and stock.on_hand is not None and opened[kind] == stock.on_hand + 1:
                book.note(710, f"rolls of {roll.stock}", f"{stock.on_hand} on hand", "more")


def _price(price: Decimal | None) -> str:
    return "none" if price is None else str(price)


def stock_of_roll(roll: WrittenRoll, asked: Asked) -> AskedStock | None:
    """Return what a roll is in the job's stock, or None."""
    if roll.remnant:
        for stock in asked.remnants.get(roll.product, ()):
            if (stock.tag, stock.length, stock.width) == (roll.stock, roll.length, roll.width):
                return stock if roll.price is None or roll.price == 0 else None
        return None
    try:
        named = read_length(roll.stock, asked.unit)
    except ValueError:
        return None
    for stock in asked.stock.get(roll.product, ()):
        if (stock.length, stock.width) == (roll.length, roll.width) and named == roll.length:
            return stock
    return None
