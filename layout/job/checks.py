"""Checks that need more than one value of the job file; each is made wherever its own values are right."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from typing import NamedTuple

from layout.job.limits import MAX_DROPS, MAX_FACES, MAX_FEATURES, MAX_FEATURES_A_FACE, MAX_RUNS, MAX_WALL_HEIGHT
from layout.job.model import FacePart, JobPart, OpeningPart, RulesPart, RunPart, SheetPart, SleevePart
from layout.job.part import Unsound
from layout.job.profiles import cuts_circle, filled, heights, highest, lowest
from layout.job.text import Path
from layout.job.walk import Faults
from layout.units import Unit, inches, read_length, round_ticks, tape

CLOSING_TOLERANCE = 1
"""A closed run's turns may miss 360 by this much, since surveyed angles are rounded [degrees]."""


class Spot(NamedTuple):
    """Where a check looks: the path, and what it needs to tell a fault."""

    path: Path
    faults: Faults
    unit: Unit

    def at(self, *steps: str | int) -> Spot:
        """Return the spot further in."""
        return Spot((*self.path, *steps), self.faults, self.unit)

    def say(self, what: str, *, got: str | None = None, hint: str = "") -> None:
        """Tell a fault here."""
        self.faults.add(self.path, what, got=got, hint=hint)

    def tape(self, ticks: int | Fraction) -> str:
        """Return a length as messages show it, rounded to a tick."""
        return tape(round_ticks(Fraction(ticks), "nearest"), self.unit)


def attempt(check: Callable[..., None], *parts: object) -> None:
    """Make a check, or pass it over when it needs a value that is wrong in the file."""
    try:
        check(*parts)
    except Unsound:
        pass


def check_job(job: JobPart, faults: Faults, unit: Unit) -> None:
    """Make every check of the job that its sound values allow."""
    spot = Spot((), faults, unit)
    attempt(_sheet_and_rules, job, spot)
    attempt(_stock, job, spot)
    attempt(_names, job, spot)
    attempt(_sizes, job, spot)
    attempt(_drops, job, spot)
    attempt(_runs, job, spot)


def _runs(job: JobPart, spot: Spot) -> None:
    for index, run in enumerate(job.runs):
        here = spot.at("runs", index)
        attempt(_water, run, here)
        attempt(_closing, run, here)
        attempt(_faces, job, run, here)


def _faces(job: JobPart, run: RunPart, spot: Spot) -> None:
    for index, face in enumerate(run.faces):
        here = spot.at("faces", index)
        attempt(_profile_ends, face, here)
        attempt(_wall_height, face, here)
        attempt(_footing, job, face, here)
        attempt(_grade, job, face, here)
        attempt(_corner, face, here)
        attempt(_openings, face, here)
        attempt(_sleeves, face, here)
        attempt(_returns, job, face, here)
        attempt(_sleeve_widths, job, face, here)


# --- sheet and rules ---------------------------------------------------------------------------

def _sheet_and_rules(job: JobPart, spot: Spot) -> None:
    sheet, rules, here = job.sheet, job.rules, spot.at("rules")
    attempt(_min_width, sheet, rules, here)
    attempt(_side_lap, rules, here)
    attempt(_end_lap, rules, here)
    attempt(_max_piece, sheet, rules, here)


def _min_width(sheet: SheetPart, rules: RulesPart, spot: Spot) -> None:
    if rules.min_width > sheet.width:
        spot.at("min_width").say(f"must be at most the sheet's width, {inches(sheet.width, spot.unit)}",
                                 got=inches(rules.min_width, spot.unit))


def _side_lap(rules: RulesPart, spot: Spot) -> None:
    if rules.side_lap >= rules.min_width:
        spot.at("side_lap").say(f"must be less than min_width, {inches(rules.min_width, spot.unit)}",
                                got=inches(rules.side_lap, spot.unit))


def _end_lap(rules: RulesPart, spot: Spot) -> None:
    if rules.end_lap >= rules.max_piece:
        spot.at("end_lap").say(f"must be less than max_piece, {spot.tape(rules.max_piece)}",
                               got=spot.tape(rules.end_lap))


def _max_piece(sheet: SheetPart, rules: RulesPart, spot: Spot) -> None:
    longest = max(roll.length for roll in sheet.rolls)
    if rules.max_piece > longest:
        spot.at("max_piece").say(f"must be at most the longest roll, {spot.tape(longest)}",
                                 got=spot.tape(rules.max_piece))


def _stock(job: JobPart, spot: Spot) -> None:
    here = spot.at("sheet")
    attempt(_prices, job.sheet, here)
    attempt(_remnants, job.sheet, here)


def _prices(sheet: SheetPart, spot: Spot) -> None:
    priced = [roll.price is not None for roll in sheet.rolls]
    if any(priced) and not all(priced):
        spot.at("rolls", priced.index(False)).say("must have a price, as other rolls have one", got="")


def _remnants(sheet: SheetPart, spot: Spot) -> None:
    for index, remnant in enumerate(sheet.remnants):
        attempt(_remnant_width, sheet, index, spot)
    seen: dict[str, int] = {}
    for index, remnant in enumerate(sheet.remnants):
        if "tag" in remnant.__dict__ and seen.setdefault(remnant.tag, index) != index:
            spot.at("remnants", index, "tag").say("must be unlike every other remnant's tag")


def _remnant_width(sheet: SheetPart, index: int, spot: Spot) -> None:
    width = sheet.remnants[index].width
    if width is not None and width > sheet.width:
        spot.at("remnants", index, "width").say(
            f"must be at most the sheet's width, {inches(sheet.width, spot.unit)}")


# --- names and sizes ---------------------------------------------------------------------------

def _names(job: JobPart, spot: Spot) -> None:
    runs: set[str] = set()
    tags: set[str] = set()
    for i, run in enumerate(job.runs):
        here = spot.at("runs", i)
        _once(run.__dict__.get("name"), runs, here.at("name"), "must be unlike every other run's name")
        faces: set[str] = set()
        for j, face in enumerate(run.__dict__.get("faces", ())):
            there = here.at("faces", j)
            _once(face.__dict__.get("name"), faces, there.at("name"),
                  "must be unlike every other face's name in its run")
            for kind in ("openings", "sleeves"):
                for k, feature in enumerate(face.__dict__.get(kind, ())):
                    _once(feature.__dict__.get("tag"), tags, there.at(kind, k, "tag"),
                          "must be unlike every other opening's and sleeve's tag")


def _once(name: str | None, seen: set[str], spot: Spot, what: str) -> None:
    if name is None:
        return
    if name in seen:
        spot.say(what)
    seen.add(name)


def _sizes(job: JobPart, spot: Spot) -> None:
    faces = [face for run in job.runs for face in run.__dict__.get("faces", ())]
    features = [len(face.__dict__.get(kind, ())) for face in faces for kind in ("openings", "sleeves")]
    here = spot.at("runs")
    if len(job.runs) > MAX_RUNS:
        here.say(f"must be at most {MAX_RUNS} runs", got=f"{len(job.runs):,}")
    if len(faces) > MAX_FACES:
        here.say(f"must have at most {MAX_FACES:,} faces together", got=f"{len(faces):,}")
    if sum(features) > MAX_FEATURES:
        here.say(f"must have at most {MAX_FEATURES:,} openings and sleeves together", got=f"{sum(features):,}")
    for i, run in enumerate(job.runs):
        for j, face in enumerate(run.__dict__.get("faces", ())):
            for kind in ("openings", "sleeves"):
                count = len(face.__dict__.get(kind, ()))
                if count > MAX_FEATURES_A_FACE:
                    here.at(i, "faces", j, kind).say(f"must be at most {MAX_FEATURES_A_FACE} on one face",
                                                     got=f"{count:,}")


def _drops(job: JobPart, spot: Spot) -> None:
    step = job.sheet.width - job.rules.side_lap
    if step <= 0:
        return
    drops = sum(face.length // step + 1 for run in job.runs for face in run.faces)
    if drops > MAX_DROPS:
        spot.at("runs").say(f"must need at most {MAX_DROPS:,} drops together", got=f"about {drops:,}")


# --- runs --------------------------------------------------------------------------------------

def _length(run: RunPart) -> int:
    return sum(face.length for face in run.faces)


def _water(run: RunPart, spot: Spot) -> None:
    given = [name for name in ("flow", "lows", "drain") if run.__dict__.get(name) is not None]
    for name in given[1:]:
        spot.at(name).say(f"must not be given beside {given[0]}", hint="give one of flow, lows and drain")
    if run.highs is not None and run.lows is None:
        spot.at("highs").say("must not be given without lows")
    attempt(_drain, run, spot)
    for name in ("lows", "highs"):
        attempt(_stations, run, name, spot)
    attempt(_lows_and_highs, run, spot)


def _drain(run: RunPart, spot: Spot) -> None:
    for index, (station, _) in enumerate(run.drain or ()):
        if station > _length(run):
            spot.at("drain", index, 0).say(f"must be within the run, which is {spot.tape(_length(run))} long")


def _stations(run: RunPart, name: str, spot: Spot) -> None:
    for index, station in enumerate(getattr(run, name) or ()):
        if not 0 <= station <= _length(run):
            spot.at(name, index).say(f"must be within the run, which is {spot.tape(_length(run))} long")


def _lows_and_highs(run: RunPart, spot: Spot) -> None:
    """Between two highs there must be a low, and the other way round where highs are given."""
    round_trip = _length(run)
    marks = [(station % round_trip if run.closed else station, name, index)
             for name in ("lows", "highs") for index, station in enumerate(getattr(run, name) or ())]
    marks.sort()
    for (before, earlier, _), (station, name, index) in zip(marks, marks[1:]):
        if station == before:
            spot.at(name, index).say("must not be given twice", hint="each station is one low or one high")
        elif name == earlier == "highs":
            spot.at(name, index).say("must have a low between it and the high before it")


def _closing(run: RunPart, spot: Spot) -> None:
    if not run.closed:
        return
    turns = Fraction(0)
    for face in run.faces:
        angle = Fraction(90) if face.angle is None else Fraction(face.angle)
        corner = face.corner or "outside"
        turns += angle if corner == "outside" else -angle if corner == "inside" else 0
    if abs(turns - 360) > CLOSING_TOLERANCE:
        spot.at("closed").say(
            "must be false unless the corners turn through 360 degrees in all", got=f"{float(turns):g} degrees",
            hint="outside corners count for the angle, inside corners against it")


# --- faces -------------------------------------------------------------------------------------

def _profile_ends(face: FacePart, spot: Spot) -> None:
    for name in ("top", "footing", "grade"):
        points = face.__dict__.get(name) or ()
        for index, (station, _) in enumerate(points):
            if station > face.length:
                spot.at(name, index, 0).say(f"must be within the face, which is {spot.tape(face.length)} long")
        stations = [station for station, _ in points]
        for end in (0, face.length):
            if stations.count(end) > 1:
                spot.at(name, stations.index(end)).say("must not be a step at the end of the face", got="")


def _sound_ends(points: tuple[tuple[int, int], ...], length: int) -> tuple[tuple[int, int], ...]:
    """Return a face's profile filled out to both ends; raises when a point lies past them."""
    if points[-1][0] > length:
        raise Unsound("profile")
    return filled(points, length=length)


def _wall_height(face: FacePart, spot: Spot) -> None:
    top, footing = _sound_ends(face.top, face.length), _sound_ends(face.footing, face.length)
    most = round_ticks(read_length(MAX_WALL_HEIGHT, spot.unit), "down")
    for left, right, start, end in heights(top, footing):
        low_at = left if start <= end else right
        if min(start, end) < 0 or start == end == 0:
            spot.at("top").say(f"must be above the footing, which it is not at {spot.tape(low_at)}",
                               got=f"{spot.tape(min(start, end))} above it")
            return
        if max(start, end) > most:
            spot.at("top").say(f"must be at most {spot.tape(most)} above the footing",
                               got=f"{spot.tape(max(start, end))} above it")
            return


def _footing(job: JobPart, face: FacePart, spot: Spot) -> None:
    attempt(_turn_down, job, face, spot)
    if 0 < face.ledge < job.rules.fillet:
        spot.at("ledge").say(f"must be 0, or at least the fillet, {inches(job.rules.fillet, spot.unit)}",
                             got=inches(face.ledge, spot.unit))


def _turn_down(job: JobPart, face: FacePart, spot: Spot) -> None:
    most = job.rules.turn_down[1]
    if most > face.footing_depth:
        spot.at("footing_depth").say(f"must be at least the most that rules.turn_down allows, "
                                     f"{inches(most, spot.unit)}", got=inches(face.footing_depth, spot.unit))


def _grade(job: JobPart, face: FacePart, spot: Spot) -> None:
    if job.rules.top == "grade" and face.grade is None:
        spot.at("grade").say("must be given, as rules.top is grade", got="")


def _corner(face: FacePart, spot: Spot) -> None:
    if face.corner == "none" and face.angle is not None:
        spot.at("angle").say("must not be given with corner: none")


# --- openings and sleeves ----------------------------------------------------------------------

def _openings(face: FacePart, spot: Spot) -> None:
    sound: list[tuple[OpeningPart, int]] = []
    for index, opening in enumerate(face.openings):
        attempt(_opening_place, face, opening, spot.at("openings", index))
        if {"left", "sill", "width", "height"} <= opening.__dict__.keys():
            sound.append((opening, index))
    sound.sort(key=lambda item: (item[0].left, item[1]))
    for number, (opening, index) in enumerate(sound):
        for other, other_index in sound[number + 1:]:
            if other.left > opening.left + opening.width:
                break
            if other.sill <= opening.sill + opening.height and opening.sill <= other.sill + other.height:
                later, earlier = max(index, other_index), min(index, other_index)
                tag = face.openings[earlier].__dict__.get("tag", f"openings[{earlier}]")
                spot.at("openings", later).say(f"must not overlap or touch opening {tag}", got="",
                                               hint="enter what is one hole as one opening")


def _opening_place(face: FacePart, opening: OpeningPart, spot: Spot) -> None:
    right = opening.left + opening.width
    if opening.left < 0:
        spot.at("left").say("must be at least 0: the opening starts before the face's left end")
        return
    if right > face.length:
        spot.at("width").say(f"must end within the face, which is {spot.tape(face.length)} long",
                             got=f"an end at {spot.tape(right)}")
        return
    attempt(_opening_level, face, opening, spot)


def _opening_level(face: FacePart, opening: OpeningPart, spot: Spot) -> None:
    right = opening.left + opening.width
    over = highest(_sound_ends(face.top, face.length), left=opening.left, right=right)
    if opening.sill >= over:
        spot.at("sill").say(f"must be below the wall top, which is at {spot.tape(over)} there")
    under = lowest(_sound_ends(face.footing, face.length), left=opening.left, right=right)
    if opening.sill + opening.height <= under:
        spot.at("height").say(f"must reach above the footing, which is at {spot.tape(under)} there")


def _returns(job: JobPart, face: FacePart, spot: Spot) -> None:
    for index, opening in enumerate(face.openings):
        for name in ("width", "height"):
            size = opening.__dict__.get(name)
            if size is not None and size <= 2 * job.rules.opening_return:
                spot.at("openings", index, name).say(
                    f"must be more than twice rules.opening_return, {inches(job.rules.opening_return, spot.unit)}")


def _sleeves(face: FacePart, spot: Spot) -> None:
    for index, sleeve in enumerate(face.sleeves):
        here = spot.at("sleeves", index)
        attempt(_sleeve_place, face, sleeve, here)
        for opening in face.__dict__.get("openings", ()):
            attempt(_sleeve_in_opening, opening, sleeve, here)


def _sleeve_place(face: FacePart, sleeve: SleevePart, spot: Spot) -> None:
    if 2 * sleeve.at < sleeve.diameter or 2 * (face.length - sleeve.at) < sleeve.diameter:
        spot.at("at").say(f"must keep the whole sleeve within the face, which is {spot.tape(face.length)} long")
        return
    for name, way in (("top", "below the wall top"), ("footing", "above the footing")):
        attempt(_sleeve_level, face, sleeve, name, way, spot)


def _sleeve_level(face: FacePart, sleeve: SleevePart, name: str, way: str, spot: Spot) -> None:
    profile = _sound_ends(getattr(face, name), face.length)
    left, right = max(sleeve.at - 1, 0), min(sleeve.at + 1, face.length)
    if name == "top":
        beyond = sleeve.elevation >= highest(profile, left=left, right=right)
    else:
        beyond = sleeve.elevation <= lowest(profile, left=left, right=right)
    if beyond or cuts_circle(profile, centre=(sleeve.at, sleeve.elevation), diameter=sleeve.diameter):
        spot.at("elevation").say(f"must keep the whole sleeve {way}")


def _sleeve_in_opening(opening: OpeningPart, sleeve: SleevePart, spot: Spot) -> None:
    aside = max(opening.left - sleeve.at, 0, sleeve.at - opening.left - opening.width)
    above = max(opening.sill - sleeve.elevation, 0, sleeve.elevation - opening.sill - opening.height)
    if 4 * (aside ** 2 + above ** 2) < sleeve.diameter ** 2:
        spot.say(f"must not lie in or across opening {opening.tag}", got="")


def _sleeve_widths(job: JobPart, face: FacePart, spot: Spot) -> None:
    for index, sleeve in enumerate(face.sleeves):
        diameter = sleeve.__dict__.get("diameter")
        if diameter is not None and diameter >= job.sheet.width:
            spot.at("sleeves", index, "diameter").say(
                f"must be less than the sheet's width, {inches(job.sheet.width, spot.unit)}",
                hint="enter it as an opening")
