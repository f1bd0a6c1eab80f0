"""6xx covers and 10xx: the folding of one run's membrane, checked part by part."""

from __future__ import annotations

from collections.abc import Sequence

from layout.audit import closing, folding, held, lying
from layout.audit.asked import Asked
from layout.audit.coverage import HungLayer
from layout.audit.findings import Findings
from layout.audit.spread import Spread
from layout.audit.written import Written, WrittenPiece


def check_folds(plan: Written, hung: HungLayer, spread: Spread, asked: Asked, book: Findings) -> None:
    """Fold one run's pieces on to the concrete and note what does not fold, close or hold.

    Edges are walked only when everything before is sound: where a lap, a cover, a slit or a dab is wrong, what that
    leaves loose would only say it again.
    """
    run = hung.run
    made = spread.made
    pieces = [piece for piece in plan.pieces if piece.run == run.name and piece.layer == asked.layer]
    dabs = [dab for dab in plan.dabs if dab.run == run.name]
    breaks = folding.breaks_of(made, asked)
    _check_pieces(pieces, breaks, made_lying=lying.Surfaces(spread), hung=hung, asked=asked, book=book)
    flat = [piece for piece in pieces if piece.flat]
    covers = closing.Covers([piece for piece in pieces if not piece.flat])
    if not book.has_any((1006, 1007)):
        closing.check_open(closing.open_places(made, asked), covers, book)
    closing.check_sleeves(flat, [sleeve for face in run.faces for sleeve in face.sleeves if sleeve.projects], asked,
                          run.name, book)
    if not book.has_any(range(500, 700)):
        closing.check_ply_order(pieces, run.name, book)
    if not book.has_any((*range(600, 700), 1001, 1002, 1006, 1007)):
        weak = closing.weak_points(
            pieces, spread, folding.cut_openings(run, asked, float(asked.rules["fillet"])))
        known = [*closing.meeting_points(made, asked), *closing.inner_corners(pieces)]
        closing.check_dabs(dabs, weak, known, made, float(asked.rules["side_lap"]), book)
    if not book.findings():
        held.check_held(held.Plies(pieces, hung, spread, dabs, asked), run.name, book)


def _check_pieces(pieces: Sequence[WrittenPiece], breaks: Sequence[folding.Crease], *, made_lying: lying.Surfaces,
                  hung: HungLayer, asked: Asked, book: Findings) -> None:
    run = hung.run
    near = folding.Breaks(breaks, folding.cut_openings(run, asked, float(asked.rules["fillet"])))
    around = (0.0, run.length) if run.closed else (0.0,)
    sleeves = [folding.moved_sleeve(sleeve, by) for face in run.faces for sleeve in face.sleeves if sleeve.projects
               for by in around]
    for piece in pieces:
        if piece.flat:
            folding.check_flat(piece, piece.shape, near, sleeves, asked.unit, book)
        elif folding.check_pattern(piece, asked.unit, book):
            made_lying.check(piece, book)
