"""The drainage board: each run's second layer, developed flat like the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from layout.faces import develop_run
from layout.records import DRAINAGE, DrainageBoard, Job, Product, Rules, Run, Seam, SeamClearance, Wall
from layout.shapes import value


def board_product(board: DrainageBoard) -> Product:
    """Return the board as the sheet it is on the wall: as wide as its panel and its flap together.

    A job gives the panel's width alone; the flap stands out past one edge and lies on the neighbour, so that the
    panels themselves butt.
    """
    product, flap = board.product, board.flap
    return replace(
        product, width=product.width + flap,
        rolls=tuple(replace(roll, width=roll.width + flap) for roll in product.rolls),
        remnants=tuple(replace(remnant, width=remnant.width + flap) for remnant in product.remnants),
    )


def board_rules(job: Job, board: DrainageBoard) -> Rules:
    """Return the rules that the board is laid by.

    Neighbours and end laps lap by the flap; the board ends on the ledge and is cut tight around openings and sleeves.
    Everything else is as for the sheet.
    """
    return replace(
        job.rules, side_lap=board.flap, end_lap=board.flap, turn_down=(0, 0), fillet=0, opening_return=0,
        min_width=board.min_width, max_piece=board.max_piece,
    )


def develop_board(run: Run, job: Job) -> Wall | None:
    """Develop one run flat for the drainage board.

    Parameters
    ----------
    run
        One of the job's runs.
    job
        For the board and the rules.

    Returns
    -------
    Wall or None
        What the board must cover: from ``top_below_grade`` under finished grade (from the membrane's line where no
        grade is given), down to the ledge; nothing along a door that stands on the footing. None when the job has no
        board, or when the ground leaves some stretch of the run no height for one.

    Notes
    -----
    The board stops at the wall/footing joint: no ledge, no turn-down, no fillet. Where the membrane's line is lower
    than the board's would be, the board ends with the membrane.
    """
    board = job.extras.drainage_board
    if board is None:
        return None
    flat = replace(run, faces=tuple(replace(face, ledge=0) for face in run.faces))
    below = -board.top_below_grade
    lowest = min(below, job.rules.above_grade) if job.rules.top == "grade" else below
    graded = all(face.grade is not None for face in run.faces)
    rules = replace(board_rules(job, board), top="grade" if graded else "wall", above_grade=lowest)
    unopened = replace(flat, faces=tuple(replace(face, openings=()) for face in flat.faces))
    if not _has_height(develop_run(unopened, rules, turn_down=0)):
        return None
    return replace(develop_run(flat, rules, turn_down=0), layer=DRAINAGE)


def _has_height(wall: Wall) -> bool:
    """Tell whether the ground leaves the board a tick of height or more everywhere along a run."""
    stations = {x for x, _ in wall.top} | {x for x, _ in wall.bottom}
    for station in sorted(stations):
        for side in (False, True):
            if value(wall.top, station, from_right=side) < value(wall.bottom, station, from_right=side) + 1:
                return False
    return True


def board_keeps(wall: Wall, seams: Sequence[Seam], *, clear: int) -> Wall:
    """Return the board's wall with the membrane's seams among what its own seams keep clear of.

    Parameters
    ----------
    wall
        The board's developed wall.
    seams
        The membrane's seams; those of other runs are left out.
    clear
        How far the seams of the two layers keep apart [ticks].
    """
    added: list[SeamClearance] = []
    for seam in seams:
        if seam.run != wall.run or seam.layer == wall.layer or not clear:
            continue
        shift = -wall.length if wall.closed and seam.left_edge >= wall.length else 0
        added.append(SeamClearance(
            "board_seam", f"{seam.left}/{seam.right}", seam.left_edge + shift, seam.right_edge + shift, clear,
        ))
    keeps = sorted((*wall.keeps, *added), key=lambda keep: (keep.left, keep.right, keep.rule, keep.tag))
    return replace(wall, keeps=tuple(keeps))
