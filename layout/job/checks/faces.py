"""Checks of a face: its profiles, its footing, and what is at its end."""

from __future__ import annotations

from layout.job.checks.features import check_features
from layout.job.checks.spot import CheckSpot, attempt, whole_profile
from layout.job.lengths import limit_ticks
from layout.job.limits import MAX_WALL_HEIGHT, MIN_FACE_LENGTH, MIN_SLOT
from layout.job.model import FacePart, JobPart
from layout.job.profiles import height_stretches
from layout.units import inches


def check_face(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    """Check a face against itself and against the rules."""
    attempt(_length, face, spot)
    attempt(_profile_ends, face, spot)
    attempt(_slots, face, spot)
    attempt(_wall_height, face, spot)
    attempt(_fillet, job, face, spot)
    attempt(_turn_down, job, face, spot)
    attempt(_grade, job, face, spot)
    attempt(_membrane_line, job, face, spot)
    attempt(_corner, face, spot)
    check_features(job, face, spot)


def _length(face: FacePart, spot: CheckSpot) -> None:
    """Tell a face too short for anything to hang on."""
    least = limit_ticks(MIN_FACE_LENGTH, spot.unit)
    if face.length < least:
        spot.at("length").say(f"must be at least {spot.tape(least)}")


def _profile_ends(face: FacePart, spot: CheckSpot) -> None:
    for name in ("top", "footing", "grade"):
        points = face.__dict__.get(name) or ()
        for index, (station, _) in enumerate(points):
            if station > face.length:
                spot.at(name, index, 0).say(f"must be within the face, which is {spot.tape(face.length)} long")
        stations = [station for station, _ in points]
        for end in (0, face.length):
            if stations.count(end) > 1:
                spot.at(name, stations.index(end)).say("must not be a step at the end of the face", got="")


def _slots(face: FacePart, spot: CheckSpot) -> None:
    """Tell slots in the wall top that are too narrow to cut sheet to."""
    least = limit_ticks(MIN_SLOT, spot.unit)
    points = face.top
    for index in range(1, len(points) - 1):
        (left, before), (_, low) = points[index - 1], points[index]
        right, after = next((point for point in points[index:] if point[1] != low), (0, low))
        if before > low < after and right - left < least:
            spot.at("top", index).say(
                f"must not have a slot narrower than {inches(least, spot.unit)}, to which no sheet can be cut",
                got=inches(right - left, spot.unit), hint="leave it out: a patch closes it")


def _wall_height(face: FacePart, spot: CheckSpot) -> None:
    top, footing = whole_profile(face, "top"), whole_profile(face, "footing")
    most = limit_ticks(MAX_WALL_HEIGHT, spot.unit)
    for left, right, start, end in height_stretches(top, footing):
        low_at = left if start <= end else right
        if min(start, end) < 0 or start == end == 0:
            spot.at("top").say(f"must be above the footing, which it is not at {spot.tape(low_at)}",
                               got=f"{spot.tape(min(start, end))} above it")
            return
        if max(start, end) > most:
            spot.at("top").say(f"must be at most {spot.tape(most)} above the footing",
                               got=f"{spot.tape(max(start, end))} above it")
            return


def _fillet(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    if 0 < face.ledge <= job.rules.fillet:
        spot.at("ledge").say(f"must be 0, or more than the fillet, {inches(job.rules.fillet, spot.unit)}",
                             got=inches(face.ledge, spot.unit))


def _turn_down(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    most = job.rules.turn_down[1]
    if most > face.footing_depth:
        spot.at("footing_depth").say(f"must be at least the most that rules.turn_down allows, "
                                     f"{inches(most, spot.unit)}", got=inches(face.footing_depth, spot.unit))


def _grade(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    if job.rules.top == "grade" and face.grade is None:
        spot.at("grade").say("must be given, as rules.top is grade", got="")


def _membrane_line(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    """Where the sheet hangs from grade, there must be wall between it and the footing."""
    if job.rules.top != "grade" or face.grade is None:
        return
    line = tuple((station, level + job.rules.above_grade) for station, level in whole_profile(face, "grade"))
    for left, right, start, end in height_stretches(line, whole_profile(face, "footing")):
        if min(start, end) < 0 or start == end == 0:
            spot.at("grade").say(
                f"must be high enough for the sheet to end above the footing, which it does not at "
                f"{spot.tape(left if start <= end else right)}", got=f"{spot.tape(min(start, end))} above it")
            return


def _corner(face: FacePart, spot: CheckSpot) -> None:
    if face.corner == "none" and face.angle is not None:
        spot.at("angle").say("must not be given with corner: none")
