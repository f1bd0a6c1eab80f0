"""A job under other rules: changes written as ``side_lap=3``, each read as strictly as a job file."""

from __future__ import annotations

import copy
import difflib
import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from layout.errors import Fault, JobError
from layout.job import read_job, read_job_text, read_mapping
from layout.job.model import JobPart, RulesPart, RunPart
from layout.job.text import read_tree
from layout.job.tree import NAMES, Unreadable, show, spell
from layout.records import Job
from layout.takeoff import fit_checks

WATER = ("flow", "lows", "highs", "drain")
"""Keys of a run that say where its water goes; setting one takes away those that contradict it."""
AS_IT_IS = "as it is"
COURSES = "horizontal courses"

_NEXT_CHANGE = re.compile(r",\s*(?=[A-Za-z_][^,=\[\]{}]*=)")
"""A comma with another KEY= behind it; any other comma belongs to a value."""

PathStep = str | int


@dataclass(frozen=True)
class Scenario:
    """One way to do a job.

    Parameters
    ----------
    name
        What is changed, as it was written.
    job
        The job with the change, read and checked.
    courses
        The sheet lies in horizontal courses; else it hangs in drops.
    """

    name: str
    job: Job
    courses: bool = False

    @property
    def courses_allowed(self) -> bool:
        """The job's rules allow horizontal courses."""
        return self.job.rules.courses


class ScenarioError(JobError):
    """Some of the scenarios are wrong: every fault of every one, each under its own name."""

    def __init__(self, errors: Sequence[JobError]) -> None:
        self.errors = tuple(errors)
        super().__init__([fault for error in errors for fault in error.faults])

    def lines(self) -> list[str]:
        """Return one plain line a fault."""
        return [line for error in self.errors for line in error.lines()]


def read_scenarios(path: Path, changes: Sequence[str], *, allow_gap: bool = False) -> tuple[Scenario, ...]:
    """Read a job and each of the ways it is to be compared with.

    Parameters
    ----------
    path
        The job file.
    changes
        For each further scenario the name of another job file, or changes such as ``side_lap=3``,
        ``sheet.width=39 3/8`` or ``runs.A.flow=left``, several joined by commas. A key of the rules may be written
        bare; entries of a list are called by their name or tag, or by their number from 0.
    allow_gap
        Closed runs need not close on plan.

    Returns
    -------
    tuple of Scenario
        The job as it is first. Beside each whose rules allow horizontal courses, the same in courses.

    Raises
    ------
    ScenarioError
        With every fault of every scenario; then nothing is to be planned.
    JobError
        With every fault of the job as it is.
    """
    plain = read_mapping(path, allow_gap=allow_gap)
    first = Scenario(AS_IT_IS, read_job(path, allow_gap=allow_gap))
    found = list(_ways(first))
    wrong: list[JobError] = []
    for text in changes:
        try:
            scenario = _scenario(path, plain, text)
            faults, _ = fit_checks(scenario.job)
            if faults:
                raise JobError(faults, _file(path, text))
            ways = list(_ways(scenario))
            only_courses = not first.courses_allowed and _without_courses(scenario) == _without_courses(first)
            found += ways[1:] if only_courses and len(ways) > 1 else ways  # its drops hang as the first one's
        except JobError as error:
            wrong.append(error)
    if wrong:
        raise ScenarioError(wrong)
    return tuple(found)


def _ways(scenario: Scenario) -> Iterator[Scenario]:
    """Yield a scenario, and the same in horizontal courses where its rules allow them."""
    yield scenario
    if scenario.courses_allowed:
        name = COURSES if scenario.name == AS_IT_IS else f"{scenario.name}, {COURSES}"
        yield Scenario(name, scenario.job, courses=True)


def _without_courses(scenario: Scenario) -> Job:
    """Return a scenario's job as if its rules allowed no courses."""
    return replace(scenario.job, rules=replace(scenario.job.rules, courses=False))


def _scenario(path: Path, plain: dict[str, object], text: str) -> Scenario:
    """Read one scenario: another job file, or the job with changes."""
    name = show(text.strip(), most=120)
    if _is_file(text):
        return Scenario(name, read_job(Path(text)))
    if "=" not in text:
        what = "is neither a change, such as side_lap=3, nor a job file"
        raise JobError([Fault(0, "", what, name)], "--with")
    return Scenario(name, changed_job(plain, text, file=_file(path, text)))


def _is_file(text: str) -> bool:
    """Tell whether a text names a file; one that cannot be a name does not."""
    try:
        return Path(text).is_file()
    except (OSError, ValueError):
        return False


def _file(path: Path, text: str) -> str:
    """Return what the faults of a scenario are told under."""
    return text if _is_file(text) else f"{path} with {show(text.strip(), most=120)}"


def changed_job(plain: dict[str, object], text: str, *, file: str) -> Job:
    """Read a job again with changes in it.

    Parameters
    ----------
    plain
        The job as ``read_mapping`` gives it; it is left as it is.
    text
        Changes, joined by commas.
    file
        What faults are told under.

    Raises
    ------
    JobError
        With every fault, those of the changes themselves or those of the changed job.

    Examples
    --------
    >>> plain = {"job": {"name": "J"}, "sheet": {"width": 36, "rolls": [{"length": "50 ft"}]},
    ...          "runs": [{"name": "A", "faces": [{"name": "S", "length": "9 ft", "top": "8 ft"}]}]}
    >>> changed_job(plain, "side_lap=3, runs.A.flow=left", file="j").rules.side_lap
    48
    """
    told = copy.deepcopy(plain)
    faults: list[Fault] = []
    given: set[tuple[PathStep, ...]] = set()
    changes = list(_changes(text, told, faults))
    for path, _ in changes:
        if path in given:
            faults.append(Fault(0, spell(path), "must be changed once"))
        given.add(path)
    for path, value in changes:
        _put(told, path, value, given, faults)
    if faults:
        raise JobError(faults, file)
    try:
        return read_job_text(json.dumps(told), file)
    except JobError as error:
        raise JobError([replace(fault, line=0) for fault in error.faults], file) from None  # the change has no lines


def _changes(text: str, told: dict[str, object], faults: list[Fault]) -> Iterator[tuple[tuple[PathStep, ...], object]]:
    """Yield (path, value) of every change in a text."""
    for change in _NEXT_CHANGE.split(text):
        key, sign, written = (part.strip() for part in change.partition("="))
        if not key or not sign:
            faults.append(Fault(0, "", "must be changes such as side_lap=3", show(change.strip())))
            continue
        if not written:
            faults.append(Fault(0, show(key), "must have a value after =", "nothing"))
            continue
        try:
            value = read_tree(written)[0].plain()
        except Unreadable as error:
            faults.append(Fault(0, show(key), error.fault.what, show(written)))
            continue
        path = _path(key, told, faults)
        if path:
            yield path, value


def _path(key: str, told: dict[str, object], faults: list[Fault]) -> tuple[PathStep, ...]:
    """Return the path that a key means; empty, with a fault told, when it means none."""
    first = re.split(r"[.\[]", key, maxsplit=1)[0]
    if first == key and key in RulesPart.model_fields:
        return ("rules", key)
    if first not in JobPart.model_fields:
        faults.append(Fault(0, show(key), "is not a key of the job", hint=_nearest(key, told)))
        return ()
    path: list[PathStep] = []
    value: object = told
    rest = key
    while rest:
        step, rest = _step(value, rest)
        if step is None:
            asked = re.split(r"[.\[]", rest.lstrip("["), maxsplit=1)[0].rstrip("]")
            faults.append(Fault(0, show(key), f"is not there: nothing is called {show(asked)}", hint=_known(value)))
            return ()
        path.append(step)
        value = _inside(value, step)
    return tuple(path)


def _step(value: object, rest: str) -> tuple[PathStep | None, str]:
    """Return the first step of what is left of a key, and what is left after it; no step, and what names none."""
    if isinstance(value, list):
        for index, name in sorted(enumerate(_called(value)), key=lambda item: (-len(item[1]), item[0])):
            if name and (rest == name or rest.startswith((name + ".", name + "["))):
                return index, rest[len(name):].lstrip(".")
        match = re.match(r"\[?(\d{1,6})\]?(?:\.|(?=\[)|$)", rest)
        if match and int(match[1]) < len(value):
            return int(match[1]), rest[match.end():]
        return None, rest
    name, _, after = rest.partition(".")
    before, bracket, _ = name.partition("[")
    return before, (rest[len(before):] if bracket else after)


def _called(value: object) -> list[str]:
    """Return what the entries of a list are called; empty text for one that has no name."""
    if not isinstance(value, list):
        return []
    called = []
    for item in value:
        names = [str(item[key]) for key in NAMES if key in item] if isinstance(item, dict) else []
        called.append(names[0] if names else "")
    return called


def _known(value: object) -> str:
    """Return what there is in a list, as a hint."""
    names = _called(value)
    if any(names):
        return f"known here: {', '.join(show(name) for name in names if name)}"
    return f"numbered here: 0 to {len(names) - 1}" if names else ""


def _inside(value: object, step: PathStep) -> object:
    """Return what lies one step further in; None when nothing does yet."""
    if isinstance(value, list) and isinstance(step, int):
        return value[step]
    return value.get(step) if isinstance(value, dict) else None


def _nearest(key: str, told: dict[str, object]) -> str:
    """Return what an unknown key may have meant."""
    meant = {name: name for name in (*RulesPart.model_fields, *JobPart.model_fields)}
    runs = _called(told.get("runs"))
    for name in RunPart.model_fields:
        meant.setdefault(name, f"runs.{runs[0] if runs else 'NAME'}.{name}")
    near = difflib.get_close_matches(key[:120].lower().replace("-", "_"), meant, n=1, cutoff=0.6)
    return f"did you mean {meant[near[0]]}?" if near else "rules are written bare, anything else as runs.A.flow"


def _put(
    told: dict[str, object], path: tuple[PathStep, ...], value: object, given: set[tuple[PathStep, ...]],
    faults: list[Fault],
) -> None:
    """Set one value of the job; where a run's water is set otherwise, what contradicts it is taken away."""
    inside: object = told
    for depth, step in enumerate(path[:-1]):
        if isinstance(inside, dict) and inside.get(str(step)) is None:
            inside[str(step)] = {}
        inside = _inside(inside, step)
        if not isinstance(inside, (dict, list)):
            faults.append(Fault(0, spell(path), f"has nothing in it: {spell(path[:depth + 1])} is one value"))
            return
    last = path[-1]
    if isinstance(inside, list) and isinstance(last, int):
        inside[last] = value
    elif isinstance(inside, dict):
        inside[str(last)] = value
        if len(path) == 3 and path[0] == "runs" and last in WATER:
            kept = {"lows", "highs"} if last == "highs" else {last}
            for other in set(WATER) - kept:
                if (*path[:-1], other) not in given:
                    inside.pop(other, None)
