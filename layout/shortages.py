"""What will do when a length of roll is not to be had: the same pieces cut from the other lengths of the product."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from layout.board import board_product
from layout.errors import NoLayout
from layout.integrated import cut_product
from layout.records import DRAINAGE, MEMBRANE, STRIP, Cutting, Job, Plan, Product
from layout.rolls import Effort

MOST_PIECES = 600
"""Pieces of a product up to which other lengths are tried."""
QUICK = Effort(rounds=200, laned=0, dives=1, boxes=4)
"""How far pieces are cut for an answer to what would do instead."""


def products_of(job: Job) -> dict[str, Product]:
    """Return what pieces are cut from, by the word they have for it."""
    board = job.extras.drainage_board
    found = {MEMBRANE: job.sheet, STRIP: job.strip}
    return {**found, DRAINAGE: board_product(board)} if board else found


def shortages(plan: Plan, stop: Callable[[], bool]) -> dict[tuple[str, int], Cutting | None]:
    """Return for each length of roll that the plan buys how its product's pieces are cut without it.

    Parameters
    ----------
    plan
        The plan.
    stop
        Asked now and then; when it says yes, no more lengths are tried.

    Returns
    -------
    dict
        (product, length) -> the cutting, or None where the other lengths cannot hold the pieces. Products of one
        length, and of very many pieces, are left out.
    """
    found: dict[tuple[str, int], Cutting | None] = {}
    products = products_of(plan.job)
    for cutting in plan.cuttings:
        product = products.get(cutting.product)
        pieces = [piece for piece in plan.pieces if piece.product == cutting.product]
        if product is None or len(product.rolls) < 2 or len(pieces) > MOST_PIECES:
            continue
        for length in dict.fromkeys(roll.length for roll in cutting.rolls if not roll.remnant):
            if stop():
                return found
            others = replace(product, rolls=tuple(roll for roll in product.rolls if roll.length != length))
            if not others.rolls:
                continue
            try:
                found[cutting.product, length] = cut_product(
                    plan.job, cutting.product, others, pieces, stop=stop, effort=QUICK)
            except NoLayout:
                found[cutting.product, length] = None
    return found
