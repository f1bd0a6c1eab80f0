"""plan.json: the whole plan as numbers in the job's unit, for other programs and for the audit."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from decimal import Decimal

from layout.counts import counts
from layout.marks import marks
from layout.takeoff.areas import Areas, areas, field_cutting
from layout.packet.cut_list import rolls
from layout.packet.piles import piles
from layout.order import OrderLine
from layout.records import (
    MEMBRANE, Costing, Cutting, Dab, Drop, Laid, Piece, Plan, Quantity, Ring, Roll, RuleException, Seam, Wall,
)
from layout.units import Unit

FORMAT = "lapwright plan"
VERSION = 1


def plan_json(plan: Plan) -> str:
    """Return plan.json.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    str
        JSON in ASCII, one record a line, keys and records in a fixed order. Lengths are numbers in the job's
        unit, exact to the tick; areas are square feet or square metres.
    """
    return _text(plan_data(plan))


def plan_data(plan: Plan) -> dict[str, object]:
    """Return what plan.json holds, as dicts, lists, text and numbers."""
    unit = plan.job.unit
    pile_of = piles(plan).by_piece
    roll_of = {cut.piece: roll.tag for roll in rolls(plan) for cut in roll.cuts}
    return {
        "format": FORMAT,
        "version": VERSION,
        "unit": unit.name,
        "job": {
            "name": plan.job.info.name, "number": plan.job.info.number, "site": plan.job.info.site,
            "prepared_by": plan.job.info.prepared_by, "date": plan.job.info.date, "revision": plan.job.info.revision,
        },
        "digest": digest(plan),
        **({"revision": {"number": plan.revision.number, "before": plan.revision.before,
                         "changed": list(plan.revision.changed)}} if plan.revision else {}),
        "film_side_up": plan.job.film_side_up,
        "runs": _runs(plan),
        "drops": [_drop(drop, unit) for drop in plan.drops],
        "seams": [_seam(seam, unit) for seam in plan.seams],
        "pieces": [_piece(piece, roll_of.get(piece.tag), pile_of.get(piece.tag, ""), unit) for piece in plan.pieces],
        "dabs": [_dab(dab, unit) for dab in plan.dabs],
        "rolls": [_roll(roll, cutting.product, unit) for cutting in plan.cuttings for roll in cutting.rolls],
        "exceptions": [_exception(broken, unit) for broken in plan.exceptions],
        "summary": _summary(plan),
        "products": [_product(plan, cutting) for cutting in plan.cuttings],
        "takeoff": [_quantity(quantity) for quantity in plan.quantities],
        "costing": _costing(plan.costing),
        "order": [_order(line) for line in plan.order],
        "dates": [
            {"run": face.run, "face": face.face, "drops": face.drops, "first": face.first, "last": face.last,
             "cover_by": face.cover_by, "covered": face.covered, "late": face.late}
            for face in plan.dates
        ],
        "savings": [_plain(dict(saving)) for saving in plan.savings],
        "notes": list(plan.notes),
        "warnings": [{"where": each.where, "what": each.what, "got": each.got, "hint": each.helps}
                     for each in plan.warnings],
    }


def digest(plan: Plan) -> str:
    """Return twelve letters and figures that stand for the pieces of a plan: other pieces, other digest."""
    parts = [plan.job.info.name, plan.job.unit.name]
    for piece in plan.pieces:
        parts.append(repr((piece.tag, piece.kind, piece.product, piece.length, piece.width, piece.outline, piece.holes,
                           [(slit.start, slit.end) for slit in piece.slits])))
    return hashlib.sha256("\n".join(parts).encode("utf-8", "surrogatepass")).hexdigest()[:12]


def _runs(plan: Plan) -> list[dict[str, object]]:
    listed = []
    for run in plan.job.runs:
        walls = [wall for wall in plan.walls if wall.run == run.name]
        field = next((wall for wall in walls if wall.layer == MEMBRANE), walls[0] if walls else None)
        if field is not None:
            listed.append(_run(field, run.closed, plan.job.unit))
    return listed


def _run(wall: Wall, closed: bool, unit: Unit) -> dict[str, object]:
    number = unit.number
    return {
        "name": wall.run, "closed": closed, "length": number(wall.length), "turn_down": number(wall.turn_down),
        "toe": number(max(face.toe for face in wall.faces)),
        "faces": [
            {"name": face.name, "from": number(face.left), "to": number(face.right), "corner": face.corner,
             "angle": face.angle, "ledge": number(face.ledge), "toe": number(face.toe)}
            for face in wall.faces
        ],
        "water": [{"from": number(left), "to": number(right), "flow": side} for left, right, side in wall.slopes],
        "notes": list(wall.notes),
    }


def _drop(drop: Drop, unit: Unit) -> dict[str, object]:
    return {
        "tag": drop.tag, "run": drop.run, "layer": drop.layer, "left": unit.number(drop.left),
        "right": unit.number(drop.right), "install": drop.install, "pieces": list(drop.pieces),
    }


def _seam(seam: Seam, unit: Unit) -> dict[str, object]:
    return {
        "run": seam.run, "layer": seam.layer, "from": unit.number(seam.left_edge), "to": unit.number(seam.right_edge),
        "left": seam.left, "right": seam.right, "over": seam.over, "tuck": seam.tuck,
    }


def _piece(piece: Piece, roll: str | None, pile: str, unit: Unit) -> dict[str, object]:
    number = unit.number
    return {
        "tag": piece.tag, "kind": piece.kind, "layer": piece.layer, "run": piece.run, "face": piece.face,
        "product": piece.product, "length": number(piece.length), "width": number(piece.width),
        "outline" if piece.flat else "pattern": _ring(piece.outline, unit),
        "holes": [_ring(hole, unit) for hole in piece.holes],
        "slits": [{"from": _ring((slit.start,), unit)[0], "to": _ring((slit.end,), unit)[0], "why": slit.why}
                  for slit in piece.slits],
        "sleeves": [{"tag": tag, "x": number(x), "y": number(y), "diameter": number(diameter)}
                    for tag, x, y, diameter in piece.sleeves],
        **({"parts": [_laid(laid, unit) for laid in piece.laid]} if piece.laid else {}),
        **({} if piece.spot is None else {"spot": number(piece.spot), "where": piece.where}),
        "roll": roll, "drop": piece.drop, "install": piece.install, "order": piece.order, "pile": pile,
        "marks": list(marks(piece, unit)), "marks_liner": list(marks(piece, unit, mirrored=True)),
    }


def _laid(laid: Laid, unit: Unit) -> dict[str, object]:
    """Return where a part of a pattern lies: (x, y) of the pattern at origin + x along + y up."""
    return {
        "on": laid.on, "outline": [_spot(spot, unit.ticks) for spot in laid.outline],
        "origin": _spot(laid.origin, unit.ticks), "along": _spot(laid.along), "up": _spot(laid.up),
    }


def _spot(spot: Iterable[float], ticks: int = 1) -> list[float]:
    """Return coordinates in the unit to a millionth, without negative zeros."""
    return [round(value / ticks, 6) + 0.0 for value in spot]


def _dab(dab: Dab, unit: Unit) -> dict[str, object]:
    number = unit.number
    return {
        "tag": dab.tag, "run": dab.run, "face": dab.face, "station": number(dab.station),
        "elevation": number(dab.elevation), "kind": dab.kind, "size": number(dab.size),
        "point": _spot(dab.point, unit.ticks),
    }


def _ring(ring: Ring, unit: Unit) -> list[list[float]]:
    return [[unit.number(x), unit.number(y)] for x, y in ring]


def _roll(roll: Roll, product: str, unit: Unit) -> dict[str, object]:
    number = unit.number
    return {
        "tag": roll.tag, "product": product, "name": roll.product, "stock": roll.stock, "remnant": roll.remnant,
        "length": number(roll.length), "width": number(roll.width), "price": _money(roll.price),
        "cuts": [
            {"piece": cut.piece, "at": number(cut.at), "across": number(cut.across), "length": number(cut.length),
             "width": number(cut.width), "turned": cut.turned,
             **({"within": cut.within} if cut.within else {})}
            for cut in roll.cuts
        ],
        "leftover": {"length": number(roll.leftover.length), "width": number(roll.leftover.width),
                     "keep": roll.leftover.keep},
    }


def _exception(broken: RuleException, unit: Unit) -> dict[str, object]:
    return {
        "rule": broken.rule, "run": broken.run, "at": unit.number(broken.at), "needed": unit.number(broken.needed),
        "found": unit.number(broken.found), "why": broken.why, "cure": broken.cure, "layer": broken.layer,
    }


def _summary(plan: Plan) -> dict[str, object]:
    """Return the summary: the membrane's rolls and money; every product has one of its own besides."""
    cutting = field_cutting(plan)
    summary = _cutting(plan, cutting) if cutting else {}
    summary["cost_bound"] = _money(plan.cost_bound)
    summary["optimal"] = plan.optimal
    summary["certificate"] = _plain(dict(plan.certificate))
    found = counts(plan)
    summary["drops"] = found.drops
    summary["pieces"] = found.pieces
    summary["pieces_of_sheet"], summary["pieces_of_reinforcing"] = found.sheet, found.reinforcing
    summary["pieces_of_board"] = found.board
    summary["exceptions"] = len(plan.exceptions)
    return summary


def _product(plan: Plan, cutting: Cutting) -> dict[str, object]:
    return {
        "product": cutting.product, **_cutting(plan, cutting), "certificate": _plain(dict(cutting.certificate)),
        "notes": list(cutting.notes),
    }


def _cutting(plan: Plan, cutting: Cutting) -> dict[str, object]:
    counts: dict[str, int] = {}
    for roll in cutting.rolls:
        if not roll.remnant:
            counts[roll.stock] = counts.get(roll.stock, 0) + 1
    return {
        "rolls": counts, "remnants_used": sum(roll.remnant for roll in cutting.rolls),
        "cost": _money(cutting.cost), "cost_bound": _money(cutting.bound), "rolls_bound": cutting.rolls_bound,
        "optimal": cutting.optimal, "area": _areas(areas(plan, cutting)),
        "first_come_rolls": cutting.first_come,
    }


def _areas(found: Areas) -> dict[str, object]:
    return {
        "to_cover": float(found.to_cover), "laps": float(found.laps), "cut_away": float(found.cut_away),
        "leftover_kept": float(found.leftover_kept), "scrap": float(found.scrap), "ordered": float(found.ordered),
        "reinforcing_in_laps": float(found.reinforcing), "from_remnants": float(found.from_remnants),
    }


def _quantity(quantity: Quantity) -> dict[str, object]:
    return {
        "item": quantity.item, "unit": quantity.unit, "net": _money(quantity.net), "order": _money(quantity.order),
        "package": quantity.package, "price": _money(quantity.price), "cost": _money(quantity.cost),
        "basis": quantity.basis, "group": quantity.group,
    }


def _order(line: OrderLine) -> dict[str, object]:
    return {
        "item": line.item, "key": line.key, "size": line.size, "unit": line.unit, "need": line.need,
        "stock": line.stock, "buy": line.buy, "price": _money(line.price), "cost": _money(line.cost),
        "weight_lb": _money(line.weight_lb), "pallets": line.pallets, "needed_by": line.needed_by, "uses": line.uses,
        "instead": line.instead,
    }


def _costing(costing: Costing | None) -> dict[str, object] | None:
    if costing is None:
        return None
    return {
        "currency": costing.currency, "materials": _money(costing.materials), "labour": _money(costing.labour),
        "markup": _money(costing.markup), "tax": _money(costing.tax), "total": _money(costing.total),
        "per_area": _money(costing.per_area), "unpriced": list(costing.unpriced),
        "alternates": [{"name": name, "add": _money(add)} for name, add in costing.alternates],
    }


def _money(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def _plain(value: object) -> object:
    """Return a value as JSON takes it."""
    if isinstance(value, Decimal):
        return float(value)
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, Iterable) and not isinstance(value, str):
        return [_plain(item) for item in value]
    return value


def _text(data: Mapping[str, object]) -> str:
    """Return JSON with one line a record: long enough to be small, short enough to compare by line."""
    lines = []
    for key, value in data.items():
        if isinstance(value, list) and value:
            body = ",\n  ".join(_line(item) for item in value)
            lines.append(f"{_line(key)}: [\n  {body}\n ]")
        else:
            lines.append(f"{_line(key)}: {_line(value)}")
    return "{\n " + ",\n ".join(lines) + "\n}\n"


def _line(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, allow_nan=False)
