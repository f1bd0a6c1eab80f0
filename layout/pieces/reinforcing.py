"""Strips, collars and covers: what goes on before the field."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from layout.pieces.collars import collars, opening_corners
from layout.pieces.covers import covers
from layout.pieces.settle import sleeve_patches
from layout.pieces.strips import base_strips, corner_strips, top_strips
from layout.records import MEMBRANE, Drop, Job, Piece, RuleException, Wall


def reinforce(
    job: Job, walls: Sequence[Wall], drops: Sequence[Drop], pieces: Sequence[Piece],
) -> tuple[tuple[Piece, ...], tuple[RuleException, ...]]:
    """Return the reinforcing pieces of a job and the rules they break.

    Parameters
    ----------
    job
        For its rules, and for what strips are cut from.
    walls
        The developed walls of the membrane; other layers are left alone.
    drops, pieces
        What is placed already: no tag is used twice.

    Returns
    -------
    tuple
        Corner strips, base strips, top strips and opening corners where asked, collars, covers, and sleeve patches,
        run by run; and an exception for each base strip too narrow for its ledge.
    """
    made: list[Piece] = []
    broken: list[RuleException] = []
    for wall in walls:
        if wall.layer != MEMBRANE:
            continue
        along, short = base_strips(job, wall)
        made += [*corner_strips(job, wall), *along, *_asked(job, wall)]
        made += [*collars(job, wall), *covers(job, wall), *sleeve_patches(job, wall)]
        broken += short
    return _apart(made, {drop.tag for drop in drops} | {piece.tag for piece in pieces}), tuple(broken)


def _asked(job: Job, wall: Wall) -> list[Piece]:
    """Return the pieces that a job gets only when it asks for them."""
    width, side = job.extras.top_strip, job.extras.opening_corner
    made: list[Piece] = []
    if width:
        made += top_strips(job, wall, width)
    if side:
        made += opening_corners(job, wall, -(-side // 2))
    return made


def _apart(pieces: Sequence[Piece], taken: set[str]) -> tuple[Piece, ...]:
    """Return the pieces with a number after each tag that would be used twice."""
    seen: Counter[str] = Counter(taken)
    apart: list[Piece] = []
    for piece in pieces:
        tag = piece.tag
        while seen[tag]:
            seen[piece.tag] += 1
            tag = f"{piece.tag}.{seen[piece.tag]}"
        seen[tag] += 1
        apart.append(replace(piece, tag=tag))
    return tuple(apart)
