"""The exact search: dynamic programming over the left edges of drops, a block of positions at a time.

The least cost of everything left of a drop whose left edge lies at l is
``best(l) = seam(l) + min over m of (best(m) + drop from m)``, where m is the left edge of the drop before. That drop
ends, and its lap with it,

- at ``l + side_lap`` when m lies ``least`` to ``step`` before l (the ordinary lap);
- at ``m + narrowest`` when m is nearer (a wider lap of a drop as narrow as allowed);
- or just past an opening that would split it, where one piece is worth less than two.

No other right edge can be better: farther right neither the price nor the violation ever falls, but where an opening
no longer splits the drop. Of three neighbours less than ``least`` apart the middle one can always be left out, so in a
block shorter than ``least`` two passes settle the wider laps; in longer blocks passes repeat until nothing changes.
"""

from __future__ import annotations

from bisect import bisect_left
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from layout.drops.columns import IntArray, Span
from layout.drops.costs import NEVER, CostArray, RealArray, most_at_once
from layout.drops.worths import Worths
from layout.errors import NoLayout

ODD = 1j
"""A spacing other than the standard one."""
CHECK_EVERY = 2
"""Blocks between two checks that costs still compare as they should."""
CHECKED_AT_ONCE = 50_000
"""Costs that are checked so in one go; only memory and speed depend on it."""
SEGMENT = 1536
"""Positions between two looks for rows that have become the same."""
WAYS_A_CLASS = 6000
"""Ways to reach left edges that are compared one by one in the time that a class of left edges takes."""
MOST_CLASSES = 96
"""Classes of edges between which costs are worked at once; only speed depends on it."""
SHORTEST_BLOCK = 96
"""Positions in a block where ``least`` is less; only speed depends on it."""


class StretchSearch:
    """The search along one stretch of wall, for any number of starts at once (one row each).

    Parameters
    ----------
    worths
        What drops cost on that wall, which must reach ``sheet.width`` past the last left edge that is searched, or end
        there.
    """

    def __init__(self, worths: Worths) -> None:
        self.worths = worths
        self.stretch, self.sheet = worths.stretch, worths.sheet
        self.scale = worths.scale
        self.sound = True
        """False once costs spread so far that their order is no longer certain."""
        self.searched = 0
        """Left edges whose least costs were found, over all rows."""
        self.passing: dict[Span, tuple[IntArray, int, CostArray]] = {}
        """By opening, the drops that reach just past it."""

    # --- forward -------------------------------------------------------------------------------

    def sweep(self, starts: CostArray, last: int) -> CostArray:
        """Return the least cost of reaching each left edge.

        Parameters
        ----------
        starts
            For each row, the cost of starting at positions 0, 1, …; ``NEVER`` where it may not.
        last
            Last left edge to reach.

        Returns
        -------
        array
            One row for each of ``starts``, positions 0 to ``last``.
        """
        fresh = np.full((len(starts), last + 1), NEVER)
        fresh[:, :starts.shape[1]] = starts[:, :last + 1]
        return self._advance(self._nowhere(len(starts)), fresh, 0)[:, self.sheet.step:]

    def _nowhere(self, rows: int) -> CostArray:
        """Return the costs of the left edges before the first."""
        return np.full((rows, self.sheet.step), NEVER)

    def last_costs(self, starts: CostArray, first: int, last: int) -> CostArray:
        """Return the least cost of reaching each left edge from ``first`` to ``last``.

        The last part of what ``sweep`` returns, in less memory. Rows (starts) that differ by a constant from some
        position on are computed once from there.
        """
        step = self.sheet.step
        window = self._nowhere(len(starts))
        row_of, ahead = np.arange(len(starts)), np.zeros((len(starts), 1), dtype=complex)
        found = np.full((len(starts), last + 1 - first), NEVER)
        for at in range(0, last + 1, SEGMENT):
            stop = min(at + SEGMENT, last + 1)
            fresh = np.full((len(window), stop - at), NEVER)
            if at < starts.shape[1]:
                given = starts[:, at:stop]
                fresh[:, :given.shape[1]] = given
            costs = self._advance(window, fresh, at)
            low, high = max(first, at), stop
            if low < high:
                here = slice(step + low - at, step + high - at)
                found[:, low - first:high - first] = costs[row_of, here] + ahead
            window = costs[:, -step:]
            if stop >= starts.shape[1]:
                window, same_as, least = _merged(window)
                ahead += least[row_of]
                row_of = same_as[row_of]
        return found

    def _advance(self, window: CostArray, fresh: CostArray, at: int) -> CostArray:
        """Find the least costs of some more left edges.

        Parameters
        ----------
        window
            Costs of the ``step`` left edges before ``at``.
        fresh
            Costs of starting at the left edges from ``at`` on.

        Returns
        -------
        array
            ``window``, and the least costs of the left edges from ``at`` on.
        """
        step, least = self.sheet.step, self.sheet.least
        self.searched += fresh.size
        costs = np.concatenate([window, fresh], axis=1)
        narrow = np.full((len(fresh), least - 1 + fresh.shape[1]), NEVER)
        known = min(least - 1, at)
        if known:
            narrow[:, least - 1 - known:least - 1] = window[:, step - known:] + self._narrowly[at - known:at]
        block = max(least - 1, SHORTEST_BLOCK)
        for start in range(0, fresh.shape[1], block):
            self._settle(costs, narrow, at + start, at + min(start + block, fresh.shape[1]), at)
        self.sound = self.sound and self._compare(costs, block)
        return costs

    def _compare(self, costs: CostArray, block: int) -> bool:
        """Tell whether costs compare as they should: those of a block and of the ``step`` before, of every other block.

        ``costs`` begin ``step`` left edges before the first block.
        """
        step = self.sheet.step
        size, apart = costs.shape[1] - step, CHECK_EVERY * block
        whole = max(0, (size - block) // apart + 1)
        if whole:
            windows = sliding_window_view(costs, step + block, axis=1)[:, ::apart]
            at_once = max(1, CHECKED_AT_ONCE // (len(costs) * (step + block)))
            for first in range(0, whole, at_once):
                some = windows[:, first:min(first + at_once, whole)]
                if not self.scale.spread_within(some.reshape(-1, step + block)):
                    return False
        return whole * apart >= size or self.scale.spread_within(costs[:, whole * apart:])

    def _settle(self, costs: CostArray, narrow: CostArray, start: int, stop: int, at: int) -> None:
        """Find the least costs of the left edges from ``start`` to ``stop``, those before being known.

        ``costs`` and ``narrow`` begin ``step`` and ``least - 1`` left edges before ``at``. ``narrow`` holds, for each
        left edge, its cost with a drop as narrow as allowed.
        """
        step, least = self.sheet.step, self.sheet.least
        size = stop - start
        begin, end = start - at, stop - at
        here = slice(step + begin, step + end)
        to_seam, ordinary = self._to_seam[start:stop], self._ordinary_seam[start:stop]
        fresh = costs[:, here].copy()
        while True:
            before = costs[:, begin:end + step - least]
            best: CostArray = np.minimum(fresh, self._by_ordinary_laps(before, start, stop) + ordinary)
            while True:
                np.add(best, self._narrowly[start:stop], out=narrow[:, least - 1 + begin:least - 1 + end])
                wide = best.copy()
                if least > 1:
                    nearer = sliding_least(narrow[:, begin:end + least - 2], least - 1, size)
                    np.minimum(wide, nearer + to_seam, out=wide)
                for span in self._worth_passing(start, stop):
                    self._past(span, costs[:, :step + end], best, wide, start, to_seam)
                if (wide == best).all():
                    break
                best = wide
            settled = size <= least or bool((best == costs[:, here]).all())
            costs[:, here] = best
            if settled:
                return

    def _by_ordinary_laps(self, before: CostArray, start: int, stop: int) -> CostArray:
        """Return the least cost of reaching left edges ``start`` to ``stop`` by ordinary laps, without their seams.

        Parameters
        ----------
        before
            Costs of left edges from ``start - step`` to ``stop - 1 - least``.
        """
        sheet, kind, size, widest = self.sheet, self.stretch.kind, stop - start, self.worths.widest
        # a drop that shares a roll's width starts nearer
        near = slice(sheet.width - widest, sheet.width - sheet.narrowest + size)
        to = kind[start + sheet.side_lap - 1:stop + sheet.side_lap - 1]
        first = int(kind[max(start - sheet.step, 0)])
        best: CostArray
        if first == to[-1]:
            cost = self.worths.same_class(first)
            best = np.minimum(sliding_least(before, before.shape[1] - size + 1, size) + (cost + ODD),
                              before[:, :size] + cost)
            if widest:
                part, each = self.worths.same_class_parts(first)
                rising = part * np.arange(near.stop - near.start)
                least = sliding_least(before[:, near] - rising, len(rising) - size + 1, size)
                np.minimum(best, least + (rising[:size] + (part * widest + each + ODD)), out=best)
            return best
        kinds = kind[np.maximum(np.arange(start - sheet.step, stop - sheet.least), 0)]
        drops = self.worths.drops(np.arange(first, kinds[-1] + 1), np.arange(to[0], to[-1] + 1))
        kinds, to = kinds - kinds[0], to - to[0]
        best = np.minimum(_least_by_class(before, kinds, drops, to) + ODD, before[:, :size] + drops[kinds[:size], to])
        if widest:
            least = _least_by_width(before[:, near], kinds[near], self.worths.parts(drops), to, widest)
            np.minimum(best, least + ODD, out=best)
        return best

    @cached_property
    def _to_seam(self) -> CostArray:
        """By left edge, the cost of its seam but for what the lap's right edge adds."""
        stretch, scale = self.stretch, self.scale
        seams: CostArray = 1j * (scale.seam * stretch.seam + scale.drop) - scale.violation * stretch.passed[:-1]
        return seams

    @cached_property
    def _ordinary_seam(self) -> CostArray:
        """By left edge, the cost of its seam with an ordinary lap, as far as there is room for one."""
        reached = self.stretch.reached[self.sheet.side_lap:]
        seams: CostArray = self._to_seam[:len(reached)] + self.scale.violation * reached[:self.stretch.extent]
        return seams

    @cached_property
    def _narrowly(self) -> CostArray:
        """By left edge, the cost of a drop as narrow as allowed and of where its lap ends."""
        count, narrowest = max(self.stretch.extent - self.sheet.narrowest + 1, 0), self.sheet.narrowest
        kind, found, start = self.stretch.kind, np.empty(count, dtype=complex), 0
        while start < count:
            # on as far as neither edge comes through many classes: costs are worked for each pair of them
            lengths = [int(np.searchsorted(kind[at:count + at - start], kind[at] + MOST_CLASSES))
                       for at in (start, start + narrowest - 1)]
            lefts = np.arange(start, min(start + min(lengths), count))
            found[lefts] = self.worths.ended(lefts, lefts + narrowest) + ODD
            start = int(lefts[-1]) + 1
        return found

    def _past(
        self, span: Span, costs: CostArray, now: CostArray, best: CostArray, start: int, to_seam: CostArray,
    ) -> None:
        """Improve ``best`` by drops that reach just past an opening, so that it does not split them.

        ``now`` are the costs known of the left edges from ``start`` on, ``costs`` those of all up to there.
        """
        lefts, end, ended = self._passing(span)
        stop = start + best.shape[1]
        lefts = lefts[lefts < stop]
        targets = np.arange(max(start, int(lefts[0]) + 1), min(stop, end - self.sheet.side_lap + 1)) \
            if len(lefts) else lefts
        if not len(targets):
            return
        values = costs[:, lefts - stop]
        inside = lefts[lefts >= start]
        values[:, len(lefts) - len(inside):] = now[:, inside - start]
        least = np.minimum.accumulate(values + (ended[:len(lefts)] + ODD), axis=1)
        nearest = np.minimum(targets - 1 - lefts[0], len(lefts) - 1)
        here = targets - start
        best[:, here] = np.minimum(best[:, here], least[:, nearest] + to_seam[here])

    def _passing(self, span: Span) -> tuple[IntArray, int, CostArray]:
        """Return the left edges from which a drop can reach just past an opening it starts in, where it ends, and what
        it costs from each of them.
        """
        if span not in self.passing:
            end = span.right + 1
            lefts: IntArray = np.arange(max(span.left, end - self.sheet.width, 0), end - self.sheet.narrowest + 1)
            ended = self.worths.ended(lefts, np.full(len(lefts), end)) if len(lefts) else np.empty(0, dtype=complex)
            self.passing[span] = lefts, end, ended
        return self.passing[span]

    def _worth_passing(self, start: int, stop: int) -> list[Span]:
        """Return the openings between two positions beside which one piece may be worth less than two."""
        spans, lefts, widest = self._all_worth_passing
        near = spans[bisect_left(lefts, start - widest):bisect_left(lefts, stop)] if spans else spans
        return [span for span in near if span.right > start]

    @cached_property
    def _all_worth_passing(self) -> tuple[list[Span], list[int], int]:
        """Those openings, their left edges, and the width of the widest."""
        stretch = self.stretch
        spans = [span for span in stretch.spans if span.right < stretch.extent]
        if most_at_once(stretch) == 1 and not self.worths.widest:
            spans = [span for span in spans if self._beside(span) < self._split(span)]
        return spans, [span.left for span in spans], max((span.right - span.left for span in spans), default=0)

    def _beside(self, span: Span) -> float:
        """Return the least cost of a drop that reaches just past an opening."""
        top, bottom = self.stretch.height(span.right - 1, span.right + 1)
        return self.worths.column(top - bottom)

    def _split(self, span: Span) -> float:
        """Return the greatest cost of a drop that an opening splits."""
        top, bottom = self.stretch.height(max(span.left, 0), span.right)
        return self.worths.column(top - span.top) + self.worths.column(span.bottom - bottom)

    # --- backward ------------------------------------------------------------------------------

    def walk_back(
        self, costs: CostArray, starts: CostArray, end: int, right: int | None = None,
    ) -> list[tuple[int, int]]:
        """Return the drops of a best layout up to a left edge: (left edge, right edge), left to right.

        Parameters
        ----------
        costs, starts
            One row of ``sweep``, and of the starts it was given.
        end
            A left edge that was reached.
        right
            The right edge of the last drop, which starts there; when None, that drop is not part of the layout.
        """
        drops: list[tuple[int, int]] = [] if right is None else [(end, right)]
        while end >= len(starts) or costs[end] != starts[end]:
            drops.append(self.before(costs, end))
            end = drops[-1][0]
        return drops[::-1]

    def before(self, costs: CostArray, end: int) -> tuple[int, int]:
        """Return the edges of the drop before the left edge ``end``; of equally good ones the nearest.

        ``costs`` are those of the left edges up to ``end``, or fewer where no drop may start so far right.

        Raises
        ------
        NoLayout
            When no drop reaches so far.
        """
        sheet = self.sheet
        stop = min(end, len(costs))
        lefts = np.arange(max(end - sheet.step, 0), stop)
        rights = np.maximum(end + sheet.side_lap, lefts + sheet.narrowest)
        ways = [(lefts, rights, self.worths.ended(lefts, rights))] if len(lefts) else []
        for span in self._worth_passing(end - sheet.width, end):
            lefts, past, ended = self._passing(span)
            lefts = lefts[lefts < stop]
            if len(lefts) and end + sheet.side_lap <= past:
                ways.append((lefts, np.full(len(lefts), past), ended[:len(lefts)]))
        found = []
        for lefts, rights, ended in ways:
            totals = costs[lefts] + ended + np.where(end - lefts == sheet.step, 0, ODD)
            least = np.flatnonzero(totals == totals.min())
            at = least[np.lexsort((rights[least], -lefts[least]))[0]]
            found.append((totals[at].real, totals[at].imag, -int(lefts[at]), int(rights[at])))
        cost, _, left, right = min(found, default=(np.inf, 0.0, 0, 0))
        if not np.isfinite(cost):
            raise NoLayout(f"no row of drops of the allowed widths reaches {end} ticks from the drop before")
        return -left, right


def _least_by_class(before: CostArray, kinds: IntArray, drops: RealArray, to: IntArray) -> CostArray:
    """Return the least cost of reaching each of some left edges from a window of those before it.

    Parameters
    ----------
    before
        Costs of the left edges before, one row each start; the first window begins with the first.
    kinds
        Their classes, as rows of ``drops``.
    drops
        Costs of drops, by the classes of both edges.
    to
        For each left edge to reach, the class of the right edge before it, as a column of ``drops``.

    Notes
    -----
    All windows share a middle, which is needed only by its least cost in each class. Before it the windows lose left
    edges one by one, after it they gain them: running minima, one for each class of right edge.
    """
    size, window = len(to), before.shape[1] - len(to) + 1
    if size > window:
        near = np.arange(size)[:, None] + np.arange(window)
        least: CostArray = (before[:, near] + drops[kinds[near], to[:, None]]).min(axis=2)
        return least
    rows, head, middle, tail = np.arange(size), slice(0, size), slice(size - 1, window), slice(window - 1, None)
    leaving = before[:, None, head] + drops[kinds[head]].T
    leaving = np.minimum.accumulate(leaving[:, :, ::-1], axis=2)[:, :, ::-1][:, to, rows]
    joining = np.minimum.accumulate(before[:, None, tail] + drops[kinds[tail]].T, axis=2)[:, to, rows]
    changes = np.array([0, *_changes(kinds[middle])])
    by_class = np.minimum.reduceat(before[:, middle], changes, axis=1)
    always = (by_class[:, :, None] + drops[kinds[size - 1 + changes]]).min(axis=1)[:, to]
    least = np.minimum(np.minimum(leaving, joining), always)
    return least


def _least_by_width(
    near: CostArray, kinds: IntArray, worths: tuple[RealArray, RealArray], to: IntArray, widest: int,
) -> CostArray:
    """Return the same as ``_least_by_class`` for drops that cost their part of a roll's width.

    Parameters
    ----------
    near, kinds, to
        As for that.
    worths
        What each tick of width adds to the cost of a drop, and what else it costs, by the classes of both edges.
    widest
        Width of the drop from the first left edge of a window [ticks].

    Notes
    -----
    The price falls by one part of the width with each tick that a left edge moves right. What a class holds of a
    window, if it is no longer than that, is its beginning or its end: running minima again. Many classes take longer
    to go through than all ways, one by one.
    """
    parts, each = worths
    size, window = len(to), near.shape[1] - len(to) + 1
    cuts = sorted({*_changes(kinds), *range(0, len(kinds), window), len(kinds)})
    if len(cuts) * WAYS_A_CLASS > len(near) * size * window:
        each, parts = (sliding_window_view(by_kind[kinds].T, window, axis=1)[to, np.arange(size)]
                       for by_kind in (each, parts))
        costs = each + parts * (widest - np.arange(window))
        least: CostArray = (sliding_window_view(near, window, axis=1) + costs).min(axis=2)
        return least
    least = np.full((len(near), size), NEVER)
    for first, stop in pairwise(cuts):
        kind, low, high = kinds[first], max(first - window + 1, 0), min(stop, size)
        part = parts[kind, to[low]:to[high - 1] + 1, None]
        ways = near[:, None, first:stop] - part * np.arange(first, stop)
        early, late = np.arange(low, min(first, high)), np.arange(max(first, low), high)
        for at, run, place in (early, ways, np.minimum(early + window, stop) - 1 - first), \
                              (late, ways[:, :, ::-1], stop - 1 - late):
            if len(at):
                found = np.minimum.accumulate(run, axis=2)[:, to[at] - to[low], place]
                found += each[kind, to[at]] + parts[kind, to[at]] * (widest + at)
                here = least[:, at[0]:at[-1] + 1]
                np.minimum(here, found, out=here)
    return least


def _changes(kinds: IntArray) -> list[int]:
    """Return the places whose class is not that of the place before."""
    changes: list[int] = (np.flatnonzero(kinds[1:] != kinds[:-1]) + 1).tolist()
    return changes


def _merged(window: CostArray) -> tuple[CostArray, NDArray[np.intp], CostArray]:
    """Return rows less their least costs without repeats, the place of each row among them, and the least costs."""
    least = window.min(axis=1, keepdims=True)
    least[np.isinf(least.real)] = 0
    level = window - least
    level[np.isinf(level.real)] = NEVER
    places: dict[bytes, int] = {}
    same_as = np.array([places.setdefault(row.tobytes(), len(places)) for row in level])
    kept = np.array([int(np.flatnonzero(same_as == place)[0]) for place in range(len(places))])
    return level[kept], same_as, least


def sliding_least(values: CostArray, window: int, count: int) -> CostArray:
    """Return the least of each ``window`` neighbours, along each row.

    Parameters
    ----------
    values
        Rows of ``count + window - 1``.
    """
    if count <= window:
        head = np.minimum.accumulate(values[:, count - 1::-1], axis=1)[:, ::-1]
        tail = np.minimum.accumulate(values[:, window - 1:], axis=1)
        middle = values[:, count - 1:window].min(axis=1, keepdims=True)
        least: CostArray = np.minimum(np.minimum(head, tail), middle)
        return least
    span = 1
    while 2 * span <= window:
        values = np.minimum(values[:, :-span], values[:, span:])
        span *= 2
    return np.minimum(values[:, :count], values[:, window - span:window - span + count])
