"""Cutting pieces from rolls: cost, limits, width, leftovers, order, and what is said when it cannot be done."""

from dataclasses import replace
from decimal import Decimal
from importlib import import_module
from typing import Any

import pytest

from layout.errors import NoLayout
from layout.records import Cutting, Piece, Product, Remnant, RollStock
from layout.rolls import Effort, Work, best_cutting
from layout.rolls.master import NEW_A_ROUND, Master
from layout.rolls.problem import Answer, CutBlock, Item, Lay, Pattern, Problem, Stock
from layout.rolls.tidy import fewer_patterns
from layout.units import INCH, MM

WIDTH = 36 * 16


def piece(
    tag: str, length: int, width: int = WIDTH, *, face: str = "South", run: str = "A", turnable: bool = False,
) -> Piece:
    """Return a piece that is only a size."""
    return Piece(tag, "drop", "membrane", run, face, "membrane", length, width, True, (), turnable=turnable)


def pieces(count: int, length: int, width: int = WIDTH, *, name: str = "A", turnable: bool = False) -> list[Piece]:
    """Return pieces of one size."""
    return [piece(f"{name}-{number:02d}", length, width, turnable=turnable) for number in range(1, count + 1)]


def sheet(*rolls: RollStock, remnants: tuple[Remnant, ...] = ()) -> Product:
    """Return a membrane with these rolls."""
    return Product("membrane", WIDTH, rolls, remnants)


def roll(length: int, price: str | None, on_hand: int | None = None) -> RollStock:
    """Return a roll to buy."""
    return RollStock(length, WIDTH, None if price is None else Decimal(price), on_hand=on_hand)


def cutting(wanted: list[Piece], product: Product, effort: Effort = Effort()) -> Cutting:
    """Cut, and check what holds of every cutting: each piece once, blocks apart, rips within the width."""
    done = best_cutting(wanted, product, unit=INCH, keep_remnant=48 * 16, effort=effort)
    sizes = {each.tag: each for each in wanted}
    assert sorted(c.piece for each in done.rolls for c in each.cuts) == sorted(sizes)
    for number, each in enumerate(done.rolls, start=1):
        assert each.tag == f"R{number:02d}"
        blocks: dict[int, list[tuple[int, int, int]]] = {}
        for c in each.cuts:
            size = sizes[c.piece]
            assert (c.length, c.width) == ((size.width, size.length) if c.turned else (size.length, size.width))
            assert size.turnable or not c.turned
            blocks.setdefault(c.at, []).append((c.across, c.across + c.width, c.length))
        end = 0
        for at in sorted(blocks):
            assert at == end
            edge = 0
            for low, high, _ in sorted(blocks[at]):
                assert low >= edge
                edge = high
            assert edge <= each.width
            end = at + max(length for _, _, length in blocks[at])
        assert each.leftover.length == each.length - end >= 0
        assert each.leftover.keep == (each.leftover.length >= 48 * 16)
    if done.cost is not None and done.bound is not None:
        assert done.bound <= done.cost == sum(each.price or 0 for each in done.rolls)
        assert done.optimal == (done.bound == done.cost)
    assert done.rolls_bound <= len(done.rolls)
    return done


def test_no_pieces_take_no_rolls() -> None:
    done = cutting([], sheet(roll(12800, "205")))
    assert (done.rolls, done.cost, done.bound, done.optimal) == ((), 0, 0, True)


def test_fifteen_drops_take_three_rolls() -> None:
    # 15 drops of 105 9/16 in: a roll of 66'-8" gives 7, so 3 rolls; worked by hand
    done = cutting(pieces(15, 1689), sheet(roll(12800, "205")))
    assert (len(done.rolls), done.cost, done.bound, done.rolls_bound) == (3, Decimal(615), Decimal(615), 3)
    assert done.rolls[0].stock == "66'-8\""


def test_lengths_are_spoken_of_as_a_tape_reads_them() -> None:
    done = best_cutting(
        [piece("A-01", 2000, 914)], Product("membrane", 914, (RollStock(20_000, 914, Decimal(150)),)),
        unit=MM, keep_remnant=1200, prefix="M")
    assert (done.rolls[0].tag, done.rolls[0].stock) == ("M01", "20000 mm")


def test_the_cheap_length_is_right_when_it_wastes_nothing() -> None:
    # fours of 50: the 100 gives two for 10, five each; the 150 three for 16, five and a third each
    done = cutting(pieces(4, 50), sheet(roll(150, "16"), roll(100, "10", on_hand=3)))
    assert [each.length for each in done.rolls] == [100, 100]
    assert done.cost == done.bound == 20


def test_the_cheap_length_is_wrong_when_it_wastes_half() -> None:
    # two of 75: one from each 100 is 20, both from one 150 is 16
    done = cutting(pieces(2, 75), sheet(roll(150, "16"), roll(100, "10", on_hand=3)))
    assert [each.length for each in done.rolls] == [150]
    assert done.cost == done.bound == 16


def test_a_limit_on_hand_is_kept() -> None:
    # eight of 50: four 100s would be 40, but there are two
    done = cutting(pieces(8, 50), sheet(roll(150, "16"), roll(100, "10", on_hand=2)))
    assert sum(each.length == 100 for each in done.rolls) <= 2
    # by hand: 3 x 150 hold nine for 48; 2 x 100 + 2 x 150 hold ten for 52; 1 x 100 + 2 x 150 hold eight for 42
    assert done.cost == done.bound == 42


def test_a_remnant_is_used_at_no_cost_and_goes_by_its_tag() -> None:
    remnants = (Remnant("K1", 1700, WIDTH), Remnant("K2", 900, WIDTH))
    done = cutting(pieces(8, 1689), sheet(roll(12800, "205"), remnants=remnants))
    assert done.cost == done.bound == 205
    used = [each for each in done.rolls if each.remnant]
    assert [(each.stock, each.price, len(each.cuts)) for each in used] == [("K1", None, 1)]


def test_a_narrower_remnant_takes_only_what_fits_its_width() -> None:
    remnants = (Remnant("K1", 5000, 200),)
    wanted = pieces(7, 1689) + pieces(2, 1500, 192, name="S")
    done = cutting(wanted, sheet(roll(12800, "205"), remnants=remnants))
    assert done.cost == done.bound == 205
    assert {c.piece for each in done.rolls if each.remnant for c in each.cuts} == {"S-01", "S-02"}


def test_narrow_pieces_fill_the_width_side_by_side() -> None:
    # three strips 12 in wide side by side in one block
    done = cutting(pieces(6, 1200, 192), sheet(roll(2400, "50")))
    assert (len(done.rolls), done.cost, done.bound) == (1, 50, 50)


def test_small_squares_vanish_into_the_end_of_a_roll() -> None:
    # seven drops leave 977 ticks of a roll of 12800: two rows of two squares of 256 go there
    wanted = pieces(7, 1689) + pieces(4, 256, 256, name="C", turnable=True)
    done = cutting(wanted, sheet(roll(12800, "205")))
    assert (len(done.rolls), done.cost, done.bound) == (1, 205, 205)


def test_small_pieces_in_dearer_rolls_cost_what_those_rolls_cost(monkeypatch: pytest.MonkeyPatch) -> None:
    # two of 50 fill a roll of 100 for 10; two of 60 for 14, found first, have room for squares
    small_module = import_module("layout.rolls.small")
    solve = small_module.solve

    def dear_first(problem: Problem, effort: Effort) -> Answer:
        monkeypatch.setattr(small_module, "solve", solve)
        without = replace(problem, stocks=(replace(problem.stocks[0], count=0), *problem.stocks[1:]))
        answer: Answer = replace(solve(without, effort), proof=solve(problem, effort).proof)
        return answer

    monkeypatch.setattr(small_module, "solve", dear_first)
    monkeypatch.setattr(small_module, "improve", lambda problem, answer: (solve(problem, Effort()), 1))
    wanted = pieces(2, 50) + pieces(2, 10, 10, name="C", turnable=True)
    done = cutting(wanted, sheet(roll(100, "10"), roll(60, "7")))
    assert (done.cost, done.bound, done.optimal) == (14, 10, False)


def test_only_turnable_pieces_are_turned() -> None:
    turned = cutting(pieces(3, 576, 192, turnable=True), sheet(roll(600, "10")))
    assert len(turned.rolls) == 1
    # 600 across a 576 roll: must be turned to fit at all
    across = cutting(pieces(1, 192, 600, turnable=True), sheet(roll(700, "10")))
    assert across.rolls[0].cuts[0].turned
    with pytest.raises(NoLayout, match=r"piece A-01 .* wider|order a wider roll"):
        cutting(pieces(1, 192, 600), sheet(roll(700, "10")))


def test_without_a_price_total_length_is_least() -> None:
    # three of 50: one 150, not two 100s
    done = cutting(pieces(3, 50), sheet(roll(150, None), roll(100, None)))
    assert [each.length for each in done.rolls] == [150]
    assert (done.cost, done.bound, done.optimal) == (None, None, True)
    assert "no price" in done.notes[0]


def test_cents_are_exact() -> None:
    done = cutting(pieces(3, 50), sheet(roll(100, "10.10"), roll(50, "5.06")))
    assert done.cost == done.bound == Decimal("15.16")


def test_a_piece_too_long_is_named_with_the_remedy() -> None:
    with pytest.raises(NoLayout) as told:
        cutting([piece("A-07", 1701)], sheet(roll(1700, "10")))
    text = str(told.value)
    assert "A-07" in text and "8'-10 5/16\"" in text and "8'-10 1/4\"" in text
    assert "order a longer roll or allow an end lap" in text


def test_limited_stock_that_cannot_hold_the_pieces_is_said() -> None:
    with pytest.raises(NoLayout, match="cannot hold all 3 pieces; raise on_hand"):
        cutting(pieces(3, 60), sheet(roll(100, "10", on_hand=2)))


def test_first_come_cuts_in_hanging_order_from_one_open_roll() -> None:
    # two rolls of 60 + 40 would do; hung as 60 60 40 40 it is 60, then 60 + 40, then 40
    order = [piece("A-1", 60), piece("A-2", 60), piece("A-3", 40), piece("A-4", 40)]
    done = cutting(order, sheet(roll(100, "10")))
    assert (len(done.rolls), done.first_come) == (2, 3)
    worse = [piece("A-1", 60), piece("A-2", 60), piece("A-3", 60), piece("A-4", 40), piece("A-5", 40), piece("A-6", 40)]
    done = cutting(worse, sheet(roll(100, "10")))
    assert (len(done.rolls), done.first_come) == (3, 4)


def test_scrap_is_gathered_into_one_leftover_worth_keeping() -> None:
    # 1000 1000 900 900 700 700 600 from rolls of 2700: whichever way, the leftover is 2300 in all
    lengths = [1000, 1000, 900, 900, 700, 700, 600]
    done = cutting([piece(f"A-{n}", length) for n, length in enumerate(lengths)], sheet(roll(2700, "9")))
    assert len(done.rolls) == 3
    leftovers = sorted(each.leftover.length for each in done.rolls)
    assert sum(leftovers) == 2300
    assert leftovers[-1] >= 2000


def test_no_more_rolls_are_opened_than_needed() -> None:
    # both drops fit the one remnant; two remnants would do as well
    remnants = (Remnant("K1", 1000, WIDTH), Remnant("K2", 1000, WIDTH), Remnant("K3", 2000, WIDTH))
    done = cutting(pieces(2, 1000), sheet(roll(12800, "205"), remnants=remnants))
    assert (len(done.rolls), done.rolls_bound, done.cost) == (1, 1, 0)


def test_piles_are_finished_early() -> None:
    # each face needs one roll: no roll should mix faces, and faces come one after the other
    wanted = [piece(f"{face}-{n}", 100, face=face) for face in ("South", "East", "North") for n in range(10)]
    done = cutting(wanted, sheet(roll(1000, "10")))
    faces = [{next(p.face for p in wanted if p.tag == c.piece) for c in each.cuts} for each in done.rolls]
    assert faces == [{"South"}, {"East"}, {"North"}]


def test_the_longest_piece_is_cut_first_within_a_roll() -> None:
    done = cutting([piece("A-1", 30), piece("A-2", 50), piece("A-3", 20)], sheet(roll(100, "10")))
    assert [c.piece for c in done.rolls[0].cuts] == ["A-2", "A-1", "A-3"]


def hard_case() -> tuple[list[Piece], Product]:
    """Return a job whose first-fit answer is not best."""
    lengths = [1380, 1520, 1560, 1710, 1820, 1880, 1930, 2000, 2050, 2100, 2140, 2150, 2200]
    return [piece(f"A-{n:03d}", lengths[n % 13]) for n in range(120)], sheet(roll(5600, "10"))


def test_a_search_cut_short_says_so_and_its_bound_stands() -> None:
    wanted, product = hard_case()
    full = cutting(wanted, product)
    short = cutting(wanted, product, Effort(stop=lambda: True))
    assert full.optimal and not short.optimal
    assert short.bound is not None and full.cost is not None and short.cost is not None
    assert short.bound <= full.cost < short.cost
    assert any("cut short" in note for note in short.notes)


def test_work_is_counted_and_what_it_allows_is_not_passed_by_much() -> None:
    """Without work first fit stands; with some the search ends there, which is not called being cut short."""
    wanted, product = hard_case()
    full = cutting(wanted, product)
    given = [cutting(wanted, product, Effort(work=Work(0))), cutting(wanted, product, Effort(work=Work(0)))]
    assert given[0] == given[1] and not given[0].optimal and not given[0].notes
    assert given[0].cost is not None and full.cost is not None and given[0].cost > full.cost
    ample = Work(1_000_000)
    assert cutting(wanted, product, Effort(work=ample)) == full and 0 < ample.left < 1_000_000
    used = 1_000_000 - ample.left
    scant = Work(used // 2)
    cutting(wanted, product, Effort(work=scant))
    assert -used < scant.left <= 0


def test_the_same_job_gives_the_same_rolls() -> None:
    wanted, product = hard_case()
    assert cutting(wanted, product) == cutting(wanted, product)


@pytest.mark.parametrize(("most", "dived"), [(13 * 3, True), (13 * 3 - 1, False)])
def test_very_many_kinds_are_cut_with_less_effort(most: int, dived: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """13 lengths and 3 kinds of stock: past the limit nothing is dived for, and what is proven still holds."""
    solve = import_module("layout.rolls.solve")  # the package's own ``solve`` is the function
    monkeypatch.setattr(solve, "VAST", most)
    dives: list[int] = []
    plain = solve.dive

    def counted(*args: Any, seed: int, **more: Any) -> Any:
        dives.append(seed)
        return plain(*args, seed=seed, **more)

    monkeypatch.setattr(solve, "dive", counted)
    wanted, product = hard_case()
    product = replace(product, rolls=(*product.rolls, roll(4000, "8")), remnants=(Remnant("K1", 1400, WIDTH),))
    done = cutting(wanted, product)
    assert bool(dives) == dived
    assert done.bound is not None and done.cost is not None and 0 < done.bound <= done.cost


def test_hundreds_of_remnants_bring_few_columns_each() -> None:
    """From one table a roll takes many columns; 800 kinds of stock take one each, whatever the duals recommend."""
    items = tuple(Item(length, WIDTH, 5) for length in range(700, 300, -20))
    for remnants, most in ((0, NEW_A_ROUND), (799, 800)):
        stocks = (Stock(5600, WIDTH, 10), *(Stock(1400 + number, WIDTH, 0, 1) for number in range(remnants)))
        master = Master(Problem(items, stocks))
        answer = master.program.solve_linear()
        assert answer is not None
        new = master.generate(master.price(master.whole_duals(answer.duals)), answer.duals)
        assert 1 < new <= most


def test_two_rolls_are_cut_alike_where_that_leaves_as_much() -> None:
    # 40 + 40 + 5 + 5 and 45 + 45 are 90 each; so are 45 + 40 + 5 twice
    long, middle, short = (CutBlock(length, ((Lay(item),),)) for item, length in enumerate((45, 40, 5)))
    rolls = [Pattern(0, (middle, middle, short, short)), Pattern(0, (long, long))]
    assert fewer_patterns(rolls) == [Pattern(0, (long, middle, short))] * 2
    # of one of them there are two: not all three can be cut alike
    assert sorted(fewer_patterns([*rolls, rolls[1]])) == sorted([*rolls, rolls[1]])
    # an odd number of a block cannot be dealt to two rolls
    odd = [Pattern(0, (middle, short)), Pattern(0, (long,))]
    assert sorted(fewer_patterns(odd)) == sorted(odd)
