"""The phone packet as a crew uses it: in a real browser, from a file, on a phone and on a desk."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from helpers.chromium import DESK, PHONE, Browser
from helpers.crew_plan import crew_plan
from helpers.phone import click, shows, svgs, wait
from helpers.sample_plans import sample_plan
from layout import packet
from layout.records import Plan

pytestmark = pytest.mark.browser
PHONE_FIRST = pytest.mark.parametrize("size", [
    pytest.param(PHONE, id="phone"), pytest.param(DESK, id="desk", marks=pytest.mark.slow)])
VIEWS = ("wall", "cut", "hang", "pieces", "work", "more")
SAMPLES = Path(__file__).resolve().parents[2] / "samples"


@pytest.fixture(scope="session")
def plan() -> Plan:
    return sample_plan("basement")


@pytest.fixture(scope="session")
def page(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("packet") / "packet.html"
    path.write_text(packet.html(plan, svgs(plan)), "utf-8")
    return path


@pytest.fixture(scope="session")
def small_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    plan = crew_plan()
    path = tmp_path_factory.mktemp("packet") / "packet.html"
    path.write_text(packet.html(plan, svgs(plan)), "utf-8")
    return path


@pytest.fixture(scope="session")
def long_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    plan = sample_plan("long-wall")
    assert len([drop for drop in plan.drops if drop.layer == "membrane"]) >= 250
    path = tmp_path_factory.mktemp("packet") / "packet.html"
    path.write_text(packet.html(plan, svgs(plan)), "utf-8")
    return path


def tap(browser: Browser, selector: str) -> None:
    """Tap what a selector names, in its middle, as a finger does."""
    browser.run("document.querySelector(arguments[0]).scrollIntoView({block: 'center', inline: 'center'})", selector)
    settled(browser)
    place = middle_of(browser, selector)
    for kind in ("touchStart", "touchEnd"):
        points = [{"x": place[0], "y": place[1]}] if kind == "touchStart" else []
        browser.driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def middle_of(browser: Browser, selector: str) -> tuple[float, float]:
    """Return where the middle of what a selector names is shown."""
    place = browser.run(
        "const b = document.querySelector(arguments[0]).getBoundingClientRect();"
        "return [b.x + b.width / 2, b.y + b.height / 2]", selector)
    assert isinstance(place, list)
    return place[0], place[1]


def settled(browser: Browser) -> None:
    """Wait until what was scrolled or resized is on the screen: a finger lands on what is shown, not on what is laid
    out, and a window that opens at its own scale moves what is in it."""
    browser.driver.execute_async_script(
        "const done = arguments[0]; requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 100)));")


@pytest.mark.parametrize(("where", "size"), [
    pytest.param(".strip", PHONE, id=".strip-phone"),
    pytest.param(".strip", DESK, id=".strip-desk", marks=pytest.mark.slow),
    pytest.param(".elevation.on", PHONE, id=".elevation.on-phone", marks=pytest.mark.slow),
    pytest.param(".elevation.on", DESK, id=".elevation.on-desk"),
])
def test_tap_tick_reload_and_export(
    browser: Browser, page: Path, plan: Plan, forget: Callable[[Path], None], size: tuple[int, int], where: str,
) -> None:
    browser.size(*size)
    forget(page)
    browser.open(page)
    first = f"{where} [data-piece='A-02']"
    if size == PHONE:
        for _ in range(5):  # a browser busy with other work may lose a touch
            tap(browser, first)
            settled(browser)
            if browser.run("return location.hash.startsWith('#piece-')"):
                break
    else:
        browser.run("document.querySelector(arguments[0]).dispatchEvent(new MouseEvent('click', {bubbles: true}))",
                    first)
    wait(browser, "return location.hash.startsWith('#piece-')")
    shows(browser, ".card h3 bdi", ["A-02"])
    roll = next(r.tag for cutting in plan.cuttings for r in cutting.rolls if any(c.piece == "A-02" for c in r.cuts))
    assert roll in browser.visible(".card.current dd a")
    for what in ("cut", "hung"):
        click(browser, f".card.current input[data-tick='{what}']")
    stop_says(browser, "because nobody waits")
    browser.driver.refresh()
    wait(browser, "return document.documentElement.classList.contains('js')")
    ticked = "return Array.from(document.querySelectorAll(\"input[data-piece='A-02']\")).map(e => e.checked)"
    assert browser.run(ticked) == [True, True, True, True]
    browser.run("location.hash = '#cut'")
    wait(browser, "return document.getElementById('cut').classList.contains('on')")
    click(browser, f"#roll-{roll} [data-row] input[data-piece='A-02']")
    assert browser.run(ticked) == [False, False, False, False]  # not cut is not hung either
    click(browser, f"#roll-{roll} [data-row] input[data-piece='A-02']")
    browser.run("location.hash = '#more'")
    wait(browser, "return document.getElementById('more').classList.contains('on')")
    click(browser, "#export")
    data = json.loads(browser.download(_file(browser)))
    assert data["format"] == "lapwright progress" and data["job"] == plan.job.info.name
    assert data["cut"] == ["A-02"] and data["hung"] == []
    browser.assert_quiet(page)


def stop_says(browser: Browser, why: str) -> None:
    """Answer the stop before a piece whose turn it is not with a reason."""
    wait(browser, "return document.getElementById('ask').open")
    browser.driver.find_element("css selector", "#ask-body input").send_keys(why)
    click(browser, "#ask-yes")
    wait(browser, "return !document.getElementById('ask').open")


def _file(browser: Browser) -> str:
    return str(browser.run("return JSON.parse(document.getElementById('packet-data').textContent).file"))


@PHONE_FIRST
def test_counts_follow_the_ticks(
    browser: Browser, page: Path, forget: Callable[[Path], None], size: tuple[int, int],
) -> None:
    browser.size(*size)
    forget(page)
    browser.open(page, "#roll-R01")
    click(browser, "#roll-R01 li input")
    assert browser.visible("#roll-R01 [data-count]")[0].startswith("1 of ")
    tag = browser.run("return document.querySelector('#roll-R01 li').dataset.row")
    assert browser.run("return document.querySelectorAll('.strip .is-cut').length") == 1
    browser.run("location.hash = '#hang'")
    wait(browser, "return document.getElementById('hang').classList.contains('on')")
    click(browser, f"#hang [data-row='{tag}'] input")
    stop_says(browser, "because")
    assert any(text.startswith("1 of ") for text in browser.visible("#hang [data-count]"))
    assert browser.run("return document.querySelectorAll('.strip .is-hung').length") == 1
    browser.assert_quiet(page)


@PHONE_FIRST
def test_find_by_tag_and_by_scanned_code(browser: Browser, page: Path, size: tuple[int, int]) -> None:
    browser.size(*size)
    for typed in ("a-03", "packet.html#piece-A-03"):
        browser.open(page)
        box = browser.driver.find_element("id", "find")
        box.send_keys(typed)
        assert browser.visible("#found a")[0] == "A-03"
        box.send_keys("\ue007")
        wait(browser, "return location.hash === '#piece-A-03'")
        shows(browser, ".card h3 bdi", ["A-03"])
    box = browser.driver.find_element("id", "find")
    box.send_keys("no such tag")
    shows(browser, "#status", ["No piece has that tag."])
    browser.assert_quiet(page)


def test_a_code_opens_its_piece(browser: Browser, page: Path) -> None:
    browser.size(*PHONE)
    browser.open(page, "#piece-A-04")
    shows(browser, ".card h3 bdi", ["A-04"])
    box = browser.run("return document.querySelector('.card.current h3').getBoundingClientRect().top")
    assert isinstance(box, (int, float)) and 0 < box < 500


@PHONE_FIRST
def test_a_progress_file_is_read_back(
    browser: Browser, page: Path, tmp_path: Path, forget: Callable[[Path], None], size: tuple[int, int],
) -> None:
    browser.size(*size)
    forget(page)
    browser.open(page, "#more")
    load = browser.driver.find_element("id", "import")
    good = {"format": "lapwright progress", "job": "x", "cut": ["A-01", "gone"], "hung": ["A-02"]}
    for name, text, words in (
        ("good.json", json.dumps(good), "Progress loaded. 1 tags are of no piece here."),
        ("other.json", '{"format": "other"}', "That is not a progress file"),
        ("null.json", "null", "That is not a progress file"),
        ("text.json", "<script>", "That is not a progress file"),
    ):
        path = tmp_path / name
        path.write_text(text, "utf-8")
        load.send_keys(str(path))
        wait(browser, f"return document.getElementById('status').textContent.startsWith({json.dumps(words)})")
        assert browser.visible("#sum") == [
            f"2 of {browser.run('return document.querySelectorAll(`.card`).length')} pieces cut, 1 hung."]
    browser.assert_quiet(page)


def test_keys_alone_open_a_drop_and_come_back(browser: Browser, page: Path) -> None:
    browser.size(*DESK)
    browser.open(page)
    browser.run("document.querySelector('.pan-window').focus()")
    body = browser.driver.switch_to.active_element
    for key in ("\ue014", "\ue014", "\ue014", "\ue012"):  # right, right, right, left
        body.send_keys(key)
        body = browser.driver.switch_to.active_element
    tag = body.get_attribute("data-piece")
    assert tag and "A-02" in tag
    body.send_keys("\ue007")
    wait(browser, "return location.hash.startsWith('#piece-')")
    shows(browser, ".card h3 bdi", [tag])
    wait(browser, "return document.activeElement.tagName === 'H3'")
    browser.driver.back()
    wait(browser, "return document.getElementById('wall').classList.contains('on')")
    browser.assert_quiet(page)


def test_a_drawing_pans_and_pinches(browser: Browser, page: Path) -> None:
    browser.size(*PHONE)
    browser.open(page)
    look = "return document.querySelector('.elevation.on svg').getBoundingClientRect().toJSON()"
    browser.run("document.querySelector('.elevation.on').scrollIntoView()")
    settled(browser)
    before = browser.run(look)
    assert isinstance(before, dict)
    x, y = middle_of(browser, ".elevation.on .pan-window")

    def fingers(kind: str, *places: tuple[float, float]) -> None:
        browser.driver.execute_cdp_cmd("Input.dispatchTouchEvent", {
            "type": kind, "touchPoints": [{"x": px, "y": py, "id": i} for i, (px, py) in enumerate(places)]})

    def until(gesture: Callable[[], None], script: str) -> None:
        """Make a gesture, again when the browser lost it: one busy with other work may send it to no one."""
        for _ in range(5):
            gesture()
            settled(browser)
            if browser.run(script):
                return
        wait(browser, script)

    def swipe() -> None:
        fingers("touchStart", (x, y))
        for step in range(1, 8):
            fingers("touchMove", (x - 12 * step, y))
            settled(browser)
        fingers("touchEnd")

    until(swipe, f"{look.replace('.toJSON()', '.x')} < {before['x'] - 40}")
    panned = browser.run(look)
    assert isinstance(panned, dict) and panned["width"] == before["width"]
    assert browser.run("return location.hash") in ("", "#wall")

    def pinch() -> None:
        fingers("touchStart", (x - 30, y), (x + 30, y))
        for step in range(1, 8):
            fingers("touchMove", (x - 30 - 6 * step, y), (x + 30 + 6 * step, y))
            settled(browser)
        fingers("touchEnd")

    until(pinch, f"{look.replace('.toJSON()', '.width')} > {panned['width'] * 1.5}")
    browser.assert_quiet(page)


def test_a_browser_that_keeps_nothing_says_so(browser: Browser, page: Path) -> None:
    browser.size(*PHONE)
    done = browser.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {
        "source": "Object.defineProperty(window, 'localStorage', {get() { throw new Error('no store'); }});"})
    try:
        browser.open(page, "#piece-A-01")
        click(browser, ".card.current input[data-tick='cut']")
        assert browser.visible("#status")[0].startswith("This browser does not keep ticks")
        browser.assert_quiet(page)
    finally:
        browser.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", {"identifier": done["identifier"]})


@pytest.mark.parametrize("size, dark", [(PHONE, False), (DESK, True)], ids=["phone, light", "desk, dark"])
@pytest.mark.slow
def test_no_serious_finding_of_the_accessibility_checker(
    browser: Browser, small_page: Path, axe: str, size: tuple[int, int], dark: bool,
) -> None:
    """The hand-made plan's page has every kind of part that a long one repeats."""
    check_with_axe(browser, small_page, axe, size, dark=dark)


@pytest.mark.slow
def test_no_serious_finding_on_a_whole_sample(browser: Browser, page: Path, axe: str) -> None:
    check_with_axe(browser, page, axe, PHONE, dark=False)


def check_with_axe(browser: Browser, page: Path, axe: str, size: tuple[int, int], *, dark: bool) -> None:
    """Check each part of a page with the accessibility checker."""
    browser.size(*size, dark=dark)
    for view in (*VIEWS, "piece-A-02"):
        browser.open(page, f"#{view}")
        browser.run(axe)
        found = browser.driver.execute_async_script(
            "const done = arguments[0]; axe.run(document, {resultTypes: ['violations']}).then(done)")
        serious = [(one["id"], one["nodes"][0]["html"][:200], one["nodes"][0]["failureSummary"])
                   for one in found["violations"] if one["impact"] in ("serious", "critical")]
        assert serious == [], view


@pytest.mark.slow
@PHONE_FIRST
def test_what_is_touched_is_large_enough(browser: Browser, page: Path, size: tuple[int, int]) -> None:
    """44 px each way, the size that the web's accessibility guidelines ask for at their highest level."""
    browser.size(*size)
    for view in (*VIEWS, "piece-A-02"):
        browser.open(page, f"#{view}")
        small = browser.run("""
            const kinds = 'button, a, summary, label.tick, label.button, input[type=search], .strip .piece';
            return Array.from(document.querySelectorAll(kinds))
              .filter(e => e.checkVisibility() && !e.classList.contains('skip'))
              .map(e => [e.outerHTML.slice(0, 120), e.getBoundingClientRect()])
              .filter(([text, b]) => b.width && (b.width < 43.9 || b.height < 43.9))
              .map(([text, b]) => [text, b.width, b.height])
        """)
        assert small == [], view
        assert browser.run("return document.documentElement.scrollWidth <= innerWidth"), "wider than the screen"


@pytest.mark.slow
def test_the_long_wall_is_small_and_answers_at_once(browser: Browser, long_page: Path) -> None:
    """250 drops: under 5 MB, and the first tap is answered within 200 ms, painted; the best of three first taps."""
    assert long_page.stat().st_size < 5_000_000
    browser.size(*PHONE)
    took = []
    for _ in range(3):
        browser.open(long_page)
        took.append(browser.driver.execute_async_script("""
            const done = arguments[0];
            const drop = document.querySelectorAll('.strip .piece')[120];
            requestAnimationFrame(() => {
              const start = performance.now();
              drop.dispatchEvent(new MouseEvent('click', {bubbles: true}));
              (function look() {
                const card = document.querySelector('.card.current');
                if (!card || !card.getBoundingClientRect().height) { setTimeout(look, 1); return; }
                requestAnimationFrame(() => setTimeout(() => done(performance.now() - start), 0));
              })();
            });
        """))
    assert min(took) < 200
    browser.assert_quiet(long_page)


HOSTILE = ('<script>document.title="owned"</script><img src=x onerror=alert(1)>"\' =cmd() '
           "\u202e\u05e9\u05dc\u05d5\u05dd 🌊")


def test_names_are_text_whatever_they_hold(browser: Browser, tmp_path: Path) -> None:
    plan = crew_plan(name=HOSTILE, run=HOSTILE, face=HOSTILE, sleeve=HOSTILE, window=HOSTILE, remnant=HOSTILE)
    page = tmp_path / "packet.html"
    page.write_text(packet.html(plan, svgs(plan)), "utf-8")
    browser.size(*PHONE)
    browser.open(page)
    shows(browser, "h1", [HOSTILE])
    assert browser.run("return document.title") == f"{HOSTILE} · packet"
    assert browser.run("return document.querySelectorAll('img').length") == 0
    for view in VIEWS:
        browser.run("location.hash = arguments[0]", f"#{view}")
    tag = f"{HOSTILE}-02"
    browser.run("location.hash = '#piece-' + encodeURIComponent(arguments[0])", tag)
    wait(browser, "return document.querySelector('.card.current') !== null")
    shows(browser, ".card h3 bdi", [tag])
    click(browser, ".card.current input[data-tick='cut']")
    browser.driver.refresh()
    wait(browser, "return document.querySelector('.card.current') !== null")
    assert browser.run("return document.querySelector('.card.current input').checked") is True
    assert browser.run(
        "return Array.from(document.querySelectorAll('.strip .is-cut')).map(e => e.dataset.piece)") == [tag]
    browser.assert_quiet(page)


def test_the_policy_stops_what_is_not_the_packets_own(browser: Browser, tmp_path: Path) -> None:
    """A script slipped into the page does not run, and nothing is fetched."""
    page = tmp_path / "packet.html"
    plan = replace(crew_plan(), notes=())
    slipped = ("<script>document.title='owned'</script><img src='file:///x.png'>"
               "<p style='color:red' id='slip'>x</p></main>")
    page.write_text(packet.html(plan, {}).replace("</main>", slipped), "utf-8")
    browser.open(page)
    assert browser.run("return document.title") != "owned"
    assert browser.run("return getComputedStyle(document.getElementById('slip')).color") != "rgb(255, 0, 0)"
    blocked = " ".join(entry["message"] for entry in browser.driver.get_log("browser"))
    assert "Content Security Policy" in blocked and "script" in blocked and "img" in blocked
