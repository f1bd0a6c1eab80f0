"""Checks that names are given once, and that the job is not too large."""

from __future__ import annotations

from layout.job.checks.spot import Spot, attempt
from layout.job.limits import MAX_DROPS, MAX_FACES, MAX_FEATURES, MAX_FEATURES_A_FACE, MAX_RUNS
from layout.job.model import JobPart


def check_names(job: JobPart, spot: Spot) -> None:
    """Check names, tags and sizes."""
    attempt(_names, job, spot)
    attempt(_sizes, job, spot)
    attempt(_drops, job, spot)


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
