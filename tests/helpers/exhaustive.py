"""The least cost of a small cutting problem, by trying every way to cut it."""

from functools import lru_cache
from random import Random

from layout.rolls import Item, Problem, Stock

NEVER = 10**9


def exhaustive(problem: Problem) -> int | None:
    """Return the least cost by trying every way to share the pieces out, or None when the stock cannot hold them."""
    pieces = [item for item in problem.items for _ in range(item.demand)]
    everything = (1 << len(pieces)) - 1

    def submasks(mask: int) -> list[int]:
        """Every part of a set of pieces that holds its lowest piece."""
        low = mask & -mask
        rest = mask ^ low
        parts, sub = [], rest
        while True:
            parts.append(sub | low)
            if not sub:
                return parts
            sub = (sub - 1) & rest

    @lru_cache(maxsize=None)
    def block(mask: int, width: int) -> int:
        """Return the least length of one block ripped into lanes, each cross-cut into pieces end to end."""
        chosen = [pieces[i] for i in range(len(pieces)) if mask >> i & 1]

        def lay(number: int, lanes: tuple[tuple[int, int], ...]) -> int:
            """Put one piece after the other at the end of a lane or into one of its own, either way it may lie."""
            if sum(wide for _, wide in lanes) > width:
                return NEVER
            if number == len(chosen):
                return max(long for long, _ in lanes)
            ways = [(chosen[number].length, chosen[number].width)]
            if chosen[number].turnable:
                ways.append((chosen[number].width, chosen[number].length))
            least = NEVER
            for long, wide in ways:
                for at, (length, broad) in enumerate(lanes):
                    longer = (*lanes[:at], (length + long, max(broad, wide)), *lanes[at + 1:])
                    least = min(least, lay(number + 1, longer))
                least = min(least, lay(number + 1, (*lanes, (long, wide))))
            return least

        return lay(0, ())

    @lru_cache(maxsize=None)
    def roll(mask: int, width: int) -> int:
        """Least length of roll from which the pieces can be cut."""
        if not mask:
            return 0
        return min(block(part, width) + roll(mask ^ part, width) for part in submasks(mask))

    @lru_cache(maxsize=None)
    def least(mask: int, used: tuple[int, ...]) -> int:
        if not mask:
            return 0
        best = NEVER
        for part in submasks(mask):
            for k, stock in enumerate(problem.stocks):
                if stock.count is not None and used[k] >= stock.count:
                    continue
                if roll(part, stock.width) <= stock.length:
                    more = tuple(n + (i == k) for i, n in enumerate(used))
                    best = min(best, stock.cost + least(mask ^ part, more))
        return best

    cost = least(everything, (0,) * len(problem.stocks))
    return None if cost >= NEVER else cost


def tiny(seed: int) -> Problem:
    """Return a tiny problem: at most six pieces, one or two bought lengths, some limited, perhaps a remnant."""
    random = Random(seed)
    width = random.choice((6, 10))
    longest = random.randint(10, 24)
    stocks = [Stock(longest, width, random.randint(5, 9), random.choice((None, None, 1, 2, 3)))]
    if random.random() < 0.6:
        stocks.append(Stock(random.randint(5, longest), width, random.randint(2, 8), random.choice((None, 1, 2))))
    if random.random() < 0.4:
        stocks.append(Stock(random.randint(4, 12), random.choice((width, width, width - 2)), 0, 1))
    items = []
    for _ in range(random.randint(1, 3)):
        full = random.random() < 0.3
        items.append(Item(
            random.randint(2, longest), width if full else random.randint(1, width), random.randint(1, 2),
            not full and random.random() < 0.5))
    return Problem(tuple(items), tuple(stocks))
