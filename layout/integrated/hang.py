"""Chosen layouts -> pieces -> rolls, for each layer and product."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from layout.board import board_keeps, board_product, board_rules, develop_board
from layout.drops import Layout, place
from layout.pieces import field_pieces
from layout.records import DRAINAGE, MEMBRANE, STRIP, Cutting, Drop, Job, Piece, Product, RuleException, Seam, Wall
from layout.rolls import Effort, best_cutting

Progress = Callable[[str], None]
Stop = Callable[[], bool]

PREFIXES = {MEMBRANE: "R", STRIP: "S", DRAINAGE: "D", "termination bar": "T"}
"""What the tags of each product's rolls begin with."""


@dataclass(frozen=True)
class Hung:
    """What hangs on some walls: drops, seams, pieces, and the rules they break."""

    walls: tuple[Wall, ...] = ()
    drops: tuple[Drop, ...] = ()
    seams: tuple[Seam, ...] = ()
    pieces: tuple[Piece, ...] = ()
    broken: tuple[RuleException, ...] = ()


def hang(job: Job, wall: Wall, layout: Layout) -> Hung:
    """Cut a run's layout into pieces of sheet."""
    drops, pieces = field_pieces(wall, layout.drops, layout.splits, job.rules, product=wall.layer)
    broken = tuple(replace(each, layer=wall.layer) for each in layout.broken)
    return Hung((wall,), drops, tuple(layout.seams), pieces, broken)


def cut_product(
    job: Job, name: str, product: Product, pieces: Sequence[Piece], *, stop: Stop, effort: Effort = Effort(),
) -> Cutting:
    """Cut the pieces of one product from its rolls, in hanging order: by run, by install, lower pieces first."""
    wanted = [piece for piece in pieces if piece.product == name]
    runs = {run.name: number for number, run in enumerate(job.runs)}
    wanted.sort(key=lambda piece: (runs.get(piece.run, 0), piece.install, min(y for _, y in piece.outline), piece.tag))
    made = best_cutting(
        wanted, product, unit=job.unit, keep_remnant=job.rules.keep_remnant, effort=replace(effort, stop=stop),
        prefix=PREFIXES[name], mirrored=not job.film_side_up,
    )
    return replace(made, product=name, rolls=tuple(replace(roll, product=name) for roll in made.rolls))


def hang_board(job: Job, field: Hung, *, progress: Progress, stop: Stop) -> tuple[Hung, list[Cutting]]:
    """Lay the drainage board, when the job has one, its seams off the membrane's."""
    board = job.extras.drainage_board
    if board is None:
        return Hung(), []
    product, rules = board_product(board), board_rules(job, board)
    laid = replace(job, rules=rules)
    parts: list[Hung] = []
    for run in job.runs:
        developed = develop_board(run, job)
        if developed is None:
            continue
        progress(f"laying the drainage board of run {run.name}")
        wall = board_keeps(developed, field.seams, clear=board.seams_apart)
        layout = place(
            wall, rules, width=product.width, side_lap=rules.side_lap, prefix=f"{run.name}-B", unit=job.unit,
        )
        part = hang(laid, wall, layout)
        # a door down to the footing can leave a drop nothing to cover: such a run is laid out by hand
        if all(drop.pieces for drop in part.drops):
            parts.append(part)
    hung = joined_runs(parts)
    return hung, [cut_product(job, DRAINAGE, product, hung.pieces, stop=stop)] if parts else []


def joined_runs(parts: Sequence[Hung]) -> Hung:
    """Return what hangs on several runs as one."""
    return Hung(
        walls=tuple(wall for part in parts for wall in part.walls),
        drops=tuple(drop for part in parts for drop in part.drops),
        seams=tuple(seam for part in parts for seam in part.seams),
        pieces=tuple(piece for part in parts for piece in part.pieces),
        broken=tuple(broken for part in parts for broken in part.broken),
    )
