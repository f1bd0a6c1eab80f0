"""What the page's script knows: pieces, rolls, faces and walls as plain data, and the order of cutting and hanging."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence

from layout.names import clean
from layout.packet.plan_json import FORMAT, digest
from layout.packet.sequence import hanging
from layout.packet.view import Card, RollView
from layout.records import MEMBRANE, Dab, Piece, Plan
from layout.units import Unit, inches, tape

PROGRESS = "lapwright progress"
PROGRESS_VERSION = 2


def stamp(piece: Piece) -> str:
    """Return six letters and figures that stand for a piece's shape, wherever it hangs: other shape, other stamp."""
    left, top = min(x for x, _ in piece.outline), max(y for _, y in piece.outline)

    def moved(ring: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        return [(x - left, top - y) for x, y in ring]

    text = repr((piece.kind, piece.product, piece.length, piece.width, moved(piece.outline),
                 [moved(hole) for hole in piece.holes], [moved((slit.start, slit.end)) for slit in piece.slits]))
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:6]


def field_data(plan: Plan, cards: Sequence[Card], rolls: Sequence[RollView]) -> str:
    """Return what the script needs, as JSON that cannot end its element."""
    text = json.dumps(_data(plan, cards, rolls), ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _data(plan: Plan, cards: Sequence[Card], rolls: Sequence[RollView]) -> dict[str, object]:
    order = hanging(plan)
    primer, schedule = plan.job.extras.primer, plan.job.extras.schedule
    hours = primer.open_time_hours if primer else None
    info = plan.job.info
    return {
        "format": PROGRESS, "version": PROGRESS_VERSION, "of": FORMAT, "job": info.name, "number": info.number,
        "plan": digest(plan), "file": f"{clean(info.name) or 'job'}-progress.json", "unit": plan.job.unit.name,
        "tags": [piece.tag for piece in plan.pieces],
        "stamps": [stamp(piece) for piece in plan.pieces],
        "cut": [card.tag for card in cards],
        "hang": list(order.tags),
        "before": {tag: list(tags) for tag, tags in order.before.items() if tags},
        "pieces": {card.tag: _piece(card, plan) for card in cards},
        "rolls": [{"tag": roll.tag, "stock": roll.stock, "length": roll.length, "product": roll.product,
                   "remnant": roll.remnant, "left": roll.left, "keep": roll.keep} for roll in rolls],
        "stocks": list(dict.fromkeys(roll.stock for roll in rolls if not roll.remnant)),
        "faces": [[run.name, face.name] for run in plan.job.runs for face in run.faces],
        "walls": _walls(plan),
        "primerHours": None if hours is None else float(hours),
        "coverDays": schedule.cover_within_days if schedule else None,
    }


def _piece(card: Card, plan: Plan) -> dict[str, object]:
    """Return what the two modes say of one piece; what is empty is left out."""
    piece, cut, unit = card.row.piece, card.row.cut, plan.job.unit
    said: Mapping[str, object] = {
        "kind": card.kind, "run": piece.run, "face": piece.face, "layer": piece.layer, "long": card.length,
        "wide": card.width, "roll": card.roll, "at": card.at, "to": card.to, "pile": card.pile,
        "across": "" if cut.width == card.row.roll.width else inches(cut.across, unit),
        "acrossTo": "" if cut.width == card.row.roll.width else inches(cut.across + cut.width, unit),
        "turned": cut.turned, "lines": list(card.crew.lines),
        "corners": [corner.words for corner in card.crew.corners], "notes": list(card.notes),
        "near": card.near, "left": card.from_left, "station": card.station,
        "install": piece.install, "drop": piece.drop,
        "edges": [[one.edge, one.verb, one.tag, one.lap] for one in card.neighbours],
        "dabs": [_dab_words(dab, unit) for dab in plan.dabs if _at(dab, piece, plan)],
        "spot": piece.spot, "high": _high(piece),
        "box": _box(piece) if piece.flat and piece.layer != "spare" else [],
    }
    return {key: value for key, value in said.items() if value not in ("", [], False, None) and value != 0
            or key in ("spot", "high") and value is not None}


def _at(dab: Dab, piece: Piece, plan: Plan) -> bool:
    """Tell whether a dab lies behind or beside a drop's piece."""
    if dab.run != piece.run or not piece.drop or piece.layer != MEMBRANE or not piece.flat:
        return False
    left, top, right, bottom = _box(piece)
    length = next((wall.length for wall in plan.walls if wall.run == piece.run and wall.closed), 0)
    return bottom <= dab.drawn_at <= top and any(
        left <= dab.station + turn <= right for turn in ((0, length) if length else (0,)))


def _dab_words(dab: Dab, unit: Unit) -> str:
    return (f"dab {dab.tag} of mastic, {inches(dab.size, unit)} across: {dab.kind}, station {tape(dab.station, unit)}, "
            f"elevation {tape(dab.elevation, unit)}")


def _box(piece: Piece) -> list[int]:
    xs, ys = [x for x, _ in piece.outline], [y for _, y in piece.outline]
    return [min(xs), max(ys), max(xs), min(ys)]


def _high(piece: Piece) -> int | None:
    """Return the level of the corner of an opening that a folded piece goes to, the middle of what is on the wall."""
    if not any(laid.on in ("jamb", "head", "sill") for laid in piece.laid):
        return None
    levels = [laid.origin[2] + x * laid.along[2] + y * laid.up[2]
              for laid in piece.laid if laid.on == "wall" for x, y in laid.outline]
    return round((min(levels) + max(levels)) / 2) if levels else None


def _walls(plan: Plan) -> dict[str, object]:
    """Return each run as the small elevation of Hang mode needs it [ticks]."""
    return {
        wall.run: {
            "length": wall.length, "closed": wall.closed, "top": wall.top, "bottom": wall.bottom,
            "footing": wall.footing,
            "faces": [[face.name, face.left, face.right] for face in wall.faces],
            "holes": [[hole.tag, hole.left, hole.top, hole.right, hole.bottom] for hole in wall.openings or wall.holes],
            "rounds": [[sleeve.tag, sleeve.x, sleeve.y, sleeve.diameter] for sleeve in wall.rounds],
            "foot": tape(wall.length, plan.job.unit),
        }
        for wall in plan.walls if wall.layer == MEMBRANE
    }
