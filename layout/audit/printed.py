"""9xx, packet.pdf: its digest, marks, takeoff and proof of cost are those of plan.json."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from decimal import Decimal
from pathlib import Path

from layout.audit.bill import JsonRow, row_figure
from layout.audit.files import NotReadable
from layout.audit.findings import Findings
from layout.audit.page import without_space
from layout.audit.pdf import read_pdf
from layout.audit.written import Written

_PROOF = re.compile(r"proof:nolayoutandnocuttingofitcostsless(?:than(-?[0-9,]+\.[0-9]{2}))?")


def check_pdf(folder: Path, plan: Written, digest: str, book: Findings) -> None:
    """Hold packet.pdf against plan.json.

    The plan's digest stands on every page. Marks are counted, not placed: each must stand in the text of the PDF as
    often as pieces have it. Lines are joined before, as long marks are broken between two. The takeoff's lines stand
    one after the other, cell by cell.
    """
    try:
        pages = read_pdf(folder / "packet.pdf")
    except NotReadable as error:
        book.note(error.number, error.place, error.needed, error.found)
        return
    for page, texts in enumerate(pages, start=1):
        if not any(digest in text for text in texts):
            book.note(929, f"packet.pdf, page {page}", digest, "another digest or none")
    if not pages:
        book.note(929, "packet.pdf", "pages", "none")
    if book.has(929):
        return  # what another plan says is no news
    shown = "".join(without_space(text) for texts in pages for text in texts)
    marked = Counter(mark for piece in plan.pieces for mark in piece.marks)
    for mark, count in sorted(marked.items()):
        found = shown.count(without_space(mark))
        if found < count:
            tags = [piece.tag for piece in plan.pieces if mark in piece.marks]
            book.note(920, f"packet.pdf, piece {', '.join(tags[:8])}", f"{count} times {mark}", f"{found} times")
    _check_lines(shown, plan, book)
    _check_proof(shown, plan, book)


def _check_lines(shown: str, plan: Written, book: Findings) -> None:
    """Note lines of the takeoff that do not stand in the text in their order, with every figure as plan.json has it."""
    at = 0
    for index, line in enumerate(plan.takeoff, start=1):
        found = re.compile(_printed(line), re.DOTALL).search(shown, at)
        if found:
            at = found.end()
            continue
        item = without_space(str(line.get("item", "")))
        start = shown.find(item, at)
        words = shown[start + len(item):start + len(item) + 60] if start >= 0 else "no such line"
        book.note(943, f"packet.pdf, takeoff, line {index}, {str(line.get('item', ''))[:60]}",
                  f"net {line.get('net')}, order {line.get('order')}, cost {line.get('cost')}, as in plan.json", words)


def _printed(line: JsonRow) -> str:
    """Return a pattern of a line as it is printed: its cells without white space, one after the other."""
    figures = {key: _figure(row_figure(line, key)) for key in ("net", "order", "price", "cost")}
    texts = {key: _text(without_space(str(line.get(key, "")))) for key in ("item", "unit", "package", "basis")}
    return "".join((texts["item"], figures["net"], figures["order"], texts["unit"], texts["package"],
                    figures["price"], figures["cost"], texts["basis"]))


def _text(text: str) -> str:
    """Return a pattern of a text; letters from right to left, and marks on letters, may be printed otherwise.

    They are printed in another order, or two as one: the text is no longer than it is, and no more is known.
    """
    shaped = any(unicodedata.bidirectional(letter) in ("R", "AL") or unicodedata.category(letter).startswith("M")
                 for letter in text)
    return f".{{0,{len(text)}}}" if shaped else re.escape(text)


def _figure(value: Decimal | None) -> str:
    """Return a pattern of a figure as it is printed, with all its digits, whatever zeros stand behind them."""
    if value is None:
        return ""
    whole, _, rest = f"{value:,f}".partition(".")
    rest = rest.rstrip("0")
    return re.escape(whole) + (rf"\.{rest}0*" if rest else r"(?:\.0+)?")


def _check_proof(shown: str, plan: Written, book: Findings) -> None:
    """Note a proof of the cost over all layouts that is not printed as plan.json has it, or that it does not have.

    What a name says is no proof.
    """
    summary = plan.summary
    needed = [""] if summary.optimal else [] if summary.cost_bound is None else [f"{summary.cost_bound:.2f}"]
    names = [name for run in plan.runs for name in (run.name, *(face.name for face in run.faces))]
    named = {claim for name in names for claim in _claims(without_space(name))}
    found = sorted({claim for claim in _claims(shown) if claim not in named or claim in needed})
    if found != needed:
        book.note(944, "packet.pdf, what is proven of the cost", _claim(needed), _claim(found))


def _claims(text: str) -> list[str]:
    """Return the bounds that a text without white space claims to be proven, empty for the cost itself."""
    return [match[1].replace(",", "") if match[1] else "" for match in _PROOF.finditer(text)]


def _claim(bounds: list[str]) -> str:
    """Return claims in words; an empty bound stands for the cost itself."""
    return "; ".join(f"nothing costs less than {bound}" if bound else "nothing costs less" for bound in bounds) or (
        "nothing is said")
