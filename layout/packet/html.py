"""packet.html: one file for the phone. No network, nothing outside itself, names shown as text whatever they hold."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Mapping
from functools import lru_cache
from html import unescape
from importlib.resources import files

import segno
from jinja2 import DictLoader, Environment, StrictUndefined

from layout.cautions import DEFERENCE, cautions
from layout.names import drawing_stems
from layout.packet import totals
from layout.packet.checks import check_rows
from layout.packet.field_data import field_data
from layout.packet.inline_svg import Inliner
from layout.packet.keystrip import key_strips
from layout.packet.orders import orders
from layout.packet.sequence import hung_in_order
from layout.packet.takeoff_list import figure
from layout.packet.view import anchor, bound, cards, face_views, roll_views, unbroken
from layout.records import MEMBRANE, Plan
from layout.units import inches, tape

PAGE = "packet.html"
STYLES = ("packet.css", "modes.css", "print.css")
SCRIPTS = ("progress.js", "views.js", "pans.js", "codes.js", "modes.js", "told.js", "start.js")
"""Parts of the page's one style and one script, in their order."""
_BITS = bytes.maketrans(b"\x00\x01", b"01")
_QUOTES = re.compile(r"&#3[49];(?=[^<>]*<)")
"""Escaped quotes between tags, where they may stand as they are: a page is full of feet and inches."""


def html(plan: Plan, svgs: Mapping[str, str], folds: Mapping[str, str] | None = None) -> str:
    """Return packet.html.

    Parameters
    ----------
    plan
        The plan.
    svgs
        Drawings by their place in the packet: ``elevations/…`` are shown by face, others under their own titles;
        ``rolls.svg`` is left out, since each roll has its own strip on the page.
    folds
        Tag -> picture of how the piece folds on to the concrete, as SVG; pieces without one show none.

    Notes
    -----
    The page carries its own style and script and a content-security policy that lets nothing else run or load. It
    works without the script as one long page. It tells no money: it is handed to everyone on site.
    """
    inliner = Inliner([piece.tag for piece in plan.pieces])
    faces, others = _drawings(plan, svgs, inliner)
    dealt = cards(plan, {tag: inliner.take(f"fold of {tag}", text).markup for tag, text in (folds or {}).items()})
    order = orders(plan)
    rolls = roll_views(plan, dealt)
    style = "".join(_asset(name) for name in STYLES) + inliner.css
    script = '"use strict";\n(function () {\n' + "".join(_asset(name) for name in SCRIPTS) + "}());\n"
    unit = plan.job.unit
    page = _environment().get_template("packet.html.j2").render(
        plan=plan, info=plan.job.info, style=style, script=script, policy=policy(style, script),
        data=field_data(plan, dealt, rolls), cards=dealt, rolls=rolls, order=order,
        faces=face_views(plan, dealt, order), strips=key_strips(plan), elevations=faces, drawings=others,
        cautions=cautions(plan.job), deference=DEFERENCE, checks=check_rows(plan), tags=[
            (card, qr(card.tag)) for card in dealt],
        totals=totals.plan_rows(plan), products=[
            (cutting, totals.sheet_rows(plan, cutting)) for cutting in plan.cuttings],
        materials=[line for line in plan.quantities if line.group in ("material", "weight")],
        notes=[note for note in plan.notes if not note.startswith("not in the takeoff")],
        figure=figure, places={piece.tag: place for place, piece in enumerate(hung_in_order(plan), 1)},
        tape=lambda ticks: tape(ticks, unit), inches=lambda ticks: inches(ticks, unit),
        side="film" if plan.job.film_side_up else "liner", other="liner" if plan.job.film_side_up else "film",
    )
    shown, data, scripts = page.partition('<script type="application/json" id="packet-data">')
    return _QUOTES.sub(lambda quote: unescape(quote[0]), shown) + data + scripts


def manifest(plan: Plan) -> str:
    """Return packet.webmanifest: what a phone needs to put the served page on its home screen."""
    icon = ("<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 96 96'><rect width='96' height='96' fill='#0b4f8a'/>"
            "<path d='M18 14h26v68H18z' fill='#fff'/><path d='M38 14h26v68H38z' fill='#cbd6e0' stroke='#0b4f8a' "
            "stroke-width='3'/></svg>")
    return json.dumps({
        "name": f"{plan.job.info.name}: packet", "short_name": plan.job.info.name[:30], "start_url": PAGE, "scope": ".",
        "display": "standalone", "background_color": "#ffffff", "theme_color": "#ffffff",
        "icons": [{"src": "data:image/svg+xml;base64," + base64.b64encode(icon.encode()).decode(), "sizes": "any",
                   "type": "image/svg+xml"}],
    }, indent=1) + "\n"


def worker() -> str:
    """Return packet-worker.js, which keeps the served page for when there is no network."""
    return _asset("packet-worker.js")


def policy(style: str, script: str) -> str:
    """Return a content-security policy that allows one style and one script, by their hashes, and nothing else.

    Where the page is served it may also name the packet's own manifest and worker, which keep it for the home screen.
    """
    def allowed(text: str) -> str:
        return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode() + "'"

    return (f"default-src 'none'; script-src {allowed(script)}; style-src {allowed(style)}; "
            "manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'")


def qr(tag: str) -> str:
    """Return the QR code that opens a piece in the phone packet: its size, and its squares row by row in base64.

    The page draws it from that; as markup the codes would be a fifth of the page. Every mask reads the same: naming
    one saves the search for the prettiest, most of the time a page takes.
    """
    code = segno.make(PAGE + anchor(tag), error="m", micro=False, mask=3)
    bits = b"".join(code.matrix).translate(_BITS).decode()
    packed = int(bits.ljust(-(-len(bits) // 8) * 8, "0"), 2).to_bytes(-(-len(bits) // 8), "big")
    return f"{len(code.matrix)}:{base64.b64encode(packed).decode()}"


def _drawings(plan: Plan, svgs: Mapping[str, str], inliner: Inliner) -> tuple[list[object], list[object]]:
    """Return the faces' drawings, in the order of the job, and the others."""
    more = sorted({drop.layer for drop in plan.drops} - {MEMBRANE})
    placed = {(drop.run, drop.layer) for drop in plan.drops}
    drawn = [(run.name, face.name, layer) for layer in (MEMBRANE, *more) for run in plan.job.runs
             if layer == MEMBRANE or (run.name, layer) in placed for face in run.faces]
    names = {f"elevations/{stem}.svg": key for key, stem in drawing_stems(drawn).items()}
    known = [file for file in names if file in svgs]
    rest = [file for file in sorted(svgs) if file not in names and file != "rolls.svg"]
    shown = [(_face_title(*names[file]), inliner.take(file, svgs[file])) for file in known]
    shown += [(drawing.title, drawing) for file in rest if file.startswith("elevations/")
              for drawing in (inliner.take(file, svgs[file]),)]
    others = [inliner.take(file, svgs[file]) for file in rest if not file.startswith("elevations/")]
    return list(shown), list(others)


def _face_title(run: str, face: str, layer: str) -> str:
    """Return what the button of a face's drawing says."""
    return f"{run} · {face}" + ("" if layer == MEMBRANE else f", {layer}")


def _asset(name: str) -> str:
    return files("layout.packet").joinpath("templates", name).read_text("utf-8")


@lru_cache(maxsize=1)
def _environment() -> Environment:
    """Return the template's environment: everything escaped unless it is marked as markup, nothing undefined."""
    environment = Environment(
        loader=DictLoader({name: _asset(name) for name in ("packet.html.j2", "modes.html.j2")}), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )
    environment.filters.update(bound=bound, nb=unbroken)
    return environment
