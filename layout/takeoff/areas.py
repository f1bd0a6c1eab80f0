"""Where every square foot ordered went; the figures add up exactly as they are written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from layout.counts import FIELD_KINDS
from layout.records import MEMBRANE, Cutting, Piece, Plan, Roll
from layout.shapes import must_cover, ring_area
from layout.units import Unit

PLACES = Decimal("0.0001")
"""Areas are written to a ten-thousandth of a square foot or metre: far under one tick by one sheet width."""

TENTH = Decimal("0.1")
"""Areas are told to people to a tenth."""


@dataclass(frozen=True)
class Areas:
    """Where the sheet of one product went [square feet or square metres].

    Parameters
    ----------
    to_cover
        What must be covered: the wall from the membrane line to the sheet's end, less openings and sleeves.
    laps
        Sheet on the wall beyond that: laps, reinforcing, what wraps past an end.
    cut_away
        Cut out of the pieces' rectangles and not used for other pieces: openings, steps, slopes, sleeves, allowance.
    leftover_kept
        Roll ends long enough to be stock.
    scrap
        The rest.
    ordered
        All rolls and remnants opened; the sum of the five above.
    reinforcing
        The share of ``laps`` that is strips, collars and covers.
    from_remnants
        The share of ``ordered`` that was in stock already.
    """

    to_cover: Decimal
    laps: Decimal
    cut_away: Decimal
    leftover_kept: Decimal
    scrap: Decimal
    ordered: Decimal
    reinforcing: Decimal
    from_remnants: Decimal

    @property
    def bought(self) -> Decimal:
        """The share of ``ordered`` that is bought."""
        return self.ordered - self.from_remnants

    def told(self) -> Areas:
        """Return the areas as people are told them: to a tenth, and still adding up.

        Each of the five parts is cut to a tenth, and the tenths still wanting go to those that lost most. What is
        bought and what comes from remnants add up likewise.

        Examples
        --------
        >>> whole = [Decimal(each) for each in ("10.36", "2.26", "0.08", "1.0", "0.2", "13.9", "0", "0")]
        >>> told = Areas(*whole).told()
        >>> str(told.to_cover), str(told.laps), str(told.cut_away), str(told.ordered)
        ('10.4', '2.2', '0.1', '13.9')
        """
        ordered = _tenth(self.ordered)
        names = ("to_cover", "laps", "cut_away", "leftover_kept", "scrap")
        exact = [getattr(self, name) for name in names]
        down = [value.quantize(TENTH, ROUND_FLOOR) for value in exact]
        wanting = int((ordered - sum(down)) / TENTH)
        for i in sorted(range(len(names)), key=lambda i: (down[i] - exact[i], i))[:max(wanting, 0)]:
            down[i] += TENTH
        to_cover, laps, cut_away, kept, scrap = down
        return Areas(to_cover, laps, cut_away, kept, scrap, ordered, _tenth(self.reinforcing),
                     _tenth(self.from_remnants))


def areas(plan: Plan, cutting: Cutting) -> Areas:
    """Return where the sheet of one product went.

    Parameters
    ----------
    plan
        The plan.
    cutting
        How one product is cut: its rolls, their pieces, and with them the walls whose field it covers.
    """
    tags = {cut.piece for roll in cutting.rolls for cut in roll.cuts}
    inside = {cut.piece for roll in cutting.rolls for cut in roll.cuts if cut.within}
    pieces = [piece for piece in plan.pieces if piece.tag in tags]
    unit = plan.job.unit
    field_layers = {piece.layer for piece in pieces if piece.kind in FIELD_KINDS}
    walls = [wall for wall in plan.walls if wall.layer in field_layers]
    rectangles = sum(piece.length * piece.width for piece in pieces if piece.tag not in inside)
    opened = sum(roll.length * roll.width for roll in cutting.rolls)
    kept = sum(roll.leftover.length * roll.leftover.width for roll in cutting.rolls if roll.leftover.keep)
    to_cover = _written(sum(must_cover(wall, 0, wall.length).area for wall in walls), unit)
    cut_away = _written(rectangles - _net(pieces), unit)
    leftover_kept = _written(kept, unit)
    ordered = _written(opened, unit)
    scrap = _written(opened - kept - rectangles, unit)
    return Areas(
        to_cover=to_cover, cut_away=cut_away, leftover_kept=leftover_kept, scrap=scrap, ordered=ordered,
        laps=ordered - to_cover - cut_away - leftover_kept - scrap,
        reinforcing=_written(_net(piece for piece in pieces if piece.kind not in FIELD_KINDS), unit),
        from_remnants=_written(sum(roll.length * roll.width for roll in cutting.rolls if roll.remnant), unit),
    )


def field_cutting(plan: Plan) -> Cutting | None:
    """Return how the field's sheet is cut: the cutting that holds the membrane's drops."""
    field = {piece.tag for piece in plan.pieces if piece.kind == "drop" and piece.layer == MEMBRANE}
    for cutting in plan.cuttings:
        if any(cut.piece in field for roll in cutting.rolls for cut in roll.cuts):
            return cutting
    return None


def _tenth(value: Decimal) -> Decimal:
    return value.quantize(TENTH, ROUND_HALF_EVEN)


def _net(pieces: Iterable[Piece]) -> float:
    """Return the area of pieces as cut out [square ticks]."""
    return sum(ring_area(piece.outline, piece.holes) for piece in pieces)


def roll_area(roll: Roll, unit: Unit) -> Decimal:
    """Return the area of a whole roll [square feet or square metres]."""
    return _written(roll.length * roll.width, unit)


def _written(square_ticks: float, unit: Unit) -> Decimal:
    """Return an area as written: exact from ticks, then rounded once."""
    whole = Fraction(square_ticks) / ((unit.ticks * 12) ** 2 if unit.name == "in" else 10 ** 6)
    return (Decimal(whole.numerator) / Decimal(whole.denominator)).quantize(PLACES, ROUND_HALF_EVEN)
