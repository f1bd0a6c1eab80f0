"""Checks of what the takeoff is told: strips, drainage board, primer, bar, temperatures."""

from __future__ import annotations

from layout.job.checks.sheet import check_at_most, check_max_piece, check_prices, check_remnants
from layout.job.checks.spot import CheckSpot, attempt
from layout.job.extras import DrainageBoardPart, TemperaturePart, TerminationBarPart
from layout.job.model import JobPart, widest_strip
from layout.units import inches


def check_extras(job: JobPart, spot: CheckSpot) -> None:
    """Check every product and condition that the job names beside the sheet."""
    attempt(_strip, job, spot.at("strip"))
    for name in ("corner_strip", "base_strip"):
        attempt(_strip_width, job, spot.at("rules", name))
    attempt(_strip_width, job, spot.at("top_strip"))
    attempt(_drainage_board, job, spot.at("drainage_board"))
    attempt(_primer, job, spot.at("primer", "solvent"))
    attempt(_termination_bar, job, spot.at("termination_bar"))
    attempt(_temperature, job, spot.at("temperature"))


def _strip(job: JobPart, spot: CheckSpot) -> None:
    strip = job.strip
    if strip is None:
        return
    if strip.source == "sheet":
        for name in ("width", "rolls", "remnants"):
            if strip.__dict__.get(name):
                spot.at(name).say("must not be given with from: sheet, as strips are then ripped from the sheet")
        return
    attempt(lambda: check_prices(strip.rolls, spot.at("rolls")))
    attempt(lambda: check_remnants(strip.remnants, strip.width or widest_strip(job), spot.at("remnants")))


def _strip_width(job: JobPart, spot: CheckSpot) -> None:
    name = str(spot.path[-1])
    asked = job.top_strip if name == "top_strip" else getattr(job.rules, name)
    if job.strip and job.strip.source == "sheet":
        check_at_most(asked, job.sheet.width, "the sheet's width", spot)
    elif job.strip and job.strip.width:
        check_at_most(asked, job.strip.width, "the strip's width", spot)


def _drainage_board(job: JobPart, spot: CheckSpot) -> None:
    board = job.drainage_board
    if board is None:
        return
    attempt(lambda: check_prices(board.rolls, spot.at("rolls")))
    attempt(lambda: check_remnants(board.remnants, board.width, spot.at("remnants")))
    attempt(lambda: check_max_piece(board.max_piece, board.rolls, job.rules.roll_end, spot.at("max_piece")))
    attempt(lambda: check_at_most(board.min_width, board.width, "the board's width", spot.at("min_width")))
    attempt(_flap, board, spot.at("flap"))


def _flap(board: DrainageBoardPart, spot: CheckSpot) -> None:
    if board.flap >= board.min_width:
        spot.say(f"must be less than min_width, {inches(board.min_width, spot.unit)}",
                 got=inches(board.flap, spot.unit))


def _primer(job: JobPart, spot: CheckSpot) -> None:
    if job.primer and job.substrate and job.primer.solvent and job.substrate.foam_forms:
        spot.say("must not be true with substrate.foam_forms: true",
                 hint="IRC R406.2 keeps organic-solvent products off foam forms")


def _termination_bar(job: JobPart, spot: CheckSpot) -> None:
    bar: TerminationBarPart | None = job.termination_bar
    if bar and 2 * bar.fastener_from_end >= bar.length:
        spot.at("fastener_from_end").say(f"must be less than half the bar, which is {spot.tape(bar.length)} long",
                                         got=inches(bar.fastener_from_end, spot.unit))


def _temperature(job: JobPart, spot: CheckSpot) -> None:
    given: TemperaturePart | None = job.temperature
    if given is None:
        return
    for low, high in (("least", "most"), ("expected_low", "expected_high")):
        lower, upper = given.__dict__.get(low), given.__dict__.get(high)
        if lower is not None and upper is not None and lower > upper:
            spot.at(low).say(f"must not be more than {high}, {upper}")
