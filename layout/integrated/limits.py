"""How far the integrated search goes: while one waits, and when it is told to be thorough.

All are counts of work, never of time, so that the same job gives the same plan.
"""

from __future__ import annotations

from dataclasses import dataclass

from layout.rolls import Effort

FIRST = Effort(rounds=400, laned=0, dives=1, boxes=24)
"""How far the first layouts are cut, and the best ones in the end. Of 159 cuttings column generation closed 120, dives
14 and branching on roll counts 19."""
TRIAL = Effort(rounds=400, laned=0, dives=1, boxes=4)
"""How far layouts are cut that are only tried: the linear program mostly tells whether they can cost less."""


@dataclass(frozen=True)
class Limits:
    """How far one search goes.

    Parameters
    ----------
    rounds
        Times that the worths of lengths are asked for.
    placing
        Work of placing all runs in these rounds, by ``search.work``; one round is made in any case, for a bound that
        knows the laps. None: no limit.
    patience
        Rounds in a row that may bring neither a better bound nor a better cutting.
    paired_turns
        Rounds in which narrow drops are paired: first at lengths as their own worth, then at other worths too.
    pair_rounds
        Rounds of pairing in each: even widths first, then such as leave no room beside the narrow drops of the best
        choices.
    widths
        Widths up to which drops count as narrow that are tried in one round of pairing, one placing each.
    choices
        Choices of known layouts that are cut after one round of pairing, as long as they may cost less.
    paired
        Of these in all.
    trials
        Sets of layouts, one found in each round, that are cut.
    steps
        Steps of the simplex method that all cuttings together may take.
    """

    rounds: int
    placing: int | None
    patience: int
    paired_turns: int
    pair_rounds: int
    widths: int
    choices: int
    paired: int
    trials: int
    steps: int

    def allowed(self, placing: int) -> int:
        """Return the rounds that may be made where one placing of all runs is so much work."""
        return self.rounds if self.placing is None else max(1, min(self.rounds, self.placing // max(1, placing)))


QUICK = Limits(
    rounds=24,  # more prove more, seldom cut less
    placing=600_000,  # two or three seconds of placing
    patience=2,  # worths go by turns: the program's, and half way to them
    paired_turns=1,  # at lengths as their own worth, which hardly any later worths are far from
    pair_rounds=3,  # even widths, then twice such as the best choices leave room for
    widths=7,  # steps of about two inches between the widest and the narrowest; more made no job cheaper
    choices=6,  # the first take the least; later ones are much like them
    paired=14,  # where small pieces find no room beside any of so many, more seldom help
    trials=10,  # one a round, and rounds end sooner where they bring nothing
    steps=100_000,  # some seconds
)
"""For a plan while one waits."""
THOROUGH = Limits(
    rounds=24, placing=None, patience=6, paired_turns=4, pair_rounds=6, widths=9, choices=6, paired=200, trials=40,
    steps=10_000_000,
)
"""For ``--thorough``: rounds that bring nothing end it, hardly ever the counts, which only keep it from running on."""
