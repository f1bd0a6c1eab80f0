"""A job back to the text of a job file, every default written out: what reads as the same job again."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal

from layout.job.limits import MAX_POINTS
from layout.job.profiles import unfilled
from layout.job.text import resolve
from layout.records import DrainageBoard, Face, Job, Opening, Product, Profile, Rules, Run, Sleeve
from layout.units import Unit, tape

EchoItem = str | Mapping[str, "EchoItem"] | Sequence["EchoItem"]
"""What is written: a scalar ready to write, a mapping or a list."""

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 ._/-]*[A-Za-z0-9.]|[A-Za-z]")
_OLD_WORDS = {"y", "n", "yes", "no", "on", "off"}
"""Words that readers of YAML 1.1 take for true and false."""
_FLOW_WIDTH = 110
"""A list or mapping no wider than this is written on one line."""


def echo(job: Job) -> str:
    """Return a job as the text of a job file.

    Parameters
    ----------
    job
        The job as read.

    Returns
    -------
    str
        YAML, the same for the same job, with every default filled in and lengths as exact text in the
        job's unit; reading it gives an equal job.
    """
    return "".join(_block(_job(job), 0))


def _job(job: Job) -> dict[str, EchoItem]:
    unit = job.unit
    told: dict[str, EchoItem] = {
        "job": _named({field.name: getattr(job.info, field.name) for field in fields(job.info)}),
        "units": unit.name,
        "sheet": _product(job.sheet, unit),
        "strip": {"from": "sheet"} if job.strips_from == "sheet" else {"from": "strip", **_product(job.strip, unit)},
        "rules": _rules(job.rules, unit),
    }
    for field in fields(job.extras):
        value = getattr(job.extras, field.name)
        if value is not None and value != ():
            told[field.name] = _extra(value, unit)
    told["film_side_up"] = _scalar(job.film_side_up)
    told["runs"] = [_run(run, unit) for run in job.runs]
    return told


# --- scalars -----------------------------------------------------------------------------------

def _scalar(value: object) -> str:
    """Return a word, a yes or no, or a number as it is written."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        return format(value, "f")
    text = str(value)
    if isinstance(value, (int, float)):
        return text
    if _PLAIN.fullmatch(text) and resolve(text) == text and text.lower() not in _OLD_WORDS:
        return text
    return json.dumps(text, ensure_ascii=False)


def _named(values: Mapping[str, object]) -> dict[str, EchoItem]:
    """Return the values that say something, as written."""
    return {name: _scalar(value) for name, value in values.items() if value is not None and value != ""}


# --- sheet, rules, extras ----------------------------------------------------------------------

def _product(product: Product, unit: Unit) -> dict[str, EchoItem]:
    rolls: list[EchoItem] = [
        {"length": tape(roll.length, unit),
         **_named({"price": roll.price, "weight_lb": roll.weight_lb, "on_hand": roll.on_hand})}
        for roll in product.rolls]
    remnants: list[EchoItem] = [
        {"tag": _scalar(remnant.tag), "length": tape(remnant.length, unit), "width": tape(remnant.width, unit)}
        for remnant in product.remnants]
    told: dict[str, EchoItem] = {"name": _scalar(product.name), "width": tape(product.width, unit), "rolls": rolls}
    return {**told, "remnants": remnants} if remnants else told


def _rules(rules: Rules, unit: Unit) -> dict[str, EchoItem]:
    told: dict[str, EchoItem] = {}
    for field in fields(rules):
        value = getattr(rules, field.name)
        if isinstance(value, tuple):
            told[field.name] = [tape(length, unit) for length in value]
        else:
            told[field.name] = _scalar(value) if isinstance(value, (bool, str)) else tape(value, unit)
    return told


LENGTHS = {
    "top_bead", "opening_bead", "sleeve_bead", "seam_bead", "length", "fastener_spacing", "fastener_from_end", "flap",
    "top_below_grade", "seams_apart", "min_width", "max_piece",
}
"""Whole numbers of the takeoff's records that are lengths [ticks]; the others are counts."""


def _extra(value: object, unit: Unit) -> EchoItem:
    """Return one of the takeoff's settings; a bare whole number is a length."""
    if isinstance(value, int):
        return tape(value, unit)
    if isinstance(value, tuple):
        return [_extra(item, unit) for item in value]
    if isinstance(value, DrainageBoard):
        lengths = {field.name: tape(getattr(value, field.name), unit)
                   for field in fields(value) if field.name in LENGTHS}
        return {**_product(value.product, unit), **lengths}
    assert is_dataclass(value)
    told: dict[str, EchoItem] = {}
    for field in fields(value):
        held = getattr(value, field.name)
        if isinstance(held, tuple):
            told[field.name] = [_scalar(item) for item in held]
        elif held is not None:
            told[field.name] = tape(held, unit) if field.name in LENGTHS else _scalar(held)
    return told


# --- walls -------------------------------------------------------------------------------------

def _run(run: Run, unit: Unit) -> dict[str, EchoItem]:
    told: dict[str, EchoItem] = {"name": _scalar(run.name), "closed": _scalar(run.closed)}
    if run.allow_gap:
        told["allow_gap"] = _scalar(run.allow_gap)
    if run.flow:
        told["flow"] = run.flow
    for name in ("lows", "highs"):
        stations = getattr(run, name)
        if stations:
            told[name] = [tape(station, unit) for station in stations]
    if run.drain:
        told["drain"] = _points(run.drain, unit)
    if run.north is not None:
        told["north"] = _scalar(run.north)
    told["faces"] = [_face(face, unit) for face in run.faces]
    return told


def _face(face: Face, unit: Unit) -> dict[str, EchoItem]:
    told: dict[str, EchoItem] = {
        "name": _scalar(face.name), "length": tape(face.length, unit), "top": _profile(face.top, unit),
        "footing": _profile(face.footing, unit), "ledge": tape(face.ledge, unit),
        "footing_depth": tape(face.footing_depth, unit),
    }
    if face.grade:
        told["grade"] = _profile(face.grade, unit)
    told["corner"] = face.corner
    if face.corner != "none":
        told["angle"] = _scalar(Decimal(repr(face.angle)).normalize())
    if face.openings:
        told["openings"] = [_feature(opening, unit) for opening in face.openings]
    if face.sleeves:
        told["sleeves"] = [_feature(sleeve, unit) for sleeve in face.sleeves]
    return told


def _feature(feature: Opening | Sleeve, unit: Unit) -> dict[str, EchoItem]:
    return {field.name: _scalar(value) if isinstance(value := getattr(feature, field.name), str) else tape(value, unit)
            for field in fields(feature)}


def _profile(profile: Profile, unit: Unit) -> EchoItem:
    """Return a profile as one elevation where it is level from end to end."""
    if len(profile) == 2 and profile[0][1] == profile[1][1]:
        return tape(profile[0][1], unit)
    return _points(profile, unit)


def _points(profile: Profile, unit: Unit) -> list[EchoItem]:
    """Return a profile's points; without level ends, which the reader adds, where it would have too many with them."""
    if len(profile) > MAX_POINTS:
        profile = unfilled(profile)
    return [[tape(station, unit), tape(elevation, unit)] for station, elevation in profile]


# --- YAML --------------------------------------------------------------------------------------

def _block(told: Mapping[str, EchoItem], depth: int) -> Iterator[str]:
    """Yield the lines of a mapping; what is short and holds no further list of mappings goes on one line."""
    margin = "  " * depth
    for key, value in told.items():
        line = f"{margin}{key}: {_flow(value)}"
        if isinstance(value, str) or (len(line) <= _FLOW_WIDTH and _is_leaf(value)) or not value:
            yield line + "\n"
        elif isinstance(value, Mapping):
            yield f"{margin}{key}:\n"
            yield from _block(value, depth + 1)
        else:
            yield f"{margin}{key}:\n"
            yield from _list(value, depth + 1)


def _list(items: Sequence[EchoItem], depth: int) -> Iterator[str]:
    margin = "  " * depth
    for item in items:
        if isinstance(item, Mapping) and not (_is_leaf(item) and len(margin + _flow(item)) + 2 <= _FLOW_WIDTH):
            first, *rest = _block(item, depth + 1)
            yield f"{margin}- {first.lstrip()}"
            yield from rest
        else:
            yield f"{margin}- {_flow(item)}\n"


def _is_leaf(value: EchoItem) -> bool:
    """Tell whether a list or mapping holds no mapping further in, so that one line shows it well."""
    if isinstance(value, Mapping):
        return all(isinstance(item, str) for item in value.values())
    return isinstance(value, str) or not any(isinstance(item, Mapping) for item in value)


def _flow(value: EchoItem) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {_flow(item)}" for key, item in value.items()) + "}"
    return "[" + ", ".join(_flow(item) for item in value) + "]"
