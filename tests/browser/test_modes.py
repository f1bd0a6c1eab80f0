"""Cutting and hanging one screen a piece: by touch, upright, lying and on a desk."""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

import pytest
import segno

from helpers.chromium import PHONE, Browser
from helpers.crew_plan import crew_plan
from helpers.modes import ALL, LYING, SIZES, UPRIGHT_FIRST, WIDE, touch_until
from helpers.phone import click, shows, svgs, wait
from helpers.sample_plans import sample_plan
from layout import packet
from layout.job import read_job
from layout.packet.sequence import hanging
from layout.pipeline import make_plan
from layout.records import Plan

pytestmark = pytest.mark.browser
SAMPLES = Path(__file__).resolve().parents[2] / "samples"


@pytest.fixture(scope="session")
def plan() -> Plan:
    return sample_plan("basement")


@pytest.fixture(scope="session")
def page(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("modes") / "packet.html"
    path.write_text(packet.html(plan, {}), "utf-8")
    return path


@pytest.fixture(scope="session")
def small_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("modes") / "packet.html"
    path.write_text(packet.html(crew_plan(), svgs(crew_plan())), "utf-8")
    return path


class Quiet(SimpleHTTPRequestHandler):
    """Serves a folder and says nothing."""

    def log_message(self, format: str, *args: object) -> None:
        return


def title(browser: Browser) -> str:
    return str(browser.run("return document.getElementById('mode-h').textContent"))


def start(browser: Browser, page: Path, mode: str) -> None:
    browser.open(page, f"#{mode}")
    touch_until(browser, f"button[data-mode='{mode}']", "return document.documentElement.classList.contains('doing')")


def kept(browser: Browser) -> dict[str, list[str]]:
    found = browser.run("return JSON.parse(localStorage.getItem('lapwright:' + "
                        "JSON.parse(document.getElementById('packet-data').textContent).plan))")
    assert isinstance(found, dict)
    return found


EVERYTHING = "return document.getElementById('status').textContent.startsWith('Everything')"
ONWARD = "return document.getElementById('mode-h').textContent !== arguments[0]"
UNPRIMED = "return document.querySelector('.needs .not .prime') !== null"


def work_through(browser: Browser, page: Path, plan: Plan) -> None:
    """Cut and hang everything through the screens alone, and check that no piece went on before one it lies over."""
    order = hanging(plan)
    tags = [cut.piece for made in plan.cuttings for roll in made.rolls for cut in roll.cuts]
    start(browser, page, "cut")
    for tag in tags:
        assert title(browser) == tag
        last = tag == tags[-1]
        touch_until(browser, "#mode-done", EVERYTHING if last else ONWARD, tag)
    start(browser, page, "hang")
    on: set[str] = set()
    for tag in order.tags:
        assert title(browser) == tag
        if browser.run(UNPRIMED):
            browser.run("document.querySelector('.prime').scrollIntoView({block: 'center'})")
            touch_until(browser, ".prime", "return !document.querySelector('.needs .not .prime')")
        assert browser.run("return document.querySelectorAll('.needs .not').length") == 0
        last = tag == order.tags[-1]
        touch_until(browser, "#mode-done", EVERYTHING if last else ONWARD, tag)
        assert set(order.before[tag]) <= on
        on.add(tag)
    done = kept(browser)
    assert sorted(done["cut"]) == sorted(done["hung"]) == sorted(tags)
    browser.assert_quiet(page)


def test_a_whole_small_job_is_cut_and_hung_through_the_screens(
    browser: Browser, small_page: Path, forget: Callable[[Path], None],
) -> None:
    browser.size(*PHONE)
    forget(small_page)
    work_through(browser, small_page, crew_plan())


@pytest.mark.slow
@ALL
def test_a_whole_house_is_cut_and_hung_through_the_screens(
    browser: Browser, page: Path, plan: Plan, forget: Callable[[Path], None], size: tuple[int, int],
) -> None:
    browser.size(*size)
    forget(page)
    work_through(browser, page, plan)


def test_a_drop_never_goes_on_before_the_one_it_laps_over(plan: Plan) -> None:
    at = {tag: i for i, tag in enumerate(hanging(plan).tags)}
    drops = {drop.tag: drop for drop in plan.drops}
    for seam in plan.seams:
        under = seam.right if seam.over == seam.left else seam.left
        first, then = (seam.over, under) if seam.tuck else (under, seam.over)
        assert max(at[tag] for tag in drops[first].pieces) < min(at[tag] for tag in drops[then].pieces)
    for piece in plan.pieces:
        for before in hanging(plan).before[piece.tag]:
            assert at[before] < at[piece.tag]


@UPRIGHT_FIRST
def test_out_of_turn_it_stops_and_asks_why(
    browser: Browser, small_page: Path, forget: Callable[[Path], None], size: tuple[int, int],
) -> None:
    """The first drop laps over the second, which does not hang."""
    browser.size(*size)
    forget(small_page)
    browser.open(small_page, "#hang:A-01")
    touch_until(browser, "#mode-done", "return document.getElementById('ask').open")
    said = browser.visible("#ask-body li")
    assert said[0] == "A-01 is not ticked cut" and "A-02, which must be on before it, does not hang" in said
    assert "A · South is not ticked primed" in said
    touch_until(browser, "#ask-yes", "return document.getElementById('ask-fault').textContent === 'Say why.'")
    touch_until(browser, "#ask-no", "return !document.getElementById('ask').open")
    assert browser.run("return localStorage.length") == 0
    touch_until(browser, "#mode-done", "return document.getElementById('ask').open")
    browser.driver.find_element("css selector", "#ask-body input").send_keys("the second is on the ground")
    touch_until(browser, "#ask-yes", "return !document.getElementById('ask').open")
    done = kept(browser)
    assert (done["hung"], done["cut"]) == (["A-01"], ["A-01"])
    told = done["told"][0]
    assert isinstance(told, dict) and told["what"] == "hung anyway" and told["why"] == "the second is on the ground"
    browser.assert_quiet(small_page)


@UPRIGHT_FIRST
def test_the_wall_and_what_must_be_on_first_are_seen_before_how_it_folds(
    browser: Browser, tmp_path: Path, forget: Callable[[Path], None], size: tuple[int, int],
) -> None:
    """A tall picture of the fold squeezes nothing: the wall keeps its height, and what is lacking stands above it or
    beside it; what is on is one line."""
    browser.size(*size)
    fold = ('<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 300 900" width="300" height="900">'
            '<path d="M0,0h300"/></svg>')
    page = tmp_path / "packet.html"
    page.write_text(packet.html(crew_plan(), {}, {"A-02": fold}), "utf-8")
    forget(page)
    browser.open(page, "#hang:A-02")
    boxes = browser.run("""return ['.mode .map', '.mode .needs', '.mode .fold'].map(name => {
        const b = document.querySelector(name).getBoundingClientRect();
        return [b.top, b.height, b.left, b.right]; })""")
    assert isinstance(boxes, list)
    wall, needs, drawn = boxes
    assert wall[1] > 100 and drawn[1] > 300
    assert needs[0] + needs[1] <= drawn[0] if size == PHONE else needs[2] >= drawn[3]
    lacking = browser.visible(".needs .not")
    assert lacking[0].startswith("✗ is not cut yet") and browser.visible(".needs .ok") == []
    browser.run("location.hash = '#cut:A-02'")
    touch_until(browser, "#mode-done", ONWARD, "A-02")
    browser.run("location.hash = '#hang:A-02'")
    wait(browser, "return document.getElementById('mode').dataset.mode === 'hang'")
    assert browser.visible(".needs .ok") == ["✓ is cut"]
    assert len(browser.visible(".needs .not")) == len(lacking) - 1


@pytest.mark.parametrize(("size", "theme"), [
    pytest.param(size, theme, id=f"{theme}-{name}",
                 marks=() if (name, theme) == ("upright", "sun") else pytest.mark.slow)
    for name, size in SIZES.items() for theme in ("sun", "dark")])
def test_what_is_touched_in_the_screens_is_64_px_and_nothing_is_cut_off(
    browser: Browser, small_page: Path, size: tuple[int, int], theme: str,
) -> None:
    browser.size(*size)
    for place in ("#cut:A-02", "#hang:A-02", "#cut:A-C1", "#hang:A-C1"):
        browser.open(small_page, place)
        browser.run("document.documentElement.dataset.theme = arguments[0]", theme)
        for step in ("", "document.getElementById('mode-more').click()",
                     "document.querySelectorAll('.option')[1].click()"):
            browser.run(step)
            small = browser.run("""
                return Array.from(document.querySelectorAll('button, a, input, select, summary, label.tick'))
                  .filter(e => e.checkVisibility()).map(e => [e.outerHTML.slice(0, 90), e.getBoundingClientRect()])
                  .filter(([text, b]) => b.width && (b.width < 63.9 || b.height < 63.9))
                  .map(([text, b]) => [text, b.width, b.height])""")
            assert small == [], (place, step)
        browser.run("document.getElementById('ask').close()")
        off = browser.run("""
            return ['mode-done', 'mode-back', 'mode-next', 'mode-more', 'mode-close', 'mode-h'].filter(name => {
              const b = document.getElementById(name).getBoundingClientRect();
              return b.left < 0 || b.top < 0 || b.right > innerWidth || b.bottom > innerHeight; })""")
        assert off == []
        wide = browser.run("const b = document.getElementById('mode-body'); return b.scrollWidth <= b.clientWidth")
        assert wide, f"{place} is wider than the screen"


SKETCHED = """
    const svg = document.querySelector('.mode .shape'), whole = svg.getBoundingClientRect(), poor = [];
    const words = Array.from(svg.querySelectorAll('text')).map(e => [e.textContent, e.getBoundingClientRect()]);
    words.forEach(([text, b], i) => {
      if (b.left < whole.left - .5 || b.right > whole.right + .5 || b.top < whole.top - .5
          || b.bottom > whole.bottom + .5) { poor.push(text + ' is cut off'); }
      words.slice(0, i).forEach(([other, o]) => {
        if (Math.min(b.right, o.right) - Math.max(b.left, o.left) > 2
            && Math.min(b.bottom, o.bottom) - Math.max(b.top, o.top) > 5) { poor.push(text + ' on ' + other); } });
    });
    const size = document.getElementById('mode-size');
    if (size.scrollWidth > size.clientWidth) { poor.push(size.textContent + ' is wider than the screen'); }
    const told = document.querySelector('.mode-words').textContent;
    if (/\\d \\d+\\/\\d/.test(told)) { poor.push('a length may break in itself: ' + told); }
    return poor;
"""


@pytest.mark.slow
@pytest.mark.parametrize("name", ["metric", "hillside"])
def test_no_word_of_a_sketch_is_cut_off_or_lies_on_another(browser: Browser, tmp_path: Path, name: str) -> None:
    """Every kind of piece, the longest and the shortest of each, in both units."""
    plan = sample_plan(name)
    page = tmp_path / "packet.html"
    page.write_text(packet.html(plan, {}), "utf-8")
    browser.size(*PHONE)
    browser.open(page)
    by_kind: dict[str, list[str]] = {}
    for piece in sorted(plan.pieces, key=lambda piece: (piece.length, len(piece.outline), piece.tag)):
        by_kind.setdefault(piece.kind, []).append(piece.tag)
    tags = {tag for own in by_kind.values() for tag in (own[0], own[len(own) // 2], own[-1])}
    assert len(by_kind) > 4
    for tag in sorted(tags):
        browser.run("location.hash = '#cut:' + arguments[0]", tag)
        wait(browser, f"return document.getElementById('mode-h').textContent === '{tag}'")
        assert browser.run(SKETCHED) == [], tag


@pytest.mark.slow
def test_a_gusset_is_shown_at_its_corner_of_the_opening(browser: Browser, tmp_path: Path) -> None:
    """A ring about the very corner: a person need not read which one it is."""
    plan = sample_plan("hillside")
    page = tmp_path / "packet.html"
    page.write_text(packet.html(plan, {}), "utf-8")
    browser.size(*PHONE)
    browser.open(page)
    for number, (across, up) in enumerate([("left", "top"), ("right", "top"), ("right", "bottom"),
                                           ("left", "bottom")], start=1):
        tag = f"A-OG-W1-{number}"
        browser.run("location.hash = '#hang:' + arguments[0]", tag)
        wait(browser, f"return document.getElementById('mode-h').textContent === '{tag}'")
        apart = browser.run("""
            const ring = document.querySelector('.map .ring').getBoundingClientRect();
            const x = (ring.left + ring.right) / 2, y = (ring.top + ring.bottom) / 2;
            return Math.min(...Array.from(document.querySelectorAll('.map rect.hole')).map(hole => {
              const b = hole.getBoundingClientRect();
              return Math.hypot(b[arguments[0]] - x, b[arguments[1]] - y); }))""", across, up)
        assert isinstance(apart, (int, float)) and apart < 2, tag


CONTRAST = """
    const one = v => v <= .04045 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4;
    const lum = c => { const p = c.map(v => one(v / 255));
      return .2126 * p[0] + .7152 * p[1] + .0722 * p[2]; };
    const rgb = t => (t.match(/[\\d.]+/g) || []).map(Number);
    const back = e => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor);
      if (c.length === 3 || c[3] > .99) { return c.slice(0, 3); } } return [255, 255, 255]; };
    const poor = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
      const e = walk.currentNode.parentElement;
      if (!walk.currentNode.textContent.trim() || !e.checkVisibility() || e.closest('svg, script, style')) { continue; }
      const a = lum(rgb(getComputedStyle(e).color).slice(0, 3)), b = lum(back(e));
      const ratio = (Math.max(a, b) + .05) / (Math.min(a, b) + .05);
      if (ratio < 7) { poor.push([walk.currentNode.textContent.trim().slice(0, 40), ratio]); }
    }
    for (const t of document.querySelectorAll('.mode svg text')) {
      const c = rgb(getComputedStyle(t).fill).slice(0, 3);
      const b = t.classList.contains('number') ? rgb(getComputedStyle(document.querySelector('.disc')).fill)
        : t.classList.contains('name') ? [255, 216, 77] : [233, 233, 233];
      const ratio = (Math.max(lum(c), lum(b)) + .05) / (Math.min(lum(c), lum(b)) + .05);
      if (ratio < 7) { poor.push([t.textContent, ratio]); }
    }
    return poor;
"""


@UPRIGHT_FIRST
def test_in_sun_everything_stands_out_seven_to_one(browser: Browser, small_page: Path, size: tuple[int, int]) -> None:
    browser.size(*size)
    for place in ("#cut:A-02", "#hang:A-02", "#hang:A-C1", "#cut", "#hang", "#more"):
        browser.open(small_page, place)
        browser.run("document.documentElement.dataset.theme = 'sun'")
        assert browser.run(CONTRAST) == [], place


@pytest.mark.parametrize("size, dark", [(PHONE, False), (LYING, True), (WIDE, False)], ids=list(SIZES))
@pytest.mark.slow
def test_no_serious_finding_of_the_accessibility_checker_in_the_screens(
    browser: Browser, small_page: Path, axe: str, size: tuple[int, int], dark: bool,
) -> None:
    browser.size(*size, dark=dark)
    for place, then in (("#cut:A-02", ""), ("#hang:A-02", ""), ("#hang:A-C1", ""),
                        ("#cut:A-02", "document.getElementById('mode-more').click()"),
                        ("#more", "document.querySelector('[data-tell=remnant]').click()"),
                        ("#more", "document.querySelector('[data-tell=roll]').click()")):
        browser.open(small_page, place)
        browser.run(then)
        browser.run(axe)
        found = browser.driver.execute_async_script(
            "const done = arguments[0]; axe.run(document, {resultTypes: ['violations']}).then(done)")
        serious = [(one["id"], one["nodes"][0]["html"][:200], one["nodes"][0]["failureSummary"])
                   for one in found["violations"] if one["impact"] in ("serious", "critical")]
        assert serious == [], (place, then)


@pytest.mark.parametrize("typed, first", [
    ("2", "A-02"), ("R02", "R02 · roll"), ("south", "A · South · face"), ("P1", "P1 · sleeve · A-01"),
    ("w1", "W1 · opening · A-03"), ("a2", "A-02"),
])
def test_search_finds_rolls_faces_openings_sleeves_and_bare_numbers(
    browser: Browser, small_page: Path, typed: str, first: str,
) -> None:
    browser.size(*PHONE)
    browser.open(small_page)
    browser.driver.find_element("id", "find").send_keys(typed)
    assert browser.visible("#found a")[0] == first


# --- ticks that stay -----------------------------------------------------------------------------

def test_ticks_stay_when_the_packet_is_replaced_by_another_plan_of_the_job(
    browser: Browser, tmp_path: Path, forget: Callable[[Path], None],
) -> None:
    """The third drop is two inches shorter in the second plan: its tick goes, the others stay."""
    browser.size(*PHONE)
    plan = crew_plan()
    page = tmp_path / "packet.html"
    page.write_text(packet.html(plan, {}), "utf-8")
    forget(page)
    browser.open(page, "#cut")
    for tag in ("A-01", "A-02", "A-03"):
        click(browser, f"#cut [data-row='{tag}'] input")
    third = plan.pieces[2]
    shorter = replace(third, outline=tuple((x, y + 32 if y < 0 else y) for x, y in third.outline))
    other = replace(plan, pieces=(*plan.pieces[:2], shorter, *plan.pieces[3:]))
    page.write_text(packet.html(other, {}), "utf-8")
    browser.open(page)
    said = browser.visible("#status")[0]
    assert said.startswith("Ticks of the plan before are kept") and "A-03" in said and "A-02" not in said
    assert browser.run("return Array.from(document.querySelectorAll('#cut input[data-tick]:checked'))"
                       ".map(e => e.dataset.piece)") == ["A-01", "A-02"]
    browser.assert_quiet(page)


def test_ticks_stay_over_a_reload_where_the_browser_denies_storage(browser: Browser, small_page: Path) -> None:
    browser.size(*PHONE)
    done = browser.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {
        "source": "Object.defineProperty(window, 'localStorage', {get() { throw new Error('no store'); }});"})
    try:
        browser.open(small_page, "#cut:A-02")
        touch_until(browser, "#mode-done", "return document.getElementById('mode-h').textContent !== 'A-02'")
        assert browser.visible("#status")[0].startswith("This browser does not keep ticks")
        browser.driver.refresh()
        wait(browser, "return document.documentElement.classList.contains('js')")
        assert browser.run("return document.querySelector(\"#cut [data-row='A-02'] input\").checked") is True
        browser.run("window.name = ''")
        browser.assert_quiet(small_page)
    finally:
        browser.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", {"identifier": done["identifier"]})


def test_a_loaded_file_adds_to_what_is_here_and_the_later_word_stands(
    browser: Browser, small_page: Path, tmp_path: Path, forget: Callable[[Path], None],
) -> None:
    browser.size(*PHONE)
    forget(small_page)
    browser.open(small_page, "#cut")
    click(browser, "#cut [data-row='A-01'] input")
    digest = browser.run("return JSON.parse(document.getElementById('packet-data').textContent).plan")
    ticks = [{"piece": "A-02", "what": "cut", "done": True, "at": "2026-05-04T08:00:00.000Z"},
             {"piece": "A-01", "what": "cut", "done": False, "at": "2020-01-01T00:00:00.000Z"}]
    (tmp_path / "other.json").write_text(json.dumps({
        "format": "lapwright progress", "version": 2, "plan": digest, "cut": ["A-02"], "hung": [], "ticks": ticks,
        "told": [{"what": "spoilt", "piece": "A-05", "at": "2026-05-04T09:00:00.000Z"}]}), "utf-8")
    browser.run("location.hash = '#more'")
    browser.driver.find_element("id", "import").send_keys(str(tmp_path / "other.json"))
    wait(browser, "return document.getElementById('status').textContent.startsWith('Progress loaded')")
    assert "1 times it said something else" in browser.visible("#status")[0]
    done = kept(browser)
    assert done["cut"] == ["A-01", "A-02"]
    assert browser.visible("#told li")[0].startswith("A-05 is spoilt: cut it again")


# --- codes ---------------------------------------------------------------------------------------

@pytest.fixture
def published(monkeypatch: pytest.MonkeyPatch) -> Callable[[str, int], set[tuple[int, int]]]:
    """Return what gives the dark squares of a text by segno, an encoder of ISO/IEC 18004.

    Its padding is put right first: by 7.4.10 of the standard no bits are added where a code word ends already.
    """
    monkeypatch.setattr(segno.encoder, "write_padding_bits",
                        lambda buff, version, length: buff.extend([0] * (-length % 8)))

    def squares(text: str, side: int) -> set[tuple[int, int]]:
        code = segno.make(text, error="m", mode="byte", version=(side - 17) // 4, mask=3, micro=False,
                          boost_error=False)
        return {(x, y) for y, row in enumerate(code.matrix) for x, square in enumerate(row) if square}

    return squares


def test_codes_of_every_size_are_those_of_a_published_encoder(
    browser: Browser, published: Callable[[str, int], set[tuple[int, int]]],
) -> None:
    """Versions 1 to 20, filled to the last byte and not (capacities of level M: ISO/IEC 18004:2015, table 7)."""
    script = (Path(packet.__file__).parent / "templates" / "codes.js").read_text("utf-8")
    encoder = script.split("// error-correction bytes")[1].split("// --- a progress file")[0]
    encoder = encoder.split("\n", 1)[1]
    browser.driver.get("about:blank")
    full = [14, 26, 42, 62, 84, 106, 122, 152, 180, 213, 251, 287, 331, 362, 412, 450, 504, 560, 624, 666]
    for version, most in enumerate(full, 1):
        for length in (most, most - 9):
            text = "".join(chr(33 + (7 * i + length) % 90) for i in range(length))
            rows = browser.run(encoder + "\nreturn codeOf(arguments[0]);", text)
            assert isinstance(rows, list) and len(rows) == 17 + 4 * version
            dark = {(x, y) for y, row in enumerate(rows) for x, square in enumerate(row) if square}
            assert dark == published(text, len(rows)), (version, length)


def test_progress_goes_through_a_chain_of_codes(
    browser: Browser, small_page: Path, forget: Callable[[Path], None],
    published: Callable[[str, int], set[tuple[int, int]]],
) -> None:
    browser.size(*PHONE)
    forget(small_page)
    browser.open(small_page, "#cut")
    for tag in ("A-01", "A-02", "A-04"):
        click(browser, f"#cut [data-row='{tag}'] input")
    browser.run("location.hash = '#more'")
    wait(browser, "return document.getElementById('more').classList.contains('on')")
    click(browser, "#codes")
    wait(browser, "return document.getElementById('chain').open")
    count = int(browser.visible("#chain-count")[0].split()[-1])
    texts = []
    for number in range(1, count + 1):
        shows(browser, "#chain-count", [f"Code {number} of {count}"])
        text = str(browser.run("return document.getElementById('chain-code').dataset.text"))
        texts.append(text)
        drawn = str(browser.run("return document.querySelector('#chain-code path').getAttribute('d')"))
        dark = {tuple(int(part) - 4 for part in one.split("h")[0].split(",")) for one in drawn.split("M")[1:]}
        side = int(str(browser.run("return document.querySelector('#chain-code svg').viewBox.baseVal.width"))) - 8
        assert published(text, side) == dark
        click(browser, "#chain-next")
    from layout.revise.chain import unchained

    saved = json.loads(unchained("\n".join(reversed(texts))))
    assert saved["cut"] == ["A-01", "A-02", "A-04"] and saved["version"] == 2


# --- speed ---------------------------------------------------------------------------------------

@pytest.mark.slow
def test_250_drops_load_within_a_second_and_step_within_a_tenth(
    browser: Browser, tmp_path: Path,
) -> None:
    plan = make_plan(read_job(SAMPLES / "long-wall.yaml"), stop=lambda: True)
    assert len([drop for drop in plan.drops if drop.layer == "membrane"]) >= 250
    page = tmp_path / "packet.html"
    page.write_text(packet.html(plan, svgs(plan)), "utf-8")
    browser.size(*PHONE)
    loads = []
    for _ in range(3):
        browser.open(page)
        wait(browser, "return performance.getEntriesByType('navigation')[0].loadEventEnd > 0")
        loads.append(browser.run("return performance.getEntriesByType('navigation')[0].loadEventEnd"))
    assert min(loads) < 1000, loads  # type: ignore[type-var]
    tag = plan.pieces[40].tag
    browser.open(page, f"#cut:{tag}")
    wait(browser, "return document.documentElement.classList.contains('doing')")
    assert min(median_step(browser) for _ in range(3)) < 100
    browser.assert_quiet(page)


def median_step(browser: Browser) -> float:
    """Return how long a step of Cut mode takes until it is painted [ms]: the middle one of fifteen.

    The best of a few such rounds is asked: other work on the machine makes any of them longer.
    """
    took = browser.driver.execute_async_script("""
        const done = arguments[0], found = [];
        (function step(left) {
          if (!left) { done(found); return; }
          const was = document.getElementById('mode-h').textContent, start = performance.now();
          document.getElementById('mode-done').click();
          (function look() {
            if (document.getElementById('mode-h').textContent === was) { setTimeout(look, 1); return; }
            requestAnimationFrame(() => setTimeout(() => {
              found.push(performance.now() - start);
              step(left - 1);
            }, 0));
          })();
        })(15);
    """)
    return float(sorted(took)[len(took) // 2])


# --- on paper ------------------------------------------------------------------------------------

LETTER, A4 = (8.5, 11.0), (8.27, 11.69)


def pages_of(browser: Browser, paper: tuple[float, float]) -> int:
    """Return how many pages the open page prints on."""
    printed = browser.driver.execute_cdp_cmd("Page.printToPDF", {"paperWidth": paper[0], "paperHeight": paper[1],
                                                                 "preferCSSPageSize": False})
    return len(re.findall(rb"/Type\s*/Page\b", base64.b64decode(printed["data"])))


@pytest.mark.parametrize("name", ["basement", "hillside", "metric"])
@pytest.mark.slow
def test_printed_it_is_at_most_a_page_a_roll_and_a_page_a_face(browser: Browser, tmp_path: Path, name: str) -> None:
    plan = sample_plan(name)
    page = tmp_path / "packet.html"
    page.write_text(packet.html(plan, {}), "utf-8")
    browser.size(816, 1056, media="print")
    browser.open(page)
    rolls = int(str(browser.run("return document.querySelectorAll('.roll').length")))
    faces = int(str(browser.run("return document.querySelectorAll('.face-list').length")))
    for paper in (LETTER, A4):
        assert rolls + faces - 2 <= pages_of(browser, paper) <= rolls + faces
    assert browser.visible("nav, .tools, .mode, .screen, #status, .card") == []
    assert len(browser.visible("#cut [data-row]")) == len(plan.pieces)
    assert browser.run("return document.documentElement.scrollWidth <= innerWidth")
    browser.size(*PHONE)


# --- without a network ---------------------------------------------------------------------------

def test_served_once_it_opens_again_without_a_network(browser: Browser, tmp_path: Path) -> None:
    """Served on this machine, the page keeps itself; with the server gone it opens all the same, ticks and all."""
    folder = tmp_path / "packet"
    packet.write_folder(crew_plan(), "", folder, drawings={})
    handler = partial(Quiet, directory=str(folder))
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = Thread(target=server.serve_forever, daemon=True)
    thread.start()
    address = f"http://127.0.0.1:{server.server_port}/packet.html"
    try:
        browser.size(*PHONE)
        browser.driver.get(address)
        kept = browser.driver.execute_async_script(
            "const done = arguments[0]; navigator.serviceWorker.ready.then(r => done(Boolean(r.active)))")
        assert kept is True
        shown = browser.run("return document.querySelector('link[rel=manifest]').href")
        assert str(shown).endswith("/packet.webmanifest")
        browser.run("location.hash = '#cut:A-02'")
        touch_until(browser, "#mode-done", "return document.getElementById('mode-h').textContent !== 'A-02'")
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
    browser.driver.get("about:blank")
    browser.driver.get(address)
    wait(browser, "return document.documentElement.classList.contains('js')")
    assert browser.run("return document.querySelector(\"#cut [data-row='A-02'] input\").checked") is True
    browser.run("localStorage.clear()")
