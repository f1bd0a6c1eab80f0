"""Checks of openings and sleeves: on their face, apart from each other, and such as the sheet can take."""

from __future__ import annotations

from layout.job.checks.spot import CheckSpot, attempt, whole_profile
from layout.job.model import FacePart, JobPart, OpeningPart, SleevePart
from layout.job.profiles import cuts_circle, exact_highest, exact_lowest
from layout.units import inches


def check_features(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    """Check the openings and sleeves of a face."""
    attempt(_openings, face, spot)
    attempt(_sleeves, face, spot)
    attempt(_returns, job, face, spot)
    attempt(_sleeve_widths, job, face, spot)


def _openings(face: FacePart, spot: CheckSpot) -> None:
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


def _opening_place(face: FacePart, opening: OpeningPart, spot: CheckSpot) -> None:
    right = opening.left + opening.width
    if opening.left < 0:
        spot.at("left").say("must be at least 0: the opening starts before the face's left end")
        return
    if right > face.length:
        spot.at("width").say(f"must end within the face, which is {spot.tape(face.length)} long",
                             got=f"an end at {spot.tape(right)}")
        return
    attempt(_opening_level, face, opening, spot)


def _opening_level(face: FacePart, opening: OpeningPart, spot: CheckSpot) -> None:
    right = opening.left + opening.width
    over = exact_highest(whole_profile(face, "top"), left=opening.left, right=right)
    if opening.sill >= over:
        spot.at("sill").say(f"must be below the wall top, which is at {spot.tape(over)} there")
    under = exact_lowest(whole_profile(face, "footing"), left=opening.left, right=right)
    if opening.sill + opening.height <= under:
        spot.at("height").say(f"must reach above the footing, which is at {spot.tape(under)} there")


def _returns(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    for index, opening in enumerate(face.openings):
        for name in ("width", "height"):
            size = opening.__dict__.get(name)
            if size is not None and size <= 2 * job.rules.opening_return:
                spot.at("openings", index, name).say(
                    f"must be more than twice rules.opening_return, {inches(job.rules.opening_return, spot.unit)}")


def _sleeves(face: FacePart, spot: CheckSpot) -> None:
    for index, sleeve in enumerate(face.sleeves):
        here = spot.at("sleeves", index)
        attempt(_sleeve_place, face, sleeve, here)
        for opening in face.__dict__.get("openings", ()):
            attempt(_sleeve_in_opening, opening, sleeve, here)


def _sleeve_place(face: FacePart, sleeve: SleevePart, spot: CheckSpot) -> None:
    if 2 * sleeve.at < sleeve.diameter or 2 * (face.length - sleeve.at) < sleeve.diameter:
        spot.at("at").say(f"must keep the whole sleeve within the face, which is {spot.tape(face.length)} long")
        return
    for name, way in (("top", "below the wall top"), ("footing", "above the footing")):
        attempt(_sleeve_level, face, sleeve, name, way, spot)


def _sleeve_level(face: FacePart, sleeve: SleevePart, name: str, way: str, spot: CheckSpot) -> None:
    profile = whole_profile(face, name)
    if _well_clear([level for _, level in profile], sleeve, under=name == "top"):
        return
    left, right = max(sleeve.at - 1, 0), min(sleeve.at + 1, face.length)
    if name == "top":
        beyond = sleeve.elevation >= exact_highest(profile, left=left, right=right)
    else:
        beyond = sleeve.elevation <= exact_lowest(profile, left=left, right=right)
    if beyond or cuts_circle(profile, centre=(sleeve.at, sleeve.elevation), diameter=sleeve.diameter):
        spot.at("elevation").say(f"must keep the whole sleeve {way}")


def _well_clear(levels: list[int], sleeve: SleevePart, *, under: bool) -> bool:
    """Tell at once that a sleeve is wholly under the lowest, or over the highest, point of a profile."""
    gap = min(levels) - sleeve.elevation if under else sleeve.elevation - max(levels)
    return 2 * gap >= sleeve.diameter


def _sleeve_in_opening(opening: OpeningPart, sleeve: SleevePart, spot: CheckSpot) -> None:
    aside = max(opening.left - sleeve.at, 0, sleeve.at - opening.left - opening.width)
    above = max(opening.sill - sleeve.elevation, 0, sleeve.elevation - opening.sill - opening.height)
    if 4 * (aside ** 2 + above ** 2) < sleeve.diameter ** 2:
        spot.say(f"must not lie in or across opening {opening.tag}", got="")


def _sleeve_widths(job: JobPart, face: FacePart, spot: CheckSpot) -> None:
    for index, sleeve in enumerate(face.sleeves):
        diameter = sleeve.__dict__.get("diameter")
        if diameter is not None and diameter >= job.sheet.width:
            spot.at("sleeves", index, "diameter").say(
                f"must be less than the sheet's width, {inches(job.sheet.width, spot.unit)}",
                hint="enter it as an opening")
