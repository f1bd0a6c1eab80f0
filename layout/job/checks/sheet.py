"""Checks of the sheet and the other products in rolls, and of the rules against them."""

from __future__ import annotations

from collections.abc import Sequence

from layout.job.checks.spot import CheckSpot, attempt
from layout.job.limits import MAX_REMNANTS, MAX_ROLLS
from layout.job.model import JobPart, RulesPart
from layout.job.stock import RemnantPart, RollPart, SheetPart
from layout.units import inches


def check_sheet(job: JobPart, spot: CheckSpot) -> None:
    """Check the sheet, its rolls and remnants, and the rules that depend on them."""
    attempt(_stock, job, spot.at("sheet"))
    here = spot.at("rules")
    attempt(_roll_end, job, here)
    attempt(_min_width, job, here)
    attempt(_side_lap, job, here)
    attempt(_end_lap, job, here)
    attempt(_max_piece, job, here)


def _stock(job: JobPart, spot: CheckSpot) -> None:
    sheet: SheetPart = job.sheet
    attempt(lambda: check_prices(sheet.rolls, spot.at("rolls")))
    attempt(lambda: check_remnants(sheet.remnants, sheet.width, spot.at("remnants")))


def _min_width(job: JobPart, spot: CheckSpot) -> None:
    check_at_most(job.rules.min_width, job.sheet.width, "the sheet's width", spot.at("min_width"))


def _side_lap(job: JobPart, spot: CheckSpot) -> None:
    rules: RulesPart = job.rules
    if rules.side_lap >= rules.min_width:
        spot.at("side_lap").say(f"must be less than min_width, {inches(rules.min_width, spot.unit)}",
                                got=inches(rules.side_lap, spot.unit))


def _end_lap(job: JobPart, spot: CheckSpot) -> None:
    rules: RulesPart = job.rules
    if rules.end_lap >= rules.max_piece:
        spot.at("end_lap").say(f"must be less than max_piece, {spot.tape(rules.max_piece)}",
                               got=spot.tape(rules.end_lap))


def _roll_end(job: JobPart, spot: CheckSpot) -> None:
    shortest = min(roll.length for roll in job.sheet.rolls)
    if 2 * job.rules.roll_end > shortest:
        spot.at("roll_end").say(f"must be at most half the shortest roll, {spot.tape(shortest)}",
                                got=spot.tape(job.rules.roll_end))


def _max_piece(job: JobPart, spot: CheckSpot) -> None:
    check_max_piece(job.rules.max_piece, job.sheet.rolls, job.rules.roll_end, spot.at("max_piece"))


# --- what every product in rolls must keep -----------------------------------------------------

def check_at_most(length: int, most: int, what: str, spot: CheckSpot) -> None:
    """Tell a width that is more than another."""
    if length > most:
        spot.say(f"must be at most {what}, {inches(most, spot.unit)}", got=inches(length, spot.unit))


def check_max_piece(max_piece: int, rolls: Sequence[RollPart], roll_end: int, spot: CheckSpot) -> None:
    """Tell a longest piece that no roll is long enough for."""
    longest = max(roll.length for roll in rolls) - roll_end
    less = " less roll_end" if roll_end else ""
    if max_piece > longest:
        spot.say(f"must be at most the longest roll{less}, {spot.tape(longest)}", got=spot.tape(max_piece))


def check_prices(rolls: Sequence[RollPart], spot: CheckSpot) -> None:
    """Tell the first roll without a price where others have one, as a total would leave it out, and too many kinds."""
    if len(rolls) > MAX_ROLLS:
        spot.say(f"must be at most {MAX_ROLLS} kinds of roll", got=f"{len(rolls):,}")
    priced = [roll.price is not None for roll in rolls]
    if any(priced) and not all(priced):
        spot.at(priced.index(False)).say("must have a price, as other rolls have one", got="")


def check_remnants(remnants: Sequence[RemnantPart], width: int, spot: CheckSpot) -> None:
    """Tell remnants wider than the product they came from, tags given twice, and too many remnants."""
    if len(remnants) > MAX_REMNANTS:
        spot.say(f"must be at most {MAX_REMNANTS} remnants", got=f"{len(remnants):,}")
    for index, remnant in enumerate(remnants):
        attempt(_remnant_width, remnant, width, spot.at(index, "width"))
    seen: set[str] = set()
    for index, remnant in enumerate(remnants):
        tag = remnant.__dict__.get("tag")
        if tag in seen:
            spot.at(index, "tag").say("must be unlike every other remnant's tag")
        seen.add(tag or "")


def _remnant_width(remnant: RemnantPart, width: int, spot: CheckSpot) -> None:
    if remnant.width is not None:
        check_at_most(remnant.width, width, "the full width", spot)
