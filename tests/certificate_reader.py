"""Checks a cutting's certificate from its JSON alone; it shares no code with the search that made it."""

from __future__ import annotations

from typing import Any


def faults(certificate: dict[str, Any]) -> list[str]:
    """Return what is wrong with a certificate; empty when its bound follows from it."""
    wrong = []
    root = _bound(certificate, certificate, None, [s["cost"] for s in certificate["stocks"]], wrong)
    if _attainable(certificate, root) < certificate["by_duals"]:
        wrong.append(f"the duals prove {root}, not {certificate['by_duals']}")
    if not certificate["searched"]:
        if certificate["bound"] != certificate["by_duals"]:
            wrong.append("the bound is more than the duals prove, and no search is named")
        return wrong
    leaves = certificate["leaves"]
    if leaves:
        region = [(0, stock["count"]) for stock in certificate["stocks"]]
        boxes = [list(zip(leaf["least"], leaf["most"])) for leaf in leaves]
        if not _covered(region, boxes):
            wrong.append("the leaves leave out some roll counts")
        for number, leaf in enumerate(leaves):
            wrong += [f"leaf {number}: {what}" for what in _leaf(certificate, leaf)]
    return wrong


def _leaf(certificate: dict[str, Any], leaf: dict[str, Any]) -> list[str]:
    """Return what is wrong with one leaf's claim to the bound."""
    wrong: list[str] = []
    box = list(zip(leaf["least"], leaf["most"]))
    stocks = certificate["stocks"]
    if leaf["by"] == "cost":
        total = sum(stock["cost"] * least for stock, (least, _) in zip(stocks, box))
        if total < certificate["bound"]:
            wrong.append(f"so many rolls cost {total} only")
    elif leaf["by"] == "duals":
        least = _bound(certificate, leaf, box, [stock["cost"] for stock in stocks], wrong)
        if _attainable(certificate, least) < certificate["bound"]:
            wrong.append(f"the duals prove {least} only")
    elif leaf["by"] == "area":
        narrow = min(stock["width"] for stock in stocks)
        if any(stock["width"] != narrow for stock in stocks):
            return ["this reader knows rolls of one width only"]
        lengths = [stock["length"] for stock in stocks]
        there = sum(length * most for length, (_, most) in zip(lengths, box))
        if _bound(certificate, leaf, box, lengths, wrong) <= there:
            wrong.append("the counts may hold the pieces after all")
    return wrong


def _bound(
    certificate: dict[str, Any], proof: dict[str, Any], box: list[tuple[int, int | None]] | None, costs: list[int],
    wrong: list[str],
) -> int:
    """Return what duals prove of the cost, rounded up, after checking that no pattern is worth more than is said."""
    scale = proof["scale"]
    total = sum(item["demand"] * dual for item, dual in zip(certificate["items"], proof["duals"]))
    if min(proof["duals"], default=0) < 0:
        wrong.append("a dual is negative")
    for number, stock in enumerate(certificate["stocks"]):
        least, most = box[number] if box else (0, stock["count"])
        value = proof["values"][number]
        if most != 0 and best_worth(certificate["items"], proof["duals"], stock) > value:
            wrong.append(f"a pattern of stock {number} is worth more than {value}")
        left = costs[number] * scale - value
        if left >= 0:
            total += least * left
        elif most is None:
            wrong.append(f"stock {number} has no limit and is worth more than it costs")
        else:
            total += most * left
    return -(-total // scale)


def best_worth(items: list[dict[str, Any]], duals: list[int], stock: dict[str, Any]) -> int:
    """Return the most that one roll's pattern can be worth: plain dynamic programs over the width and the length."""
    ways = []
    for number, item in enumerate(items):
        lays = {(item["length"], item["width"])} | ({(item["width"], item["length"])} if item["turnable"] else set())
        ways += [(long, wide, number) for long, wide in lays if long <= stock["length"] and wide <= stock["width"]]
    alone, beside = [], []
    for long, wide, number in ways:
        others = [w for _, w, n in ways if n != number or items[number]["demand"] > 1]
        (beside if any(wide + w <= stock["width"] for w in others) else alone).append((long, wide, number))
    shortest: dict[int, int] = {}
    for long, _, number in alone:
        shortest[number] = min(long, shortest.get(number, long))
    options = [(long, duals[n], min(items[n]["demand"], stock["length"] // long)) for n, long in shortest.items()]
    for length in sorted({long for long, _, _ in beside}):
        across = {0: 0}
        for long, wide, number in beside:
            if long > length:
                continue
            grown = dict(across)
            for used, worth in across.items():
                for count in range(1, items[number]["demand"] + 1):
                    place = used + count * wide
                    if place > stock["width"]:
                        break
                    grown[place] = max(grown.get(place, 0), worth + count * duals[number])
            across = grown
        # a block holds at least one piece, so no roll needs more blocks than there are pieces to put in them
        wanted = sum(items[number]["demand"] for number in {n for long, _, n in beside if long <= length})
        options.append((length, max(across.values()), min(wanted, stock["length"] // length)))
    along = {0: 0}
    for length, worth, most in options:
        grown = dict(along)
        for used, sofar in along.items():
            for count in range(1, most + 1):
                place = used + count * length
                if place > stock["length"]:
                    break
                grown[place] = max(grown.get(place, 0), sofar + count * worth)
        along, top = {}, -1
        for place in sorted(grown):
            if grown[place] > top:
                top = grown[place]
                along[place] = top
    return max(along.values())


def _attainable(certificate: dict[str, Any], total: int) -> int:
    """Return the least sum of roll costs that is no less than ``total``."""
    costs = [(s["cost"], s["count"]) for s in certificate["stocks"] if s["cost"]]
    if not costs:
        return total
    ceiling = total + max(cost for cost, _ in costs)
    sums = {0}
    for cost, count in costs:
        most = ceiling // cost if count is None else count
        sums = {s + n * cost for s in sums for n in range(most + 1) if s + n * cost <= ceiling}
    return min((s for s in sums if s >= total), default=total)


def _covered(region: list[tuple[int, int | None]], boxes: list[list[tuple[int, int | None]]]) -> bool:
    """Return whether boxes hold every whole point of a region, by splitting it at their edges."""
    def inside(part: list[tuple[int, int | None]], box: list[tuple[int, int | None]]) -> bool:
        return all(
            low >= least and (most is None or (high is not None and high <= most))
            for (low, high), (least, most) in zip(part, box))

    def apart(part: list[tuple[int, int | None]], box: list[tuple[int, int | None]]) -> bool:
        return any(
            (high is not None and high < least) or (most is not None and low > most)
            for (low, high), (least, most) in zip(part, box))

    near = [box for box in boxes if not apart(region, box)]
    if any(inside(region, box) for box in near):
        return True
    for box in near:
        for place, ((low, high), (least, most)) in enumerate(zip(region, box)):
            cut = least if low < least else None if most is None or (high is not None and most >= high) else most + 1
            if cut is not None:
                left, right = list(region), list(region)
                left[place], right[place] = (low, cut - 1), (cut, high)
                return _covered(left, near) and _covered(right, near)
    return False
