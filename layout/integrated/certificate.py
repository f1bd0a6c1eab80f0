"""What separate code needs to check a bound over all layouts: worths of lengths, the least worth of each run."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from layout.integrated.market import Market, Worth

MOST_RISES = 100_000
"""Steps of worths that are written; of finer ones no bound is claimed."""
MOST_WORTH = 1 << 24
"""No roll is worth as much, so that sums over a wall are told apart from clearances that are missed."""


class RunLeast(NamedTuple):
    """What every layout of a run breaks of clearances [ticks], and is worth that breaks no more, times the width."""

    run: str
    closed: bool
    violation: int
    least: int


class Claim(NamedTuple):
    """What proves a bound."""

    worth: Worth
    runs: tuple[RunLeast, ...]


def area_certificate(bound: int) -> dict[str, object]:
    """Return the certificate of a bound by the area of walls alone."""
    return {"by": "area", "bound": bound}


def by_worths(market: Market, claim: Claim, bound: int, *, grain: int) -> Mapping[str, object] | None:
    """Return the certificate of a bound by worths of lengths; None when it would be too large.

    Parameters
    ----------
    market
        Whose worths they are.
    claim
        What proves it.
    bound
        In whole steps of money.
    grain
        All cut lengths are multiples of it [ticks].

    Notes
    -----
    What is asked beyond what the bound needs is taken off closed runs: of these a lower claim is checked much sooner.
    """
    table = claim.worth.table[::grain]
    if len(table) > MOST_RISES or int(table[-1]) >= MOST_WORTH:
        return None
    coarse = Worth(np.repeat(table, grain)[:len(claim.worth.table)], claim.worth.scale)
    asked = market.asked(coarse, [each.least for each in claim.runs])
    low, high = 0, asked
    while low < high:
        middle = (low + high) // 2
        if market.bound(coarse, middle) >= bound:
            high = middle
        else:
            low = middle + 1
    spare, round_about = max(0, asked - low), sum(each.least for each in claim.runs if each.closed)
    return {
        "by": "worths", "bound": bound, "scale": claim.worth.scale, "grain": grain,
        "rises": np.diff(table).tolist(),
        "runs": [
            {"run": each.run, "violation": each.violation,
             "least": max(0, each.least - (spare * each.least // round_about if each.closed and round_about else 0))}
            for each in claim.runs
        ],
    }
