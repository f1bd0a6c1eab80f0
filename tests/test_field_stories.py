"""Field stories: whatever happened on site, in any mix, the new plan is sound and wastes nothing that could be used."""

from __future__ import annotations

import random
from dataclasses import dataclass

import pytest

from helpers.packets import packet_findings, plan_findings
from helpers.shed import earlier
from layout.errors import NoLayout
from layout.job import read_job_text
from layout.packet.sequence import hanging
from layout.integrated import quiet
from layout.records import Cut, Piece, Plan, Roll
from layout.revise import Done, BaselinePlan, FieldWork, Options, Revised, after, read_field
from layout.revise.earlier import SPARE

JOB = """
job: {name: Terrace}
units: in
sheet:
  width: 36
  rolls: [{length: 66'-8", price: 205}, {length: 33'-4", price: 112}]
  remnants: [{tag: K1, length: 19'-0", width: 36}]
rules: {corner_strip: 12, base_strip: 18}
runs:
  - name: A
    flow: right
    faces:
      - {name: South, length: 24'-0", top: 8'-0", ledge: 4, footing_depth: 12, corner: outside}
      - name: East
        length: 20'-0"
        top: 8'-0"
        ledge: 4
        footing_depth: 12
        openings: [{tag: W1, kind: window, left: 13'-0", sill: 5'-0", width: 3'-0", height: 2'-0"}]
        sleeves: [{tag: P1, at: 8'-4", elevation: 2'-0", diameter: 4}]
  - name: B
    flow: left
    faces:
      - {name: North, length: 16'-0", top: 7'-0", ledge: 4, footing_depth: 12}
"""
GROWN = {"East": ("length: 20'-0\"", "length: 20'-3\""), "North": ("length: 16'-0\"", "length: 16'-3\""),
         "South": ("length: 24'-0\"", "length: 24'-3\"")}
MOVED = ("at: 8'-4\"", "at: 9'-0\"")
STORIES = 60
MOST_REFUSED = 0.05


@dataclass(frozen=True)
class Story:
    """What happened: the changed job, what is done, what was told."""

    text: str
    cut: tuple[str, ...]
    hung: tuple[str, ...]
    options: Options


def story(seed: int) -> Story:
    """Return a story: the crew cut so far down the cut list and hung so far along the order, then things happened."""
    plan, _ = earlier(JOB)
    chance = random.Random(seed)
    cut: list[str] = []
    for made in plan.cuttings:
        listed = [one.piece for roll in made.rolls for one in roll.cuts]
        cut += listed[:chance.randint(0, len(listed))]
    order = hanging(plan).tags
    hung = [tag for tag in order[:chance.choice((0, chance.randint(0, len(order))))] if tag in cut]
    whole = [tag for tag in cut if tag not in hung]
    text = JOB
    spoilt: list[str] = []
    wrong: list[str] = []
    rolls: list[str] = []
    delivered: list[str] = []
    remnants: list[str] = []
    by_tag = {piece.tag: piece for piece in plan.pieces}
    kinds = ("spoilt", "wrong", "short", "damaged", "lost", "grown", "moved", "remnant", "fewer")
    for what in sorted(chance.sample(kinds, chance.randint(1, 3)), key=kinds.index):
        roll = chance.choice(rolls_of(plan))
        used = max((one.at + one.length for one in roll.cuts if one.piece in cut), default=0)
        if what == "spoilt" and whole:
            spoilt += chance.sample(whole, min(len(whole), chance.randint(1, 2)))
        elif what == "wrong" and set(whole) - set(spoilt):
            tag = chance.choice(sorted(set(whole) - set(spoilt)))
            length = by_tag[tag].length - 16 * chance.choice((1, 5, 20))
            if length > 64:
                wrong.append(f"{tag}={length / 16:g}\"x{by_tag[tag].width / 16:g}\"")
        elif what == "short" and roll.length - 16 > used + 16:
            rolls.append(f"{roll.tag}=short:{chance.randint(used // 16 + 1, roll.length // 16 - 1)}\"")
        elif what == "damaged":
            start = chance.randint(0, roll.length // 16 - 30)
            rolls.append(f"{roll.tag}=damaged:{start}\":{start + chance.randint(2, 28)}\"")
        elif what == "lost":
            rolls.append(f"{roll.tag}=lost")
        elif what == "fewer":
            here = {text.partition("=")[0] for text in rolls}
            opened = sum(roll.tag in here or any(one.piece in cut for one in roll.cuts) for roll in rolls_of(plan)
                         if roll.length == 800 * 16)
            delivered.append(f"66'-8\"={opened}")
        elif what == "grown":
            text = text.replace(*GROWN[chance.choice(sorted(GROWN))])
        elif what == "moved":
            text = text.replace(*MOVED)
        elif what == "remnant":
            remnants.append(f"K9={chance.randint(4, 20)}'x36\"")
    return Story(text, tuple(cut), tuple(hung), Options(tuple(spoilt), tuple(rolls), tuple(delivered), tuple(remnants),
                                                        tuple(wrong)))


def told(one: Story) -> tuple[FieldWork, Revised]:
    _, before = earlier(JOB)
    field = read_field(before, [], cut=one.cut, hung=one.hung, options=one.options)
    return field, after(before, field, read_job_text(one.text, "test"), progress=quiet, stop=lambda: True)


def fits(piece: Piece, length: int, width: int) -> bool:
    """Tell whether a piece can be cut from a rectangle, turned where it may be."""
    return (piece.length <= length and piece.width <= width) or (
        piece.turnable and piece.width <= length and piece.length <= width)


def rolls_of(plan: Plan) -> list[Roll]:
    return [roll for made in plan.cuttings for roll in made.rolls]


def check_nothing_is_wasted(plan: Plan, done: Done, before: BaselinePlan) -> None:
    """Go through every spare and every free remnant by brute force."""
    still = [piece for piece in plan.pieces if piece.tag not in done.cut]
    for spare in (piece for piece in plan.pieces if piece.kind == SPARE and len(piece.outline) == 4
                  and not piece.holes and not piece.slits):
        for piece in still:
            assert piece.product != spare.product or not fits(piece, spare.length, spare.width), (spare.tag, piece.tag)
    known = {roll.tag for made in before.cuttings for roll in made.rolls}
    opened = {roll.tag for roll in rolls_of(plan) if roll.tag in known and any(
        cut.piece in done.cut for cut in roll.cuts)}
    by_tag = {piece.tag: piece for piece in plan.pieces}
    for product, stock in (("membrane", plan.job.sheet), ("strip", plan.job.strip)):
        rolls = [roll for roll in rolls_of(plan) if roll.product == product]
        fresh: list[Cut] = [cut for roll in rolls if not roll.remnant and roll.tag not in opened for cut in roll.cuts
                            if cut.piece not in done.cut]
        free = [(one.tag, one.length, one.width) for one in stock.remnants
                if one.tag not in {roll.stock for roll in rolls if roll.remnant}] if product == "membrane" else []
        free += [(roll.tag, roll.leftover.length, roll.width) for roll in rolls if roll.remnant or roll.tag in opened]
        for cut in fresh:
            for tag, length, width in free:
                assert not fits(by_tag[cut.piece], length, width), (cut.piece, tag)


def run(seed: int, *, papers: bool) -> str:
    """Run one story, the papers of its packet audited where asked; return the refusal, or nothing."""
    one = story(seed)
    _, before = earlier(JOB)
    try:
        field, made = told(one)
    except NoLayout as error:
        assert "What would make it possible:" in str(error), str(error)
        return str(error)
    findings = (packet_findings if papers else plan_findings)(made.plan)
    assert findings == (), [(one.number, one.place, one.what, one.needed, one.found) for one in findings[:4]]
    check_nothing_is_wasted(made.plan, made.done, before)
    assert field.done.hung - {piece.tag for piece in made.plan.pieces if piece.layer == SPARE} <= made.done.hung | {
        tag for tag in field.done.hung if tag not in {piece.tag for piece in made.plan.pieces}}
    return ""


@pytest.mark.parametrize("seed", range(6))
def test_a_story_ends_well(seed: int) -> None:
    run(seed, papers=seed == 0)


@pytest.mark.slow
def test_sixty_stories_end_well_and_few_are_refused() -> None:
    refused = {seed: words for seed in range(STORIES) if (words := run(seed, papers=seed % 3 == 0))}
    assert len(refused) <= MOST_REFUSED * STORIES, refused
