"""835: fasteners, outlets, weights and working days, worked again from the job's own words and the plan's pieces."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from typing import Any

from layout.audit.asked import AskedFace, AskedRun, ProfilePoints
from layout.audit.coverage import FIELD
from layout.audit.dates import USUAL_DROPS_A_DAY
from layout.audit.measured import HUNDREDTH, TENTH, MeasuredJob, NeededQuantity, reached
from layout.audit.walls import line_of
from layout.audit.written import WrittenPiece
from layout.units import read_length, round_ticks

ROUNDED = 2
"""What a length along a slope may differ by: the ends of a straight part lie on whole ticks [ticks]."""
SHORT_REST = {"in": "12 in", "mm": "305 mm"}
"""A shorter rest of bar is shared with the bar before it; common practice."""
PALLET, ROLLS_A_PALLET = "45", 20
"""Weight of an empty pallet [lb] and the rolls on a full one, where the job does not say: its model's defaults."""
WORDS = {"membrane": "membrane", "strip": "strip", "drainage": "drainage board"}
"""Product -> what the takeoff calls it."""


# --- fasteners ---------------------------------------------------------------------------------

def fasteners(here: MeasuredJob) -> Iterator[NeededQuantity]:
    """Yield the packages of fasteners: one near each end of every piece of bar, the others at most so far apart."""
    bar = here.part("termination_bar")
    if bar is None:
        return
    parts: list[tuple[float, bool]] = []
    for run in here.asked.runs:
        found = _parts_of_bar(run, here)
        if found is None:
            return
        parts += found
    parts += [(float(length), False) for length in here.bar_ends]
    one = here.ticks(bar.get("length"), "10 ft", "3000 mm", up=False)
    spacing = here.ticks(bar.get("fastener_spacing"), "8 in", "200 mm", up=False)
    from_end = here.ticks(bar.get("fastener_from_end"), "1 in", "25 mm")
    rest = here.ticks(None, SHORT_REST["in"], SHORT_REST["mm"])

    def held(length: int) -> int:
        return sum(1 + max(0, math.ceil(Fraction(piece - 2 * from_end, spacing))) for piece in _cut(length, one, rest))

    low = high = 0
    for length, sure in parts:
        off = 0 if sure and length == int(length) else ROUNDED
        counts = [held(each) for each in range(max(math.ceil(length - 1e-6) - off, 1), math.ceil(length) + off + 1)]
        low, high = low + min(counts), high + max(counts)
    package = int(bar.get("fasteners_a_package") or 100)
    yield NeededQuantity(str(bar.get("fastener") or "fastener"), (low + high) / 2 / package,
                         (high - low) / 2 / package + HUNDREDTH)


def _parts_of_bar(run: AskedRun, here: MeasuredJob) -> list[tuple[float, bool]] | None:
    """Return the straight parts of a run's edge that take bar [ticks], and whether each length is exact.

    None where an opening is cut by a line that is not level, or reaches a face's end.
    """
    found: list[tuple[float, bool]] = []
    before = line_of(run.faces[-1], here.asked)[-1][1] if run.closed else None
    for face in run.faces:
        line = _straight(line_of(face, here.asked))
        if before is not None and line[0][1] != before:
            found.append((abs(line[0][1] - before), False))
        before = line[-1][1]
        gaps = _gaps(face, line, here.asked.rules["opening_return"])
        if gaps is None:
            return None
        for (x0, y0), (x1, y1) in zip(line, line[1:]):
            if x0 == x1:
                found.append((abs(y1 - y0), False))
            elif y0 == y1:
                found += [(length, True) for length in _outside(x0, x1, gaps) if length]
            else:
                found.append((math.dist((x0, y0), (x1, y1)), False))
    return [each for each in found if each[0] > 0]


def _straight(line: ProfilePoints) -> ProfilePoints:
    """Return a profile without repeated points and points in the middle of a straight part."""
    kept: list[tuple[float, float]] = []
    for x, y in line:
        if kept and math.dist(kept[-1], (x, y)) < 1e-9:
            continue
        if len(kept) > 1:
            (x0, y0), (x1, y1) = kept[-2:]
            way = (x1 - x0) * (x - x1) + (y1 - y0) * (y - y1)
            if abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) < 1e-6 and way > 0:
                kept.pop()
        kept.append((x, y))
    return tuple(kept)


def _gaps(face: AskedFace, line: ProfilePoints, back: int) -> list[tuple[float, float]] | None:
    """Return the stations between which openings take the line away; None where that is not worked here."""
    gaps: list[tuple[float, float]] = []
    for opening in face.openings:
        at = reached(opening, face, line, back)
        if at is None:
            return None
        if at.cuts:
            gaps.append((at.left, at.right))
    return sorted(gaps)


def _outside(left: float, right: float, gaps: Iterable[tuple[float, float]]) -> Iterator[float]:
    """Yield the lengths of a level part outside all gaps."""
    at = left
    for start, end in gaps:
        if end > left and start < right:
            yield max(start - at, 0.0)
            at = max(at, end)
    yield max(right - at, 0.0)


def _cut(length: int, one: int, rest: int) -> list[int]:
    """Return the pieces of bar along a straight part: whole ones, and a rest that is shared where it is short."""
    pieces = [one] * (length // one)
    over = length - one * len(pieces)
    if over and over < rest and pieces:
        both = pieces.pop() + over
        return [*pieces, both - both // 2, both // 2]
    return [*pieces, over] if over else pieces


# --- outlets -----------------------------------------------------------------------------------

def outlets(here: MeasuredJob) -> Iterator[NeededQuantity]:
    """Yield the outlets of the channel: one where water comes together, and one where it leaves an open run."""
    channel = here.part("outlet_channel")
    if channel is not None:
        count = sum(max(_low_points(run), 1) for run in here.asked.runs)
        yield NeededQuantity(f"{channel.get('name') or 'outlet channel'}, outlet", float(count), 0.0)


def _low_points(run: AskedRun) -> int:
    if run.drain:
        falls = [a[1] > b[1] for a, b in zip(run.drain, run.drain[1:]) if a[0] < b[0] and a[1] != b[1]]
        meets = sum(down and not then for down, then in zip(falls, falls[1:]))
        if not falls:
            return 1
        return meets + (falls[-1] and not falls[0] if run.closed else falls[-1] + (not falls[0]))
    if not run.lows:
        return 1
    leaves = 0
    if not run.closed:
        first, last = min((*run.lows, *run.highs)), max((*run.lows, *run.highs))
        leaves = (first > 0 and first in run.highs) + (last < run.length and last in run.highs)
    return len(run.lows) + leaves


# --- weights -----------------------------------------------------------------------------------

def weights(here: MeasuredJob) -> Iterator[NeededQuantity]:
    """Yield what each product's rolls weigh, its fullest pallet and its largest piece; nothing that is not known."""
    for product, word in WORDS.items():
        given = here.product(product)
        by_length = {round_ticks(read_length(roll["length"], here.unit), "down"): roll.get("weight_lb")
                     for roll in given.get("rolls") or ()}
        found = [by_length.get(roll.length) for roll in here.plan.rolls
                 if roll.product == product and not roll.remnant]
        known = [float(weight) for weight in found if weight is not None]
        if not known or len(known) < len(found):
            continue
        name = str(given.get("name") or word)
        titled = word if name == word else f"{word} ({name})"
        yield NeededQuantity(f"weight of {titled} rolls", sum(known), TENTH)
        delivery = here.part("delivery")
        if delivery is not None:
            full = min(len(known), int(delivery.get("rolls_a_pallet") or ROLLS_A_PALLET))
            pallet = delivery.get("pallet_weight_lb")
            yield NeededQuantity(f"heaviest pallet of {titled}",
                                 full * max(known) + float(PALLET if pallet is None else pallet), TENTH)
        yield from _heaviest_piece(here, product, titled, by_length)


def _heaviest_piece(here: MeasuredJob, product: str, titled: str, by_length: Mapping[int, Any],
                    ) -> Iterator[NeededQuantity]:
    """Yield what the largest rectangle weighs, at the weight of the roll that is heaviest by its area."""
    width = here.width(product)
    sizes = [piece.length * piece.width for piece in here.plan.pieces if piece.product == product]
    rates = [float(weight) / (length * width) for length, weight in by_length.items() if weight and width]
    if sizes and rates:
        yield NeededQuantity(f"heaviest piece of {titled}", max(sizes) * max(rates), TENTH)


# --- working days ------------------------------------------------------------------------------

def days(here: MeasuredJob, surface: float, bar: float) -> tuple[int, int]:
    """Return the least and the most days that the crew works; none without a crew.

    Everything is done one after the other, at so much a day; what has no rate takes no time, but drops always have
    one, and board goes on as fast as drops where it has none.

    Parameters
    ----------
    here
        The job.
    surface, bar
        Area that is primed once, and length of bar, as the takeoff tells them [square feet or metres, feet or metres].
    """
    labour = here.part("labour")
    if labour is None:
        return 0, 0
    drops = labour.get("drops_per_day") or USUAL_DROPS_A_DAY
    primer = here.part("primer")
    coats = int(primer.get("coats") or 1) if primer is not None else 0
    strips = [piece for piece in here.reinforcing if piece.kind.endswith("strip")]
    board = sum(drop.layer != FIELD for drop in here.plan.drops)
    work = [
        (Fraction(surface) * coats, labour.get("primer_per_day"), 3 * TENTH * coats),
        (_feet(here, strips), labour.get("strip_per_day"), 0.0),
        (Fraction(len(here.reinforcing) - len(strips)), labour.get("small_per_day"), 0.0),
        (Fraction(sum(drop.layer == FIELD for drop in here.plan.drops)), drops, 0.0),
        (Fraction(bar) if here.part("termination_bar") is not None else Fraction(0), labour.get("bar_per_day"),
         4 * HUNDREDTH),
        (Fraction(board), labour.get("board_per_day") or drops, 0.0),
    ]
    timed = [(amount, Fraction(str(a_day)), Fraction(off)) for amount, a_day, off in work if a_day and amount]
    low = sum((max(amount - off, Fraction(0)) / a_day for amount, a_day, off in timed), Fraction(0))
    high = sum(((amount + off) / a_day for amount, a_day, off in timed), Fraction(0))
    return math.ceil(low), math.ceil(high)


def _feet(here: MeasuredJob, strips: Iterable[WrittenPiece]) -> Fraction:
    """Return the length of strips in feet or metres."""
    return Fraction(sum(strip.length for strip in strips), 12 * here.unit.ticks if here.unit.name == "in" else 1000)
