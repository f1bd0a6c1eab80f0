"""A small plan made by hand from the records, for the packet's tests: a basement with a window and sleeves."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from layout.records import (
    Cut, Cutting, Drop, Face, FaceSpan, Hole, Job, JobInfo, Leftover, Opening, Piece, Plan, Product, Quantity,
    Roll, RollStock, RuleException, Rules, Run, Seam, SeamClearance, Sleeve, SleeveHole, Slit, Wall,
)
from layout.shapes import circle_ring
from layout.units import INCH, read_length


def t(text: str) -> int:
    """Return a length in ticks of 1/16 in."""
    ticks = read_length(text, INCH)
    assert ticks.denominator == 1
    return int(ticks)


RULES = Rules(
    side_lap=t('2 1/2"'), end_lap=t('5"'), end_lap_stagger=t('12"'), top="wall", above_grade=0,
    turn_down=(t('4"'), t('6"')), fillet=t('3/4"'), opening_return=0, min_width=t('12"'), max_piece=t("12'-0\""),
    clear_of_corner=t('6"'), clear_of_sleeve=t('6"'), clear_of_opening=t('6"'), clear_of_step=t('6"'),
    corner_strip=t('12"'), base_strip=t('12"'), base_strip_up=t('4"'), collar_reach=t('6"'), cover_lap=t('6"'),
    cut_allowance=0,
    cut_to=1, keep_remnant=t("4'-0\""),
)
W, H, TOE = t('36"'), t("8'-0\""), t('9 9/16"')
STEP = W - RULES.side_lap


def crew_plan(
    *, name: str = "Alder Row basement", run: str = "A", face: str = "South", sleeve: str = "P1",
    window: str = "W1", film_side_up: bool = True, remnant: str = "K1",
) -> Plan:
    """Return the plan of one 12'-0" face and a short return, with names of the caller's choice.

    Four drops on the face, one bent around the corner; a window cut into two of them, a sleeve inside one and one
    across an edge; one remnant and two rolls.
    """
    faces = (
        Face(face, t("12'-0\""), ((0, H),), ((0, 0),), t('6"'), t('12"'), ((0, t("7'-4\"")),), "outside", 90.0,
             (Opening(window, "window", t("4'-0\""), t("5'-2\""), t("2'-6\""), t("2'-0\"")),),
             (Sleeve(sleeve, t("1'-3\""), t("2'-6\""), t('4"')),)),
        Face("Return", t("1'-6\""), ((0, H),), ((0, 0),), t('6"'), t('12"'), ((0, t("7'-4\"")),), "none", 90.0),
    )
    length = t("13'-6\"")
    membrane = Product("membrane", W, (RollStock(t("66'-8\""), W, Decimal("205")),))
    job = Job(
        JobInfo(name, "24-118", "Harrow Lane", "M. Ostrander", "2026-05-04"), INCH, membrane, membrane, "sheet",
        RULES, (Run(run, False, faces, flow="right"),), film_side_up,
    )
    spans = (FaceSpan(face, 0, t("12'-0\""), "outside", 90.0, t('6"'), TOE, t('12"')),
             FaceSpan("Return", t("12'-0\""), length, "none", 90.0, t('6"'), TOE, t('12"')))
    wall = Wall(
        run, "membrane", False, length, t('4"'), spans, ((0, H), (length, H)), ((0, -TOE), (length, -TOE)),
        ((0, 0), (length, 0)), ((0, H), (length, H)), ((0, t("7'-4\"")), (length, t("7'-4\""))),
        (Hole(window, "window", t("4'-0\""), t("6'-6\""), t("5'-2\""), t("7'-2\"")),),
        (SleeveHole(sleeve, t("1'-3\""), t("2'-6\""), t('4"')),),
        (SeamClearance("clear_of_corner", "corner", t("12'-0\""), t("12'-0\""), t('6"')),), ((0, length, "right"),),
        ("The footing is level: water is taken to run right.",),
    )
    drops, seams, pieces = _field(run, face, wall, sleeve)
    strip = Piece(f"{run}-C1", "corner strip", "membrane", run, face, "membrane", H, t('12"'), False,
                  ((0, H), (t('12"'), H), (t('12"'), 0), (0, 0)),
                  slits=(Slit((t('6"'), t('9"')), (t('6"'), 0), "outside corner"),))
    pieces = (*pieces, strip)
    cutting = _cutting(pieces, remnant)
    return Plan(
        job, (wall,), drops, seams, pieces, (cutting,),
        (RuleException("clear_of_corner", run, t("12'-0\""), t('6"'), t('3 1/2"'), "the return is too short",
                       "a wider sheet"),),
        (Quantity("primer", "gal", Decimal("0.42"), Decimal("1"), "1 gal can", Decimal("48.50"), Decimal("48.50"),
                  "126 sq ft at 300 sq ft a gal"),
         Quantity("termination bar", "ft", Decimal("13.5"), Decimal("20"), "10 ft length", basis="13.5 ft of top")),
        ("Water is taken to run right.",), ({"rule": "turn_down", "rolls": 0, "text": "nothing to save"},),
        Decimal("205"), True,
    )


def _field(
    run: str, face: str, wall: Wall, sleeve: str,
) -> tuple[tuple[Drop, ...], tuple[Seam, ...], tuple[Piece, ...]]:
    """Return five drops left to right; the window takes a bite out of the second and third."""
    lefts = [0, STEP, 2 * STEP, 3 * STEP, wall.length - W]
    drops, seams, pieces = [], [], []
    window = wall.holes[0]
    for number, left in enumerate(lefts, start=1):
        tag, right = f"{run}-{number:02d}", left + W
        bite_left, bite_right = max(left, window.left), min(right, window.right)
        outline = [(left, H), (right, H), (right, -TOE), (left, -TOE)]
        if bite_left < bite_right and bite_right == right:
            outline[2:2] = [(right, window.top), (bite_left, window.top), (bite_left, window.bottom),
                            (right, window.bottom)]
        elif bite_left < bite_right:
            outline += [(left, window.bottom), (bite_right, window.bottom), (bite_right, window.top),
                        (left, window.top)]
        hole = wall.rounds[0]
        inside = left < hole.x < right
        slits = (Slit((t("12'-0\""), 0), (t("12'-0\""), -TOE), "outside corner"),) if number == 5 else ()
        pieces.append(Piece(
            tag, "drop", "membrane", run, face, "membrane", H + TOE, W, True, tuple(outline),
            holes=(circle_ring(hole.x, hole.y, hole.diameter),) if inside else (), slits=slits,
            sleeves=((sleeve, hole.x, hole.y, hole.diameter),) if inside else (), drop=tag, install=6 - number,
        ))
        drops.append(Drop(tag, run, "membrane", left, right, 6 - number, (tag,)))
    for left_drop, right_drop in zip(drops, drops[1:]):
        seams.append(Seam(run, "membrane", right_drop.left, left_drop.right, left_drop.tag, right_drop.tag,
                          left_drop.tag, tuck=left_drop is drops[0]))
    return tuple(drops), tuple(seams), tuple(pieces)


def _cutting(pieces: tuple[Piece, ...], remnant: str) -> Cutting:
    """Cut the strip and one drop from a remnant, the other four drops from a roll."""
    field, strip = pieces[:-1], pieces[-1]
    first, rest = field[0], field[1:]
    stock = t("21'-4\"")
    on_remnant = (Cut(first.tag, 0, 0, first.length, W),
                  Cut(strip.tag, first.length, 0, strip.length, strip.width))
    left = stock - first.length - strip.length
    rolls = [Roll("R01", "membrane", remnant, True, stock, W, None, on_remnant, Leftover(left, W, False))]
    at, cuts = 0, []
    for piece in rest:
        cuts.append(Cut(piece.tag, at, 0, piece.length, W))
        at += piece.length
    whole = t("66'-8\"")
    rolls.append(Roll("R02", "membrane", "66'-8\"", False, whole, W, Decimal("205"), tuple(cuts),
                      Leftover(whole - at, W, True)))
    return Cutting("membrane", tuple(rolls), Decimal("205"), Decimal("205"), 1, True, 1)


def with_pieces(plan: Plan, *pieces: Piece) -> Plan:
    """Return a plan with its pieces of the same tags replaced."""
    new = {piece.tag: piece for piece in pieces}
    return replace(plan, pieces=tuple(new.get(piece.tag, piece) for piece in plan.pieces))
