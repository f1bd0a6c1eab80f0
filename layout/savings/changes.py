"""Single changes of a job, inside sane limits, that might take less sheet: what is worth planning again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from layout.records import MEMBRANE, Job, Plan
from layout.savings.guess import InHand, Lengths
from layout.takeoff.fit import LEAST
from layout.units import inches, tape

CHECK = "check the current edition"
MOST_SHORTER = {"in": 16, "mm": 25}
"""The most that is taken off a turn-down [ticks]: 1 in or 25 mm."""
SHORTER_BY = {"in": 2, "mm": 5}
"""Steps in which it is taken off [ticks]: 1/8 in or 5 mm."""
LEAST_TURN_DOWN = {"in": 32, "mm": 50}
"""No turn-down less than this is proposed [ticks]: 2 in or 50 mm; common practice, no published figure."""
LONGER_BY = Fraction(5, 4)
"""A piece up to a quarter longer than a crew handles is proposed, no more."""
LEAST_SPLIT = {"in": 5 * 192, "mm": 1500}
"""Drops shorter than this are not proposed to be hung in two pieces [ticks]: 5 ft or 1500 mm."""
CLEARANCES = ("clear_of_step", "clear_of_opening", "clear_of_sleeve", "clear_of_corner")


@dataclass(frozen=True)
class Candidate:
    """One single change of a job.

    Parameters
    ----------
    rule
        The key that is changed.
    before, after
        Its value as it is and as it would be, as text.
    words
        The change in words.
    why
        What makes it worth trying, in words.
    source
        Where its limit is published; empty when it is common practice.
    job
        The job with the change, and without drainage board: the membrane alone is compared.
    likely
        The plan's own pieces, so changed, were seen to take less.
    """

    rule: str
    before: str
    after: str
    words: str
    why: str
    source: str
    job: Job
    likely: bool = False


def changes(job: Job, plan: Plan) -> tuple[Candidate, ...]:
    """Return the changes that might take less, the likely ones first.

    Parameters
    ----------
    job, plan
        The job, and its plan.

    Returns
    -------
    tuple of Change
        Without those whose sheet, freed at the very most, would not add up to a roll.
    """
    hand = InHand(job, plan)
    if hand.cost <= 0 or not hand.field:
        return ()
    found = [*_shorter(hand), *_laps(hand), *_longer_pieces(hand), *_more_end_laps(hand), *_more_rolls(hand),
             *_clearances(hand)]
    return tuple(sorted(found, key=lambda change: not change.likely))


# --- pieces a little shorter -------------------------------------------------------------------

def _shorter(hand: InHand) -> Iterator[Candidate]:
    """Changes that make pieces shorter and nothing else."""
    rules, unit = hand.job.rules, hand.job.unit
    every = [piece.tag for piece in hand.pieces]
    less = _least_shortening(hand, every, most=rules.cut_allowance, step=1)
    if less:
        yield _ruled(hand, "cut_allowance", rules.cut_allowance - less, _near_miss(hand, every, less), likely=True)
    if rules.cut_to > 1:
        rounded = {piece.tag: max(1, piece.length - rules.cut_to + 1) for piece in hand.pieces}
        if hand.seen_to_save(rounded):
            more = inches(rules.cut_to - 1, unit)
            yield _ruled(hand, "cut_to", 1, f"rounding takes up to {more} of every piece", likely=True)
    if rules.roll_end:
        yield _ruled(hand, "roll_end", 0, f"{inches(rules.roll_end, unit)} of every roll is left for squaring")
    least, most = rules.turn_down
    lowest = [drop.pieces[-1] for drop in hand.drops]
    room = min(MOST_SHORTER[unit.name], least - LEAST_TURN_DOWN[unit.name])
    less = _least_shortening(hand, lowest, most=room, step=SHORTER_BY[unit.name])
    if less:
        why = _near_miss(hand, lowest, less)
        if rules.base_strip and rules.base_strip_up > least - less:
            why += f"; the base strip, {inches(rules.base_strip_up, unit)} down the face, would end below the sheet"
        yield _change("turn_down", inches(least, unit), inches(least - less, unit), why, "",
                      hand.with_rule(turn_down=(least - less, most)), likely=True)
    highest = [drop.pieces[0] for drop in hand.drops]
    room = rules.above_grade if rules.top == "grade" else 0
    less = _least_shortening(hand, highest, most=room, step=SHORTER_BY[unit.name])
    if less:
        yield _ruled(hand, "above_grade", rules.above_grade - less, _near_miss(hand, highest, less), likely=True,
                     source=f"waterproofing from finished grade down: IRC R406.2, 2018-type text; {CHECK}")


def _least_shortening(hand: InHand, tags: Iterable[str], *, most: int, step: int) -> int:
    """Return the least that must come off some pieces for them to be seen to cost less; 0 when ``most`` does not do.

    Parameters
    ----------
    hand
        The plan.
    tags
        The pieces.
    most, step
        The most that may come off, and the steps in which it does [ticks].
    """
    short = [piece for piece in hand.pieces if piece.tag in set(tags)]

    def saves(steps: int) -> bool:
        return hand.seen_to_save({piece.tag: max(1, piece.length - steps * step) for piece in short})

    too_little, enough = 0, most // step
    if enough <= 0 or not saves(enough):
        return 0
    while enough - too_little > 1:
        middle = (enough + too_little) // 2
        if saves(middle):
            enough = middle
        else:
            too_little = middle
    return enough * step


def _near_miss(hand: InHand, tags: Sequence[str], less: int) -> str:
    """Return in words how near the pieces come to fitting once more into a roll."""
    unit = hand.job.unit
    counts = Counter(hand.field[tag].length for tag in set(tags) if tag in hand.field)
    whole = {drop.pieces[0] for drop in hand.drops if len(drop.pieces) == 1}
    noun = "drops" if whole.issuperset(tags) else "pieces"
    best: tuple[int, int, str] | None = None
    for stock, name in _stock_names(hand.job).items():
        for length, count in counts.items():
            fits = stock // length + 1
            over = fits * length - stock
            if over <= fits * less and count >= fits:
                each = inches(-(-over // fits), unit)
                words = (f"{fits} {noun} of {tape(length, unit)} need {tape(fits * length, unit)} of {name}: "
                         f"{each} less each and they fit")
                if fits == 1:
                    words = f"{noun} of {tape(length, unit)} are {each} too long for {name}"
                best = min(best or (0, 0, ""), (-count * fits, length, words))
    return best[2] if best else f"{noun} {inches(less, unit)} shorter go into fewer rolls together"


def _stock_names(job: Job) -> dict[int, str]:
    """Return what there is to cut from, by length."""
    names = {roll.length: f"a {tape(roll.length, job.unit)} roll" for roll in job.sheet.rolls}
    for remnant in job.sheet.remnants:
        names.setdefault(remnant.length, f"remnant {remnant.tag} ({tape(remnant.length, job.unit)})")
    return names


# --- laps, end laps, stock, clearances ---------------------------------------------------------

def _laps(hand: InHand) -> Iterator[Candidate]:
    """Laps down to the published least."""
    rules, unit = hand.job.rules, hand.job.unit
    floor, source = _published(hand.job, "side_lap")
    fewer = len(hand.drops) - hand.drops_at(floor)
    if rules.side_lap > floor and fewer > 0:
        gone = _without(hand, fewer)
        if _might(hand, gone):
            why = (f"with {inches(floor, unit)} the runs take as few as {hand.drops_at(floor)} drops, "
                   f"now {len(hand.drops)}")
            yield _ruled(hand, "side_lap", floor, why, source=source, likely=hand.seen_to_save(gone))
    floor, source = _published(hand.job, "end_lap")
    more = rules.end_lap - floor
    lapped = [drop.pieces for drop in hand.drops if hand.end_laps(drop)]
    if more > 0 and lapped:
        shorter = [{tags[end]: max(1, hand.field[tags[end]].length - more) for tags in lapped} for end in (0, -1)]
        if _might(hand, shorter[0]):
            why = (f"{_counted(len(lapped), 'drop')} with end laps, each {inches(more, unit)} more than the published "
                   "least")
            likely = any(hand.seen_to_save(lengths) for lengths in (*shorter, _evened(hand, lapped, more)))
            yield _ruled(hand, "end_lap", floor, why, source=source, likely=likely)


def _evened(hand: InHand, lapped: Iterable[Sequence[str]], less: int) -> dict[str, int]:
    """Return the change that makes the pieces of each of some drops equally long, each less by its part of a lap.

    Parameters
    ----------
    hand
        The plan.
    lapped
        The pieces of each drop.
    less
        What each end lap gets shorter by [ticks].
    """
    evened: dict[str, int] = {}
    for tags in lapped:
        total = sum(hand.field[tag].length for tag in tags) - less * (len(tags) - 1)
        evened.update({tag: (total + number) // len(tags) for number, tag in enumerate(tags)})
    return evened


def _without(hand: InHand, drops: int) -> dict[str, int]:
    """Return the change that takes away some drops, those of the commonest length first."""
    counts = Counter(hand.field[drop.pieces[0]].length for drop in hand.drops)
    ranked = sorted(hand.drops, key=lambda drop: (-counts[hand.field[drop.pieces[0]].length], drop.tag))
    return {tag: 0 for drop in ranked[:drops] for tag in drop.pieces}


def _might(hand: InHand, lengths: Lengths) -> bool:
    """Tell whether the sheet that changed pieces need could cost less at all."""
    area = sum(lengths.get(piece.tag, piece.length) * piece.width for piece in hand.pieces)
    return hand.might_save(area, hand.job)


def _longer_pieces(hand: InHand) -> Iterator[Candidate]:
    """Longer pieces, so that drops which are a little too tall hang in one."""
    rules, unit = hand.job.rules, hand.job.unit
    limit = min(int(rules.max_piece * LONGER_BY), hand.job.sheet.longest)
    joined: dict[str, int] = {}
    longest = 0
    for drop in hand.drops:
        laps = hand.end_laps(drop)
        whole = sum(hand.field[tag].length for tag in drop.pieces) - sum(laps)
        if len(laps) == len(drop.pieces) - 1 > 0 and rules.max_piece < whole <= limit:
            longest = max(longest, whole)
            joined.update({tag: 0 for tag in drop.pieces[1:]})
            joined[drop.pieces[0]] = whole
    if not joined or not _might(hand, joined):
        return
    count = sum(1 for length in joined.values() if length)
    why = (f"{_counted(count, 'drop')} of up to {tape(longest, unit)} would hang without an end lap, if the crew can "
           "handle it")
    handy = min(limit, longest + -longest % (unit.ticks if unit.name == "in" else 10))
    yield _ruled(hand, "max_piece", handy, why, say=tape, likely=hand.seen_to_save(joined))


def _more_end_laps(hand: InHand) -> Iterator[Candidate]:
    """Shorter pieces, so that tall drops hang in two and use up the roll ends."""
    rules, unit = hand.job.rules, hand.job.unit
    counts = Counter(piece.length for piece in hand.field.values())
    commonest = max(counts, key=lambda length: (counts[length] * length, length))
    for length in dict.fromkeys((max(counts), commonest)):
        limit = (length - 1) // unit.ticks * unit.ticks
        tall = [piece for piece in hand.field.values() if piece.length > limit]
        more = sum(rules.end_lap * piece.width for piece in tall)
        if not LEAST_SPLIT[unit.name] <= length <= rules.max_piece or not hand.might_save(hand.area + more, hand.job):
            continue
        halves = {piece.tag: -(-(piece.length + rules.end_lap) // 2) for piece in tall}
        extra = [replace(piece, tag=f"{piece.tag}+", length=halves[piece.tag]) for piece in tall]
        left = max(roll.leftover.length for roll in hand.cutting.rolls)
        why = (f"{_counted(len(tall), 'piece')} would be hung as two, and roll ends of up to {tape(left, unit)} could "
               "be used")
        change = _ruled(hand, "max_piece", limit, why, say=tape, likely=hand.seen_to_save(halves, extra=extra))
        yield replace(change, words=f"one end lap in drops longer than {tape(limit, unit)}")


def _more_rolls(hand: InHand) -> Iterator[Candidate]:
    """More of a roll length of which all on hand are used."""
    sheet = hand.job.sheet
    for number, roll in enumerate(sheet.rolls):
        used = sum(opened.length == roll.length and not opened.remnant for opened in hand.cutting.rolls)
        if roll.on_hand is None or used < roll.on_hand:
            continue
        rolls = (*sheet.rolls[:number], replace(roll, on_hand=None), *sheet.rolls[number + 1:])
        changed = replace(hand.job, sheet=replace(sheet, rolls=rolls))
        if hand.might_save(hand.area, changed):
            change = _change(f"sheet.rolls[{number}].on_hand", str(roll.on_hand), "no limit",
                             f"{roll.on_hand} on hand are all used", "", changed,
                             likely=hand.seen_to_save({}, job=changed))
            yield replace(change, words=f"more {tape(roll.length, hand.job.unit)} rolls than {roll.on_hand} on hand")


def _clearances(hand: InHand) -> Iterator[Candidate]:
    """Half of a clearance, where it can be what takes more drops or longer ones."""
    needless = len(hand.drops) - hand.drops_at(hand.job.rules.side_lap)
    walls = [wall for wall in hand.plan.walls if wall.layer == MEMBRANE]
    kept = Counter(keep.rule for wall in walls for keep in wall.keeps)
    gone = _without(hand, max(needless, 0))
    shortest = min(piece.length for piece in hand.field.values())
    longer = sum((piece.length - shortest) * piece.width for piece in hand.field.values())
    for rule in CLEARANCES:
        half = getattr(hand.job.rules, rule) // 2
        if not kept[rule] or not half:
            continue
        at_steps = rule == "clear_of_step" and hand.might_save(hand.area - longer, hand.job)
        if at_steps or needless > 0 and _might(hand, gone):
            why = f"seams keep clear of {_counted(kept[rule], 'place')} by it"
            yield _ruled(hand, rule, half, why, likely=needless > 0 and hand.seen_to_save(gone))


# --- words -------------------------------------------------------------------------------------

def _published(job: Job, rule: str) -> tuple[int, str]:
    """Return the published least of a rule [ticks] and its source."""
    name, inch, metric, source = LEAST[rule]
    least = inch if job.unit.name == "in" else metric
    return least, f"published least {name} {inches(least, job.unit)}: {source}; {CHECK}"


def _counted(count: int, noun: str) -> str:
    """Return a count with its noun."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def _ruled(
    hand: InHand, rule: str, value: int, why: str, *, source: str = "", say: Callable[..., str] = inches,
    likely: bool = False,
) -> Candidate:
    """Return the change of one rule to another length."""
    unit = hand.job.unit
    return _change(rule, say(getattr(hand.job.rules, rule), unit), say(value, unit), why, source,
                   hand.with_rule(**{rule: value}), likely=likely)


def _change(rule: str, before: str, after: str, why: str, source: str, job: Job, *, likely: bool) -> Candidate:
    """Return a change in the usual words."""
    return Candidate(rule, before, after, f"{rule} {after} instead of {before}", why, source, job, likely)
