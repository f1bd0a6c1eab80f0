"""What happened, told by touch on the page, exported, revised, audited, and opened again."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner

import cli
from helpers.chromium import PHONE, Browser
from helpers.modes import ALL, touch_until
from helpers.packets import short_plan
from helpers.phone import click, wait
from helpers.shed import JOB
from layout.pipeline import write_packet

pytestmark = pytest.mark.browser


def option(browser: Browser, words: str) -> None:
    """Touch the option of the open dialog that begins with some words."""
    number = browser.run("return Array.from(document.querySelectorAll('.option')).findIndex("
                         "e => e.textContent.startsWith(arguments[0]))", words)
    was = browser.run("return document.getElementById('ask-h').textContent")
    browser.run("document.querySelectorAll('.option')[arguments[0]].scrollIntoView({block: 'center'})", number)
    touch_until(browser, f".options .option:nth-of-type({int(str(number)) + 1})",
                "return document.getElementById('ask-h').textContent !== arguments[0]", was)


def fill(browser: Browser, number: int, text: str) -> None:
    fields = browser.driver.find_elements("css selector", "#ask-body input")
    fields[number].send_keys(text)


def save(browser: Browser) -> None:
    browser.run("document.getElementById('ask-yes').scrollIntoView({block: 'center'})")
    touch_until(browser, "#ask-yes", "return !document.getElementById('ask').open")


def tell_piece(browser: Browser, tag: str, words: str) -> None:
    browser.run("location.hash = arguments[0]", f"#cut:{tag}")
    wait(browser, f"return document.getElementById('mode-h').textContent === {json.dumps(tag)}")
    touch_until(browser, "#mode-more", "return document.getElementById('ask').open")
    option(browser, words)


@pytest.mark.slow
@ALL
def test_told_exported_revised_audited_and_opened_again(
    browser: Browser, tmp_path: Path, forget: Callable[[Path], None], size: tuple[int, int],
) -> None:
    plan = short_plan(JOB)
    folder = tmp_path / "shed-packet"
    assert write_packet(plan, folder) == ()
    rolls = plan.cuttings[0].rolls
    page = folder / "packet.html"
    browser.size(*size)
    forget(page)
    browser.open(page, f"#cut:{rolls[0].cuts[0].piece}")
    for cut in rolls[0].cuts:
        touch_until(browser, "#mode-done", "return document.getElementById('mode-h').textContent !== arguments[0]",
                    cut.piece)
    spoilt, wrong = rolls[0].cuts[1].piece, rolls[0].cuts[2].piece
    tell_piece(browser, spoilt, "Spoilt")
    save(browser)
    tell_piece(browser, wrong, "Cut wrong")
    for number, text in enumerate(("7", "6", "", "36")):
        fill(browser, number, text)
    save(browser)
    for roll, kind, texts in ((rolls[1].tag, "Short", ("60", "2")), (rolls[2].tag, "Lost", ())):
        tell_piece(browser, next(one for one in rolls if one.tag == roll).cuts[0].piece, f"Roll {roll}")
        option(browser, kind)
        for number, text in enumerate(texts):
            fill(browser, number, text)
        save(browser)
    browser.run("location.hash = '#more'")
    wait(browser, "return document.getElementById('more').classList.contains('on')")
    click(browser, "[data-tell='delivered']")
    fill(browser, 0, "3")
    save(browser)
    said = browser.visible("#told li")
    assert len(said) == 5 and said[0].startswith(f"{spoilt} is spoilt")
    assert said[1].startswith(f"{wrong} was cut wrong: it is now 7'-6\"")
    assert said[2].startswith(f"{rolls[1].tag} is short: 60'-2\"")
    click(browser, "#export")
    name = str(browser.run("return JSON.parse(document.getElementById('packet-data').textContent).file"))
    text = browser.download(name)
    (tmp_path / name).write_text(text, "utf-8")
    told = CliRunner().invoke(cli.main, ["revise", str(folder), "--progress", str(tmp_path / name)])
    assert told.exit_code == 0, told.output
    again = tmp_path / "shed-packet-revised"
    assert CliRunner().invoke(cli.main, ["check", str(again)]).exit_code == 0
    browser.open(again / "packet.html", "#more")
    browser.driver.find_element("id", "import").send_keys(str(tmp_path / "shed-packet-revised-progress.json"))
    wait(browser, "return document.getElementById('status').textContent.startsWith('Progress loaded')")
    ticked = browser.run("return Array.from(document.querySelectorAll('#cut input[data-tick]:checked'))"
                         ".map(e => e.dataset.piece)")
    assert isinstance(ticked, list)
    kept = {cut.piece for cut in rolls[0].cuts} - {spoilt, wrong}
    assert kept <= set(ticked) and spoilt not in ticked
    assert "recut: " + spoilt in " ".join(browser.visible("#more li"))
    browser.assert_quiet(again / "packet.html")
    browser.size(*PHONE)
