"""835, 836: net quantities and orders of the takeoff, worked again from the job's words and what the plan cuts.

What is measured on the walls is worked from the job: areas, the joint, seams, the terminated edge. What is bought is
worked from that by the job's coverage, bead or length, and what is done by the plan's pieces. Not worked again: edges
and their fasteners where a line that is not level cuts an opening, or an opening reaches a face's end.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import permutations
from typing import Any

from shapely.geometry import LineString
from shapely.ops import unary_union

from layout.audit import fittings
from layout.audit.asked import Asked, AskedFace, ProfilePoints
from layout.audit.bill import CENT, COVER, JsonRow, row_figure
from layout.audit.coverage import FIELD
from layout.audit.findings import Findings
from layout.audit.measured import HUNDREDTH, TENTH, MeasuredJob, NeededQuantity, reached
from layout.audit.primed import first_band
from layout.audit.spread import Spreads
from layout.audit.walls import area_between, bounds_of, line_of, opening_seen
from layout.audit.written import Written
from layout.units import read_length, round_ticks

ENDLESS = 1e9
BAND = 0.002
"""What the band that is primed first may differ by, as a share: folds and parts lie on whole ticks."""
DAB = {"in": 2, "mm": 3}
"""Thickness of a dab: 1/8 in or 3 mm [ticks]."""
FLUID_OUNCE = 231 / 128
"""Cubic inches in a US fluid ounce."""


def check_quantities(plan: Written, asked: Asked, spreads: Spreads, book: Findings) -> None:
    """Note lines whose net quantity is another than worked here, and orders that are not whole packages of it.

    Where two things have one name, each must be as some line of that name says.
    """
    lines: dict[str, list[JsonRow]] = {}
    for row in plan.takeoff:
        lines.setdefault(str(row.get("item")), []).append(row)
    here = MeasuredJob(plan, asked, spreads)
    for need in _needs(here, lines):
        found = [net for row in lines.get(need.item, ()) if (net := row_figure(row, "net")) is not None]
        if found and all(abs(float(net) - need.net) > need.off for net in found):
            book.note(835, f"takeoff, {need.item[:60]}", f"{need.net:.2f}", ", ".join(map(str, found)))
    for pack in _packs(here):
        orders = [(net, order) for row in lines.get(pack.item, ()) if row.get("group") == "material"
                  and (net := row_figure(row, "net")) is not None and (order := row_figure(row, "order")) is not None]
        if orders and not any(pack.fits(net, order) for net, order in orders):
            net, order = orders[0]
            book.note(836, f"takeoff, {pack.item[:60]}", str(pack.least(net)), str(order))


@dataclass(frozen=True)
class OrderedPacks:
    """How something is ordered: its waste [per cent], and the packages ordered over that.

    ``more`` tells that it may take more packages, since it is cut from them.
    """

    item: str
    waste: Decimal
    overage: int
    more: bool = False

    def least(self, net: Decimal) -> int:
        """Return the fewest packages for a net quantity that was rounded up to the hundredth."""
        return math.ceil(max(net - CENT, Decimal(0)) * (1 + self.waste / 100)) + self.overage

    def fits(self, net: Decimal, order: Decimal) -> bool:
        """Tell whether an order is right for such a net quantity; one that is less than it is finding 831."""
        most = math.ceil(net * (1 + self.waste / 100)) + self.overage
        return order < net or self.least(net) <= order and (self.more or order <= most)


USUAL_WASTE = {"primer": 5, "sealant": 5, "adhesive": 5, "protection": 5, "termination_bar": 0, "outlet_channel": 0}
"""Product -> waste where the job does not say [per cent]: the job model's defaults."""


def _packs(here: MeasuredJob) -> Iterator[OrderedPacks]:
    """Yield how everything is ordered that is bought by the package."""
    def terms(given: Mapping[str, Any], usual: int, key: str = "waste") -> tuple[Decimal, int]:
        waste = given.get(key)
        return Decimal(str(usual if waste is None else waste)), int(given.get("overage") or 0)

    for key, usual in USUAL_WASTE.items():
        product = here.part(key)
        if product is not None:
            waste, overage = terms(product, usual)
            yield OrderedPacks(str(product.get("name") or key.replace("_", " ")), waste, overage,
                               more=key == "termination_bar")
    bar = here.part("termination_bar") or {}
    yield OrderedPacks(str(bar.get("fastener") or "fastener"), terms(bar, 0, "fastener_waste")[0], 0)
    channel = here.part("outlet_channel") or {}
    yield OrderedPacks(f"{channel.get('name') or 'outlet channel'}, outlet", Decimal(0), 0)
    consumables = here.asked.job.get("consumables")
    for item in consumables if isinstance(consumables, Sequence) else ():
        if item.get("per") != "day" or here.part("labour") is not None:
            yield OrderedPacks(str(item["item"]), *terms(item, 0))


def _needs(here: MeasuredJob, lines: Mapping[str, Sequence[JsonRow]]) -> Iterator[NeededQuantity]:
    def told(*items: str) -> float:
        """Return what is measured of some lines together; each is worked again by itself."""
        return sum(float(row_figure(row, "net") or 0) for item in items for row in lines.get(item, ())
                   if row.get("group") == "measured")

    yield from _corners(here)
    yield from _edges(here)
    yield from _seams(here)
    surface = told(COVER, OPEN, RISERS) - told(DOUBLED)
    seams = told("side laps", "end laps")
    bar = told("top edge", "steps in the top edge") + here.long(sum(here.bar_ends))
    yield from _spread(here, surface, told)
    yield from _sealant(here, told, seams)
    yield from _lengths(here, told, bar)
    yield from _used(here, lines)
    yield from fittings.weights(here)
    yield from fittings.fasteners(here)
    yield from fittings.outlets(here)
    yield from _consumed(here, surface, seams, bar)
    yield from _done(here, surface, seams, bar)


OPEN, DOUBLED, RISERS = ("footing corners open under flat drops, closed by covers",
                         "sheet doubled at inside footing corners", "footing risers, closed by covers")


# --- what is measured --------------------------------------------------------------------------

def _corners(here: MeasuredJob) -> Iterator[NeededQuantity]:
    """Yield what footing corners leave open or double up, and the risers of footing steps."""
    sums = {OPEN: 0.0, DOUBLED: 0.0, RISERS: 0.0}
    for run in here.asked.runs:
        down = here.turn_down.get(run.name, 0)
        for face, after in zip(run.faces, [*run.faces[1:], *(run.faces[:1] if run.closed else ())]):
            if face.corner in ("outside", "inside"):
                turn = math.radians(face.angle)
                on = [max((b - a * math.cos(turn)) / math.sin(turn), 0.0)
                      for a, b in ((face.ledge, after.ledge), (after.ledge, face.ledge))]
                open_area = (face.ledge * on[0] + after.ledge * on[1]) / 2 + sum(on) * down
                sums[OPEN if face.corner == "outside" else DOUBLED] += open_area
            first, then = face.footing[-1][1], after.footing[0][1]
            sums[RISERS] += abs(first - then) * (face if first > then else after).ledge
        sums[RISERS] += sum(abs(a[1] - b[1]) * face.ledge for face in run.faces
                            for a, b in zip(face.footing, face.footing[1:]) if a[0] == b[0])
    for item, square in sums.items():
        yield NeededQuantity(item, here.area(square), TENTH)
    yield NeededQuantity("drainage board area", here.area(here.board), TENTH)


def _edges(here: MeasuredJob) -> Iterator[NeededQuantity]:
    """Yield the terminated edge by its kinds; nothing where an opening is cut by a line that is not level."""
    top, steps, around, parts = 0.0, 0.0, 0.0, 0
    for run in here.asked.runs:
        before = line_of(run.faces[-1], here.asked)[-1][1] if run.closed else None
        for face in run.faces:
            line = line_of(face, here.asked)
            if before is not None:
                steps += abs(line[0][1] - before)
            before = line[-1][1]
            found = _of_face(face, line, here.asked.rules["opening_return"])
            if found is None:
                return
            top, steps, around = top + found[0], steps + found[1], around + found[2]
            parts += len(line) + 6 * len(face.openings) + 1
    off = HUNDREDTH + here.long(parts)
    yield NeededQuantity("top edge", here.long(top), off)
    yield NeededQuantity("steps in the top edge", here.long(steps), off)
    yield NeededQuantity("edges at openings", here.long(around), off)
    yield NeededQuantity("ends of open runs", here.long(sum(high - low for high, _, low in here.ends)), off)


def _of_face(face: AskedFace, line: ProfilePoints, back: int) -> tuple[float, float, float] | None:
    """Return a face's top edge, steps and edges at openings [ticks]; None where they are not worked here."""
    top = math.fsum(math.dist(a, b) for a, b in zip(line, line[1:]) if a[0] < b[0])
    steps = math.fsum(abs(a[1] - b[1]) for a, b in zip(line, line[1:]) if a[0] == b[0])
    around = 0.0
    for opening in face.openings:
        at = reached(opening, face, line, back)
        if at is None:
            return None
        across = at.right - at.left
        if at.hole:
            around += 2 * (across + 2 * back) + (2 * (at.high - at.foot + 2 * back) if at.foot < at.high else 0)
        elif at.cuts:
            around += across + 2 * back + 2 * (at.line - at.foot + back)
            top -= across
    return top, steps, around


def _seams(here: MeasuredJob) -> Iterator[NeededQuantity]:
    """Yield the lengths of side laps, up the middle of each seam, and of end laps, across the pieces."""
    covered = {}
    for run in here.asked.runs:
        shapes = []
        for face in run.faces:
            bare = replace(face, sleeves=())
            below = here.below(run, face)
            band = unary_union([area_between(bounds) for bounds in bounds_of(bare, line_of(bare, here.asked), below)])
            free = [opening_seen(opening, here.asked.rules["opening_return"]) for opening in bare.openings]
            shapes.append(band.difference(unary_union(free)) if free else band)
        covered[run.name] = unary_union(shapes), run
    total, count = 0.0, 0
    for seam in here.plan.seams:
        if seam.layer == FIELD and seam.run in covered:
            shape, run = covered[seam.run]
            middle = (seam.left_edge + seam.right_edge) / 2
            middle = middle % run.length if run.closed else middle
            total += shape.intersection(LineString([(middle, -ENDLESS), (middle, ENDLESS)])).length
            count += 1
    yield NeededQuantity("side laps", here.long(total), HUNDREDTH + here.long(2 * count))
    rings = {piece.tag: piece.ring for piece in here.plan.pieces}
    across = 0
    for drop in here.plan.drops:
        hung = [rings[tag] for tag in drop.pieces if tag in rings] if drop.layer == FIELD else []
        for upper, lower in permutations(hung, 2):
            head, foot = max(y for _, y in lower), min(y for _, y in upper)
            if min(y for _, y in lower) < foot < head < max(y for _, y in upper):
                across += max(0, min(max(x for x, _ in ring) for ring in (upper, lower))
                              - max(min(x for x, _ in ring) for ring in (upper, lower)))
    yield NeededQuantity("end laps", here.long(across), HUNDREDTH)


# --- what is bought ----------------------------------------------------------------------------

ToldFigure = Callable[..., float]
"""Returns what the takeoff says of some lines together."""


def _spread(here: MeasuredJob, surface: float, told: ToldFigure) -> Iterator[NeededQuantity]:
    """Yield primer, adhesive and protection, by the area that a package covers."""
    primer = here.part("primer")
    if primer is not None:
        first = told("primer, first band")
        under = min(here.area(first_band(here.plan, here.asked, here.spreads)), surface)
        yield NeededQuantity("primer, first band", under, TENTH + under * BAND)
        yield NeededQuantity("primer, field", surface - first, 3 * TENTH)
        coats = int(primer.get("coats") or 1)
        yield _package(here, "primer", "primer", surface * coats, 3 * TENTH * coats)
    board = here.area(here.board)
    yield _package(here, "adhesive", "", board or told(COVER), TENTH)
    yield _package(here, "protection", "", surface, 3 * TENTH)


def _package(here: MeasuredJob, key: str, name: str, area: float, off: float) -> NeededQuantity:
    """Return how many packages an area takes; of a product that the job does not name, a need of no line."""
    product = here.part(key)
    if product is None:
        return NeededQuantity("", 0.0, 0.0)
    coverage = float(product["coverage"])
    return NeededQuantity(str(product.get("name") or name), area / coverage, off / coverage + HUNDREDTH)


def _sealant(here: MeasuredJob, told: ToldFigure, seams: float) -> Iterator[NeededQuantity]:
    """Yield the packages of sealant: each bead's section by its length, the fillet a triangle, dabs flat."""
    sealant = here.part("sealant")
    if sealant is None:
        return
    unit, inch = here.unit, here.unit.name == "in"

    def bead(key: str, usual: str, metric: str) -> float:
        return math.pi * here.ticks(sealant.get(key), usual, metric) ** 2 / 4

    long = 12 * unit.ticks if inch else 1000
    fillet = here.asked.rules["fillet"] if sealant.get("joint_fillet") is not False else 0
    joint = math.fsum(math.dist(a, b) for run in here.asked.runs for face in run.faces if face.ledge
                      for a, b in zip(face.footing, face.footing[1:]) if a[0] < b[0])
    edge, opening, seam = (bead("top_bead", "1/4 in", "6 mm"), bead("opening_bead", "1/4 in", "6 mm"),
                           bead("seam_bead", "0", "0"))
    volume = joint * fillet ** 2 / 2
    volume += told("top edge", "steps in the top edge", "ends of open runs") * long * edge
    volume += told("edges at openings") * long * opening + seams * long * seam
    volume += math.pi * sum(here.sleeves) * bead("sleeve_bead", "1/2 in", "13 mm")
    volume += sum(math.pi * dab.size ** 2 / 4 for dab in here.plan.dabs) * DAB[unit.name]
    package = float(sealant["volume"]) * (FLUID_OUNCE * unit.ticks ** 3 if inch else 1000.0)
    off = (4 * HUNDREDTH * long + unit.ticks) * max(edge, opening, seam, fillet ** 2 / 2) / package
    yield NeededQuantity(str(sealant.get("name") or "sealant"), volume / package, HUNDREDTH + off)


def _lengths(here: MeasuredJob, told: ToldFigure, bar: float) -> Iterator[NeededQuantity]:
    """Yield bars and channels, by the length of one."""
    for key, usual, length, off in (("termination_bar", "termination bar", bar, 4 * HUNDREDTH),
                                    ("outlet_channel", "outlet channel", told("wall/footing joint"), HUNDREDTH)):
        product = here.part(key)
        if product is not None:
            given = product.get("length")
            one = round_ticks(read_length(
                given if given is not None else "3000 mm" if here.unit.name == "mm" else "10 ft", here.unit), "down")
            yield NeededQuantity(str(product.get("name") or usual), length / here.long(one),
                                 HUNDREDTH + off / here.long(one))


def _used(here: MeasuredJob, lines: Iterable[str]) -> Iterator[NeededQuantity]:
    """Yield the rolls and remnants as far as pieces are cut from them."""
    for product, word in fittings.WORDS.items():
        rolls = [roll for roll in here.plan.rolls if roll.product == product]
        for item in lines:
            if item != word and not item.startswith((f"{word} (", f"{word}, ")):
                continue
            for kind in ("roll", "remnant"):
                stock = item.rpartition(f", {kind} ")[2] if f", {kind} " in item else None
                mine = [roll for roll in rolls if roll.stock == stock and roll.remnant == (kind == "remnant")]
                if mine and len({roll.width for roll in mine}) == 1:
                    used = sum(cut.length * cut.width for roll in mine for cut in roll.cuts if not cut.within)
                    yield NeededQuantity(item, used / (mine[0].length * mine[0].width), HUNDREDTH)


def _consumed(here: MeasuredJob, surface: float, seams: float, bar: float) -> Iterator[NeededQuantity]:
    """Yield tools and supplies, by what there is one for."""
    given = here.asked.job.get("consumables")
    inch = here.unit.name == "in"
    pieces = [piece for piece in here.plan.pieces if piece.kind != "spare"]
    count = {
        "job": 1.0, "roll": float(sum(roll.product == "membrane" for roll in here.plan.rolls)),
        "drop": float(sum(drop.layer == FIELD for drop in here.plan.drops)), "piece": float(len(pieces)),
        "sleeve": float(len(here.sleeves)), "opening": float(here.openings),
        "corner": float(sum(face.corner != "none" for run in here.asked.runs
                            for face in (run.faces if run.closed else run.faces[:-1]))),
        "area": surface / (100 if inch else 10), "seam": seams / (100 if inch else 30),
    }
    least, most = fittings.days(here, surface, bar)
    for item in given if isinstance(given, Sequence) else ():
        one = float(item.get("quantity") or 1) / float(item.get("in_package") or 1)
        if item.get("per") == "day":
            yield NeededQuantity(str(item["item"]), (least + most) / 2 * one, HUNDREDTH + (most - least) / 2 * one)
        else:
            yield NeededQuantity(str(item["item"]), count[item.get("per") or "job"] * one,
                                 HUNDREDTH + HUNDREDTH * one)


# --- what is done ------------------------------------------------------------------------------

def _done(here: MeasuredJob, surface: float, seams: float, bar: float) -> Iterator[NeededQuantity]:
    """Yield what labour is counted by: areas, lengths and counts."""
    primer = here.part("primer")
    if primer is not None:
        coats = int(primer.get("coats") or 1)
        yield NeededQuantity("prime", surface * coats, 3 * TENTH * coats)
    for kind in {piece.kind: None for piece in here.reinforcing}:
        pieces = [piece for piece in here.reinforcing if piece.kind == kind]
        strip = kind.endswith("strip")
        done = here.long(sum(piece.length for piece in pieces)) if strip else len(pieces)
        yield NeededQuantity(f"put on: {kind}", done, HUNDREDTH)
    yield NeededQuantity("dabs of sealant", float(len(here.plan.dabs)), 0.0)
    yield NeededQuantity("cut slits", float(sum(len(piece.slits) for piece in here.plan.pieces)), 0.0)
    yield NeededQuantity("roll seams", seams, 2 * HUNDREDTH)
    yield NeededQuantity("fasten termination bar", bar, 4 * HUNDREDTH)
    yield NeededQuantity("put on drainage board", here.area(here.board), TENTH)
    yield NeededQuantity("set up", float(sum(len(run.faces) for run in here.asked.runs)), 0.0)
