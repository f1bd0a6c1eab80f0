"""Fit checks: whether the products of a job go together, and with published minimums."""

from __future__ import annotations

from decimal import Decimal

from layout.errors import Fault
from layout.records import Job
from layout.takeoff.figures import plain_number
from layout.units import inches

LEAST = {
    "side_lap": ("side lap", 40, 65, "UFGS 07131, 3.4"),
    "end_lap": ("end lap", 80, 127, "UFGS 07131, 3.4"),
    "collar_reach": ("collar's reach", 96, 150, "ASTM D5898, 7.3"),
    "corner_strip": ("corner strip", 192, 300, "ASTM D5898, 7.3: 6 in or 150 mm past the corner each way"),
}
"""Rule -> its name, the published least in 1/16 in and in mm, and the source: check the current edition."""

CONVERTED = {
    "in": {"side_lap": 41, "collar_reach": 95, "corner_strip": 189},
    "mm": {"side_lap": 64, "collar_reach": 153},
}
"""Lengths that give away a figure converted from the other system: 65, 150 and 300 mm in an inch job, 2 1/2 and 6 in
in a metric one, rounded up to the tick."""

LIFT_LB = Decimal(51)
"""Load constant for lifting, 51 lb (23 kg): NIOSH Publication 94-110 (rev. 2021)."""


def fit_checks(job: Job) -> tuple[tuple[Fault, ...], tuple[str, ...]]:
    """Return what makes a job impossible, and what its plan must say about how things go together.

    Parameters
    ----------
    job
        The job.

    Returns
    -------
    tuple
        Faults (the job is refused), and notes.

    Notes
    -----
    Organic-solvent products do not go on foam forms: IRC R406.2, exception (2018-type text). The other checks are
    notes, since the sheet maker's instructions rule.
    """
    return _foam(job), (*_laps(job), *_systems(job), *_lifting(job), *_temperature(job))


def _foam(job: Job) -> tuple[Fault, ...]:
    primer, substrate = job.extras.primer, job.extras.substrate
    if primer and substrate and primer.solvent and substrate.foam_forms:
        return (Fault(
            0, "primer.solvent", "must be false on foam forms: organic-solvent products do not go on foam plastic "
            "(IRC R406.2, exception)", "true", "use a water-based primer, or set substrate.foam_forms to false",
        ),)
    return ()


def _laps(job: Job) -> list[str]:
    """Return a note for each lap or strip below the published least."""
    notes: list[str] = []
    for rule, (name, inch, metric, source) in LEAST.items():
        found: int = getattr(job.rules, rule)
        least = inch if job.unit.name == "in" else metric
        if 0 < found < least and CONVERTED["mm"].get(rule) != found:
            notes.append(
                f"the {name} is {inches(found, job.unit)}, below the published least of {inches(least, job.unit)} "
                f"({source}; check the current edition)",
            )
    return notes


def _systems(job: Job) -> list[str]:
    """Return a note for each length that looks converted from the other system of units."""
    notes: list[str] = []
    here, there = ("inch", "metric") if job.unit.name == "in" else ("metric", "inch")
    for rule, ticks in CONVERTED[job.unit.name].items():
        if getattr(job.rules, rule) == ticks:
            name, inch, metric, _ = LEAST[rule]
            least = inch if job.unit.name == "in" else metric
            notes.append(
                f"the {name} of {inches(ticks, job.unit)} in this {here} job looks like the {there} figure converted; "
                f"the {here} one is {inches(least, job.unit)}, and the two systems are not to be mixed "
                "(ASTM D5898, 1.3)",
            )
    return notes


def _lifting(job: Job) -> list[str]:
    """Return a note for rolls heavier than one person should lift."""
    labour = job.extras.labour
    limit = labour.lift_limit_lb if labour else LIFT_LB
    heavy = sorted({roll.weight_lb for roll in job.sheet.rolls if roll.weight_lb and roll.weight_lb > limit})
    if not heavy:
        return []
    weights = ", ".join(f"{plain_number(weight)} lb" for weight in heavy)
    return [f"rolls of {job.sheet.name} weigh {weights}; one person should lift no more than {plain_number(limit)} lb "
            "(NIOSH Publication 94-110): two persons or a hoist"]


def _temperature(job: Job) -> list[str]:
    """Return a note where the weather expected is outside the product's range; only where both are given."""
    given = job.extras.temperature
    if given is None:
        return []
    degree = "°F" if job.unit.name == "in" else "°C"
    notes: list[str] = []
    low, high = given.expected_low, given.expected_high
    if given.least is not None and low is not None and low < given.least:
        notes.append(f"{plain_number(low)} {degree} is expected, below the {plain_number(given.least)} {degree} at "
                     "which the sheet may still be applied")
    if given.most is not None and high is not None and high > given.most:
        notes.append(f"{plain_number(high)} {degree} is expected, above the {plain_number(given.most)} {degree} up to "
                     "which the sheet may be applied")
    return notes
