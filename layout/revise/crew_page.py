"""One page for the crew: what is new, recut, trimmed, as it was and spare; what to buy and what to return."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from layout.records import BaselinePlan, Cutting, Piece, Roll
from layout.revise.earlier import SPARE, WASTE
from layout.units import Unit, inches, tape

MOST_NAMED = 40
"""Tags named on one line; more are on the cut list."""


def crew_page(
    earlier: BaselinePlan, pieces: Sequence[Piece], cuttings: Sequence[Cutting], *, made_of: Mapping[str, str],
    trimmed: Sequence[str], opened: Mapping[str, frozenset[str]], cut: int, hung: int,
    mended: frozenset[str] = frozenset(),
) -> tuple[str, ...]:
    """Return the page as lines of text, without money.

    Parameters
    ----------
    earlier
        The plan that was worked from.
    pieces, cuttings
        The new plan's, all products.
    made_of, trimmed
        New tag -> tag of the cut piece it is; those of the tags that come from a piece meant for another place.
    opened
        Product -> tags of its rolls that were opened before.
    cut, hung
        How many pieces are cut and hung.
    mended
        Tags of pieces behind which a sleeve has moved: they stay, with a new hole, and a patch over the old one.
    """
    unit = earlier.job.unit
    lines = [f"revised from plan {earlier.digest}: {cut} of its pieces cut, {hung} of them hung"]
    lines += _pieces(earlier, pieces, made_of, trimmed, unit)
    for tag in sorted(mended):
        patches = [piece.tag for piece in pieces if piece.kind == "patch" and piece.tag.startswith(f"{tag}-P")]
        over = f"; then {', '.join(patches)} over the old hole" if patches else ""
        lines.append(f"{tag} stays: cut the new hole into it where its card says{over}")
    lines += _moved(earlier, pieces, cuttings, made_of)
    for cutting in cuttings:
        before = next((one for one in earlier.cuttings if one.product == cutting.product), None)
        lines += _rolls(cutting, before, opened.get(cutting.product, frozenset()))
    return tuple(lines)


def changed_tags(
    earlier: BaselinePlan, pieces: Sequence[Piece], made_of: Mapping[str, str], mended: frozenset[str],
) -> tuple[str, ...]:
    """Return the tags of what is on the wall and new, of another shape than before, mended, or of another piece."""
    old = {piece.tag: piece for piece in earlier.pieces}
    return tuple(
        piece.tag for piece in pieces if piece.layer != SPARE and (
            piece.tag not in old or piece.tag in mended or _size(piece) != _size(old[piece.tag])
            or made_of.get(piece.tag, piece.tag) != piece.tag))


def _named(tags: Sequence[str]) -> str:
    shown = ", ".join(tags[:MOST_NAMED])
    return shown + (f" and {len(tags) - MOST_NAMED} more, see the cut list" if len(tags) > MOST_NAMED else "")


def _pieces(
    earlier: BaselinePlan, pieces: Sequence[Piece], made_of: Mapping[str, str], trimmed: Sequence[str], unit: Unit,
) -> list[str]:
    """Return the lines about pieces."""
    old = {piece.tag: piece for piece in earlier.pieces}
    by_tag = {piece.tag: piece for piece in pieces}
    wanted = [piece for piece in pieces if piece.layer != SPARE]
    was_cut = set(made_of.values())
    new = [piece.tag for piece in wanted if piece.tag not in old and piece.tag not in made_of]
    changed = [piece.tag for piece in wanted if piece.tag in old and piece.tag not in made_of
               and _size(piece) != _size(old[piece.tag])]
    same = [piece.tag for piece in wanted if piece.tag in old and piece.tag not in set(changed) | set(trimmed)]
    gone = [tag for tag, piece in old.items() if tag not in by_tag and tag not in was_cut and piece.layer != SPARE]
    lines = [f"{word}: {_named(tags)}" for word, tags in (
        ("new", new), ("changed, cut as the new list says", changed), ("no longer needed, do not cut", gone)) if tags]
    lines.append(f"as they were: {len(same)} pieces")
    for tag in sorted(trimmed):
        piece, was = by_tag[tag], old[made_of[tag]]
        whole = (was.length, was.width) == (piece.length, piece.width)
        size = f"{tape(piece.length, unit)} x {inches(piece.width, unit)}"
        trim = "" if whole else f", trim it to {size}"
        lines.append(f"{tag} is made of the piece cut as {was.tag}: mark it {tag}{trim}")
    for piece in pieces:
        if piece.layer == SPARE:
            size = f"{tape(piece.length, unit)} x {inches(piece.width, unit)}"
            word = "is cut and needed nowhere" if piece.kind not in WASTE else f"is {piece.kind}, good for nothing"
            lines.append(f"spare: {piece.tag}, {size}, {word}; in the areas it counts with the laps")
    return lines


def _size(piece: Piece) -> object:
    left = min(x for x, _ in piece.outline)
    return piece.length, piece.width, [(x - left, y) for x, y in piece.outline], len(piece.holes), len(piece.slits)


def _moved(
    earlier: BaselinePlan, pieces: Sequence[Piece], cuttings: Sequence[Cutting], made_of: Mapping[str, str],
) -> list[str]:
    """Say which pieces still to be cut come from another place on the rolls than before."""
    def places(made: Sequence[Cutting]) -> dict[str, tuple[str, int]]:
        return {cut.piece: (roll.tag, cut.at) for one in made for roll in one.rolls for cut in roll.cuts}

    old, new = places(earlier.cuttings), places(cuttings)
    tags = [piece.tag for piece in pieces if piece.tag in old and piece.tag not in made_of and piece.tag in new
            and old[piece.tag] != new[piece.tag]]
    return [f"cut from another place than before, as the new list says: {_named(tags)}"] if tags else []


def _rolls(cutting: Cutting, before: Cutting | None, opened: frozenset[str]) -> list[str]:
    """Say which rolls are opened, what is still to open, and what to buy or return against the plan before."""
    def names(rolls: Sequence[Roll]) -> str:
        return f" ({', '.join(roll.tag for roll in rolls)})" if rolls else ""

    def told(number: int) -> str:
        return f"{number} {'roll' if number == 1 else 'rolls'}"

    here = [roll for roll in cutting.rolls if roll.tag in opened and not roll.remnant]
    still = [roll for roll in cutting.rolls if roll.tag not in opened and not roll.remnant]
    used = [roll.stock for roll in cutting.rolls if roll.remnant and roll.tag in opened]
    fresh = [roll.stock for roll in cutting.rolls if roll.remnant and roll.tag not in opened]
    line = f"{cutting.product}: opened already {told(len(here))}{names(here)}"
    line += f" and remnant {', '.join(used)}" if used else ""
    line += f"; still to open {told(len(still))}{names(still)}"
    line += f" and the remnants {', '.join(fresh)}" if fresh else ""
    lines = [line]
    if before is not None:
        now = Counter(roll.stock for roll in cutting.rolls if not roll.remnant)
        was = Counter(roll.stock for roll in before.rolls if not roll.remnant)
        more = [f"{count} of {stock}" for stock, count in sorted((now - was).items())]
        less = [f"{count} of {stock}" for stock, count in sorted((was - now).items())]
        if more:
            lines.append(f"{cutting.product}: to buy, more than planned before: {', '.join(more)}")
        if less:
            lines.append(f"{cutting.product}: to return, no longer needed: {', '.join(less)}")
    return lines
