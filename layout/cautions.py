"""Cautions: where people get hurt at this work, each beside the rule that a reader can look up.

They are reminders in our own words. They decide nothing: local code, the sheet maker's instructions, the engineer and
the site's competent person do. Nothing here says that an excavation or a wall is safe, whatever the job holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from layout.records import Job
from layout.units import MM_PER_INCH

DEFERENCE = (
    "These are reminders, not a safety plan. Rules are those of the United States, as read in the edition named or an "
    "older one: check the current edition, and local law elsewhere. Local code, the sheet maker's instructions, the "
    "engineer and the site's competent person decide. Nothing in this packet says that an excavation or a wall is safe."
)
"""Printed with every set of cautions."""

_KG_A_POUND = Decimal("0.45359237")


@dataclass(frozen=True)
class Caution:
    """One caution: what it is about, what to mind, and the rule behind it."""

    topic: str
    text: str
    rule: str


def cautions(job: Job) -> tuple[Caution, ...]:
    """Return the cautions of a job: always all of them, with the job's own figures where it gives any.

    Parameters
    ----------
    job
        The job.

    Returns
    -------
    tuple
        Trench, way out, edge, fall, lift, solvent, blade, temperature and backfill, in the order of the work.
    """
    metric = job.unit.name == "mm"

    def feet(number: int) -> str:
        metres = Decimal(number) * 12 * Decimal(MM_PER_INCH.numerator) / Decimal(MM_PER_INCH.denominator) / 1000
        return f"{metres.quantize(Decimal('0.1'))} m ({number} ft)" if metric else f"{number} ft"

    return (
        Caution(
            "Trench",
            f"An excavation {feet(5)} deep or more calls for a protective system unless it is all in stable rock, and "
            "a shallower one too where the competent person sees any sign of cave-in. Nobody goes in before the "
            "competent person has looked at it that day, and again after rain.",
            "29 CFR 1926.652(a)(1), 1926.651(k)(1)",
        ),
        Caution(
            "Way out",
            f"In a trench {feet(4)} deep or more a ladder, ramp or stair must be within {feet(25)} of travel of every "
            f"person; a ladder stands about 1 out for 4 up and reaches {feet(3)} above the landing.",
            "29 CFR 1926.651(c)(2); 1926.1053(b) (its numbers from memory)",
        ),
        Caution(
            "Rolls at the edge",
            f"Rolls, cut piles and spoil stay at least {feet(2)} back from the edge.",
            "29 CFR 1926.651(j)(2) (its number from memory)",
        ),
        Caution(
            "Fall",
            f"The edge of an excavation {feet(6)} deep or more that is hard to see is guarded. Unrolling and carrying "
            "backwards towards the edge is how people go over it: lay sheets out away from it.",
            "29 CFR 1926.501(b)(7)",
        ),
        _lift(job),
        _solvent(job),
        Caution(
            "Blade",
            "Cut away from the body on a firm board, with a fresh blade and cut-resistant gloves; blades are covered "
            "when they travel, also down the trench.",
            "common practice; no single published rule",
        ),
        _temperature(job),
        Caution(
            "Backfill",
            "A wall is not backfilled before it is anchored or braced top and bottom as the engineer says, except "
            f"under {feet(4)} of unbalanced fill. Protect the sheet before anything is thrown against it, and place "
            "fill in lifts.",
            "IRC R404.1.7 (in our words)",
        ),
    )


def courses_caution() -> Caution:
    """Return the caution that stands beside every comparison with horizontal courses."""
    return Caution(
        "Horizontal courses",
        "Courses need more hands than drops: a long sheet is held level over its whole length, without a wrinkle, "
        "while it is stuck from one end, the upper ones from a scaffold in the excavation. Not every sheet may be hung "
        "so: the sheet maker's instructions decide.",
        "common practice; no single published rule",
    )


def _lift(job: Job) -> Caution:
    """Return the caution on lifting, with the heaviest roll that the job names."""
    labour = job.extras.labour
    limit = labour.lift_limit_lb if labour else Decimal(51)
    weights = [roll.weight_lb for roll in job.sheet.rolls if roll.weight_lb is not None]
    two = "more than one person should lift alone, so use two people or a cart."
    if not weights:
        here = f"A 200 sq ft roll of 60 mil sheet weighs about 62 to 75 lb by arithmetic: {two}"
    elif max(weights) > limit:
        here = f"The heaviest roll of this job is given as {_weight(max(weights), job)}: {two}"
    else:
        here = (f"The heaviest roll of this job is given as {_weight(max(weights), job)}: weigh a lift by reach and "
                "footing too, not by the number alone.")
    return Caution(
        "Lift",
        f"{here} The load constant for a lift under the best conditions is {_weight(Decimal(51), job)}; down a "
        "ladder or over a trench it is far less.",
        "NIOSH Publication 94-110 (rev. 2021)",
    )


def _weight(pounds: Decimal, job: Job) -> str:
    if job.unit.name == "in":
        return f"{pounds.normalize():f} lb"
    return f"{(pounds * _KG_A_POUND).quantize(Decimal(1))} kg"


def _solvent(job: Job) -> Caution:
    """Return the caution on solvent primers, and on foam forms."""
    primer, substrate = job.extras.primer, job.extras.substrate
    start = "A solvent primer gives off vapour that is heavier than air and lies in a trench."
    if primer and primer.solvent:
        start = "The primer of this job is a solvent one: its vapour is heavier than air and lies in a trench."
    elif primer:
        start = "The job gives its primer as free of organic solvent; the label and the data sheet rule."
    foam = "Solvent products do not go on foam forms."
    if substrate and substrate.foam_forms:
        foam = "These walls are in foam forms: no organic-solvent product may touch them."
    return Caution(
        "Solvent",
        f"{start} Keep flame and sparks away, see that air moves, and read the safety data sheet before the can is "
        f"opened. {foam}",
        "29 CFR 1926.59 and 1910.1200 (from memory); IRC R406.2, exception",
    )


def _temperature(job: Job) -> Caution:
    """Return the caution on the temperature of air and wall."""
    given = job.extras.temperature
    sign = "°F" if job.unit.name == "in" else "°C"
    usual = "40 °F" if job.unit.name == "in" else "4 °C (40 °F)"
    text = f"Many sheets ask for at least about {usual}, air and wall, and a dry, frost-free surface."
    if given and (given.least is not None or given.most is not None):
        parts = [f"{word} {value.normalize():f} {sign}" for word, value in
                 (("not below", given.least), ("not above", given.most)) if value is not None]
        text = f"The job gives the range of the product: {' and '.join(parts)}."
    return Caution(
        "Temperature",
        f"{text} Sheets grow soft and slippery in the heat. The maker's data sheet rules.",
        "common practice (from memory); the maker's data sheet",
    )
