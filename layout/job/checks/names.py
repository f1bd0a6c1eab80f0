"""Checks that names are given once, and that the job is not too large."""

from __future__ import annotations

from layout.job.checks.spot import CheckSpot, attempt
from layout.job.limits import (
    MAX_DROPS, MAX_FACES, MAX_FEATURES, MAX_FEATURES_A_FACE, MAX_PIECES, MAX_POINTS_TOGETHER, MAX_RUNS,
)
from layout.job.model import FacePart, JobPart
from layout.job.profiles import unfilled


def check_names(job: JobPart, spot: CheckSpot) -> None:
    """Check names, tags and sizes."""
    attempt(_names, job, spot)
    attempt(_sizes, job, spot)
    attempt(_points, job, spot)
    attempt(_drops, job, spot)
    attempt(_pieces, job, spot)


def _names(job: JobPart, spot: CheckSpot) -> None:
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


def _once(name: str | None, seen: set[str], spot: CheckSpot, what: str) -> None:
    if name is None:
        return
    if name in seen:
        spot.say(what)
    seen.add(name)


def _sizes(job: JobPart, spot: CheckSpot) -> None:
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


def _points(job: JobPart, spot: CheckSpot) -> None:
    profiles = [run.__dict__.get("drain") for run in job.runs]
    profiles += [face.__dict__.get(name) for run in job.runs for face in run.__dict__.get("faces", ())
                 for name in ("top", "footing", "grade")]
    points = sum(len(unfilled(profile)) for profile in profiles if profile)
    points += sum(len(run.__dict__.get(name) or ()) for run in job.runs for name in ("lows", "highs"))
    if points > MAX_POINTS_TOGETHER:
        spot.at("runs").say(
            f"must have at most {MAX_POINTS_TOGETHER:,} points in their profiles, lows and highs together",
            got=f"{points:,}")


def _drops(job: JobPart, spot: CheckSpot) -> None:
    drops = sum(_drops_of(job, face) for run in job.runs for face in run.faces)
    if drops > MAX_DROPS:
        spot.at("runs").say(f"must need at most {MAX_DROPS:,} drops together", got=f"about {drops:,}")


def _drops_of(job: JobPart, face: FacePart) -> int:
    """Return about how many drops a face needs; none where the lap is as wide as the sheet."""
    step = job.sheet.width - job.rules.side_lap
    return face.length // step + 1 if step > 0 else 0


def _pieces(job: JobPart, spot: CheckSpot) -> None:
    reach = job.rules.max_piece - job.rules.end_lap
    if reach <= 0:
        return  # no number of such pieces covers a wall, which is a fault of the rules
    pieces = 0
    for run in job.runs:
        for face in run.faces:
            height = max(y for _, y in face.top) - min(y for _, y in face.footing)
            pieces += _drops_of(job, face) * max(1, -(-(height - job.rules.end_lap) // reach))
    if pieces > MAX_PIECES:
        spot.at("runs").say(f"must need at most {MAX_PIECES:,} pieces of sheet together", got=f"about {pieces:,}")
