"""The page for entering walls, as an estimator at a desk and a foreman with a phone use it: by typing and clicking."""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.remote.webelement import WebElement

from helpers.chromium import PHONE, Browser
from helpers.house import HOUSE
from layout.job import read_job, read_job_text
from layout.job.text import read_tree

pytestmark = pytest.mark.browser
ROOT = Path(__file__).resolve().parents[2]
SAMPLES = ROOT / "samples"
WIDE = (1400, 900)
SIZES = pytest.mark.parametrize("size", [PHONE, WIDE], ids=["phone", "desk"])
PHONE_FIRST = pytest.mark.parametrize("size", [
    pytest.param(PHONE, id="phone"), pytest.param(WIDE, id="desk", marks=pytest.mark.slow)])


class Served:
    """lapwright edit, running on a file."""

    def __init__(self, job: Path, *more: str) -> None:
        self.job = job
        self.process = subprocess.Popen(
            [sys.executable, str(ROOT / "cli.py"), "edit", str(job), "--no-browser", *more], cwd=job.parent,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        found = re.search(r"http://127\.0\.0\.1:(\d+)/([\w-]+)/", self.process.stdout.readline())
        assert found, self.process.communicate(timeout=10)
        self.address, self.port, self.token = found[0], int(found[1]), found[2]

    def end(self) -> None:
        self.process.send_signal(signal.SIGINT)
        out, err = self.process.communicate(timeout=20)
        assert (self.process.returncode, err) == (0, "")


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[..., Served]]:
    running: list[Served] = []

    def start(job: Path) -> Served:
        running.append(Served(job))
        return running[-1]

    yield start
    for served in running:
        if served.process.poll() is None:
            served.end()


class Hand:
    """Types and clicks, and waits for what a person would wait for; it puts nothing into the page."""

    def __init__(self, browser: Browser) -> None:
        self.driver = browser.driver

    def until(self, what: Callable[[], Any], words: str, seconds: float = 30) -> Any:
        end = time.monotonic() + seconds
        last: Exception | None = None
        while time.monotonic() < end:
            try:
                found = what()
                if found:
                    return found
            except Exception as error:  # a field may be gone while it is looked at
                last = error
            time.sleep(0.05)
        raise AssertionError(f"never: {words} ({last})")

    def see(self, selector: str) -> WebElement:
        return self.until(lambda: next(
            each for each in self.driver.find_elements(By.CSS_SELECTOR, selector) if each.is_displayed()), selector)

    def click(self, selector: str) -> None:
        def press() -> bool:
            self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", self.see(selector))
            self.see(selector).click()
            return True

        self.until(press, f"a click on {selector}")

    def type(self, path: str, words: str) -> None:
        self.click(f'[id="f:{path}"]')
        self.at(path)
        self.chord(Keys.CONTROL, "a")
        self.keys(words, Keys.TAB)

    def at(self, path: str) -> None:
        self.until(lambda: self.driver.switch_to.active_element.get_attribute("id") == f"f:{path}", f"cursor in {path}")

    def keys(self, *keys: str) -> None:
        """Press keys, wherever the cursor is."""
        ActionChains(self.driver).send_keys(*keys).perform()

    def chord(self, held: str, key: str) -> None:
        ActionChains(self.driver).key_down(held).send_keys(key).key_up(held).perform()

    def saved(self) -> None:
        self.until(lambda: self.driver.find_element(By.ID, "saved").text == "saved", "saved")

    def says(self, selector: str, words: str, seconds: float = 30) -> None:
        self.until(lambda: words in self.driver.find_element(By.CSS_SELECTOR, selector).text,
                   f"{selector}: {words}", seconds)


def open_page(browser: Browser, served: Served, size: tuple[int, int]) -> Hand:
    browser.size(*size)
    browser.driver.get("about:blank")
    browser.driver.get_log("browser")
    browser.driver.get(served.address)
    hand = Hand(browser)
    hand.see("[role=tab]")
    return hand


def quiet(browser: Browser) -> None:
    assert browser.driver.get_log("browser") == []


def open_face(hand: Hand, face: int) -> None:
    """Open a face's further fields, or on a phone close them again."""
    hand.click(f'[data-face="0/{face}"] .more')


def enter_house(hand: Hand, *, phone: bool) -> None:
    """Enter the house of six faces into a page opened on nothing."""
    faces = "runs.0.faces"
    hand.at("job.name")
    hand.keys("Ash Row 7", Keys.TAB)
    hand.click("#tab-sheet")
    hand.click('[data-add="sheet.rolls"]')
    hand.at("sheet.rolls.0.length")
    hand.keys("66'-8\"", Keys.TAB, "205", Keys.TAB)
    hand.click("#tab-rules")
    hand.type("rules.side_lap", "3")
    hand.click("#tab-walls")
    hand.click(f'[data-add="{faces}"]')
    hand.at(f"{faces}.0.length")
    hand.keys("40'-0\"", Keys.TAB)
    if phone:
        open_face(hand, 0)
    for key, words in (("top", "8'-0\""), ("footing", "0"), ("ledge", "6"), ("footing_depth", "12")):
        hand.type(f"{faces}.0.{key}", words)
    if phone:
        open_face(hand, 0)
    hand.saved()
    if not phone:  # it is drawn, or said to be under way: what was entered is not asked for
        hand.until(lambda: "draw this face" not in hand.driver.execute_script(
            "return document.getElementById('elevation').shadowRoot.textContent"), "drawn or under way", 2)
    hand.click(f'[id="f:{faces}.0.length"]')
    hand.keys(Keys.ENTER)
    for number, words in enumerate(("28'", "16'", "8'-6\"", "24'", "36'-6\""), start=1):
        hand.at(f"{faces}.{number}.length")
        hand.keys(words)
        if number == 2:
            hand.saved()
            hand.keys(Keys.TAB)
            hand.at(f"{faces}.2.corner")
            hand.keys("i")
            hand.saved()
            hand.click(f'[id="f:{faces}.2.length"]')
        if number < 5:
            hand.keys(Keys.ENTER)
    hand.keys(Keys.TAB)
    hand.type(f"{faces}.3.name", "Porch")
    hand.type(f"{faces}.4.name", "North 2")
    hand.type(f"{faces}.5.name", "West")
    open_face(hand, 1)
    hand.click(f'[data-add="{faces}.1.openings"]')
    hand.at(f"{faces}.1.openings.0.left")
    for key, words in (("left", "10'-0\""), ("sill", "5'-2\""), ("width", "3'-0\""), ("height", "2'-0\"")):
        hand.type(f"{faces}.1.openings.0.{key}", words)
    hand.click(f'[data-add="{faces}.1.sleeves"]')
    hand.at(f"{faces}.1.sleeves.0.at")
    for key, words in (("at", "22'-3\""), ("elevation", "2'-6\""), ("diameter", "4")):
        hand.type(f"{faces}.1.sleeves.0.{key}", words)
    hand.saved()


@SIZES
@pytest.mark.slow
def test_a_house_entered_from_nothing_is_the_job_in_yaml(
    browser: Browser, serve: Callable[..., Served], tmp_path: Path, size: tuple[int, int],
) -> None:
    served = serve(tmp_path / "house.yaml")
    hand = open_page(browser, served, size)
    enter_house(hand, phone=size == PHONE)
    hand.says("#figures", "waste")
    assert read_job(served.job) == read_job_text(HOUSE, "house.yaml")
    hand.click("#make-plan")
    hand.says("#panel-packet", "The packet is written.", 120)
    packet = tmp_path / "house-packet"
    assert (packet / "plan.json").is_file()
    assert read_job(packet / "job.yaml") == read_job_text(HOUSE, "house.yaml")
    link = hand.see("#panel-packet a.main")
    assert link.get_attribute("href") == served.address + "packet/packet.html"
    assert sorted(os.listdir(tmp_path)) == ["house-packet", "house.yaml"]
    quiet(browser)


@SIZES
@pytest.mark.slow
def test_undo_and_redo_go_back_and_forth(
    browser: Browser, serve: Callable[..., Served], tmp_path: Path, size: tuple[int, int],
) -> None:
    job = copied(tmp_path)
    before = job.read_bytes()
    hand = open_page(browser, serve(job), size)
    hand.type("runs.0.faces.0.length", "38'-6\"")
    hand.saved()
    hand.until(lambda: job.read_bytes() != before, "saved to the file")
    after = job.read_bytes()
    assert after == before.replace(b"length: 38'-7 1/2\"", b"length: 38'-6\"", 1)
    hand.click("#undo")
    hand.until(lambda: job.read_bytes() == before, "undone in the file")
    hand.until(lambda: value(hand, "runs.0.faces.0.length") == "38'-7 1/2\"", "undone in the field")
    hand.click("#redo")
    hand.until(lambda: job.read_bytes() == after, "done again in the file")
    hand.click("#tab-rules")
    hand.chord(Keys.CONTROL, "z")
    hand.until(lambda: job.read_bytes() == before, "undone by key")
    quiet(browser)


@PHONE_FIRST
def test_a_fault_is_said_at_its_field(
    browser: Browser, serve: Callable[..., Served], tmp_path: Path, size: tuple[int, int],
) -> None:
    hand = open_page(browser, serve(copied(tmp_path)), size)
    hand.type("runs.0.faces.1.length", "28 yards")
    hand.says('[id="e:runs.0.faces.1.length"]', "must be a length such as")
    field = hand.see('[id="f:runs.0.faces.1.length"]')
    assert field.get_attribute("aria-invalid") == "true"
    assert field.get_attribute("aria-describedby") == "e:runs.0.faces.1.length"
    hand.says("#figures", "follow when nothing is missing")
    hand.click("#tab-sheet")
    hand.click("#next-fault")
    hand.at("runs.0.faces.1.length")
    hand.chord(Keys.CONTROL, "a")
    hand.keys("26'-3 3/8\"", Keys.TAB)
    hand.until(lambda: hand.driver.find_element(By.ID, "next-fault").is_displayed() is False, "no fault")
    hand.until(lambda: hand.driver.find_element(By.ID, "e:runs.0.faces.1.length").text == "", "no fault at the field")
    hand.says("#figures", "waste")
    quiet(browser)


@pytest.mark.slow
def test_a_loop_that_does_not_close_is_said_with_its_gap(
    browser: Browser, serve: Callable[..., Served], tmp_path: Path,
) -> None:
    hand = open_page(browser, serve(copied(tmp_path)), WIDE)
    hand.until(lambda: hand.driver.find_elements(By.CSS_SELECTOR, "#plan .wall"), "walls")
    assert hand.driver.find_elements(By.CSS_SELECTOR, "#plan .gap") == []
    hand.type("runs.0.faces.2.length", "37'-7 1/2\"")
    hand.says("#closing", "Run A does not close: 1'-0\" apart. The last face ends 1'-0\" to the right of where")
    gap = hand.driver.find_element(By.CSS_SELECTOR, "#plan .gap")
    assert gap.value_of_css_property("stroke") == "rgb(179, 38, 30)"
    hand.says('[id="e:runs.0.closed"]', "a gap of 1'-0\"")
    hand.says('[id="e:runs.0.closed"]', "tick “the gap is really there”")
    next(each for each in hand.driver.find_elements(By.CSS_SELECTOR, "#closing button")
         if each.text == "North 38'-7 1/2\"").click()
    hand.until(lambda: not hand.driver.find_elements(By.CSS_SELECTOR, "#plan .gap"), "closed again")
    assert value(hand, "runs.0.faces.2.length") == "38'-7 1/2\""
    quiet(browser)


@pytest.mark.parametrize(("size", "height"), [
    pytest.param(PHONE, 4000, id="phone, tall"), pytest.param(PHONE, PHONE[1], id="phone"),
    pytest.param(WIDE, 4000, id="desk, tall"), pytest.param(WIDE, WIDE[1], id="desk"),
])
@pytest.mark.slow
def test_the_page_is_accessible(
    browser: Browser, serve: Callable[..., Served], axe: str, tmp_path: Path, size: tuple[int, int], height: int,
) -> None:
    """What a bar at the edge happens to lie over is measured on the tall screen, where it lies over nothing."""
    hand = open_page(browser, serve(copied(tmp_path)), size)
    hand.says("#figures", "waste")
    browser.driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})  # for the checker's script, not the page's
    browser.driver.refresh()
    hand.see("[role=tab]")
    hand.says("#figures", "waste")
    browser.run(axe)
    open_face(hand, 1)
    hand.type("runs.0.faces.1.sleeves.0.at", "nowhere")
    hand.says('[id="e:runs.0.faces.1.sleeves.0.at"]', "must be a length")
    found = []
    browser.size(size[0], height)
    rules = {"target-size": {"enabled": height == 4000}}
    for tab in ("walls", "job", "sheet", "rules", "takeoff", "packet"):
        hand.click(f"#tab-{tab}")
        for view in ("plan", "face") if size == PHONE and tab == "walls" else ("plan",):
            if size == PHONE:
                hand.click(f'.views [data-view="{view}"]')
            result = browser.driver.execute_async_script(
                "const done = arguments[1]; axe.run(document, {rules: arguments[0], runOnly: ['wcag2a', 'wcag2aa', "
                "'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
                ".then(r => done(r.violations), e => done([{id: String(e), nodes: []}]))", rules)
            found += [(tab, view, each["id"], [node["html"] for node in each["nodes"]]) for each in result]
    browser.driver.execute_cdp_cmd("Page.setBypassCSP", {"enabled": False})
    assert found == []


@pytest.mark.slow
def test_the_keyboard_alone_does(browser: Browser, serve: Callable[..., Served], tmp_path: Path) -> None:
    """From the address to a plan without a mouse: a name, a roll, two faces, Plan."""
    served = serve(tmp_path / "wall.yaml")
    hand = open_page(browser, served, WIDE)
    hand.at("job.name")
    hand.keys("Garden wall")
    tab_to(hand, "tab-job", back=True)
    hand.keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    tab_to(hand, '[data-add="sheet.rolls"]')
    hand.keys(Keys.ENTER)
    hand.at("sheet.rolls.0.length")
    hand.keys("50 ft")
    tab_to(hand, "tab-sheet", back=True)
    hand.keys(Keys.ARROW_LEFT)
    tab_to(hand, "f:runs.0.closed")
    hand.keys(" ")
    tab_to(hand, '[data-add="runs.0.faces"]')
    hand.keys(Keys.ENTER)
    hand.at("runs.0.faces.0.length")
    hand.keys("12'-6\"")
    tab_to(hand, "f:runs.0.faces.0.top")
    hand.keys("6'")
    hand.saved()
    tab_to(hand, "f:runs.0.faces.0.length", back=True)
    hand.keys(Keys.ENTER)
    hand.at("runs.0.faces.1.length")
    hand.keys("9'", Keys.TAB)
    hand.saved()
    hand.says("#figures", "waste")
    tab_to(hand, "make-plan")
    hand.keys(Keys.ENTER)
    hand.says("#panel-packet", "The packet is written.", 120)
    read = read_job(served.job)
    assert [(face.name, face.length, face.top[0][1]) for face in read.runs[0].faces] == [
        ("South", 150 * 16, 72 * 16), ("East", 108 * 16, 72 * 16)]
    assert read.runs[0].closed is False
    quiet(browser)


@pytest.mark.slow
def test_two_tabs_on_one_file_lose_nothing(browser: Browser, serve: Callable[..., Served], tmp_path: Path) -> None:
    served = serve(copied(tmp_path))
    hand = open_page(browser, served, WIDE)
    driver = browser.driver
    first = driver.current_window_handle
    driver.switch_to.new_window("tab")
    try:
        driver.get(served.address)
        hand.see('[id="f:runs.0.faces.0.length"]')
        hand.type("runs.0.faces.0.length", "38'-6\"")
        hand.saved()
        driver.switch_to.window(first)
        hand.type("runs.0.faces.1.length", "26'-3\"")
        hand.saved()
        hand.until(lambda: value(hand, "runs.0.faces.0.length") == "38'-6\"", "the other tab's length")
        # both write in one field within a moment: the later one is asked, and what it typed is not lost either
        hand.click('[id="f:runs.0.faces.2.length"]')
        hand.chord(Keys.CONTROL, "a")
        hand.keys("38'-5\"")
        written = posted(served, "edit", {"base": revision(served), "label": "length", "changes": [
            {"do": "set", "path": ["runs", 0, "faces", 2, "length"], "value": "38'-4\""}]})
        assert written == 200
        hand.says("#notices", "length of North: meanwhile “38'-4\"” was written there. You typed “38'-5\"”.")
        hand.keys(Keys.TAB)
        hand.saved()
        assert "38'-5" not in served.job.read_text() and value(hand, "runs.0.faces.2.length") == "38'-5\""
        press(hand, "Use mine")
        hand.until(lambda: "38'-5\"" in served.job.read_text(), "mine")
        told = read_tree(served.job.read_text("utf-8"))[0].follow(("runs", 0, "faces"))[0]
        assert told is not None and [face["length"] for face in told.plain()] == [  # type: ignore[attr-defined]
            "38'-6\"", "26'-3\"", "38'-5\"", "26'-3 3/8\""]
        quiet(browser)
    finally:
        for handle in driver.window_handles:
            if handle != first:
                driver.switch_to.window(handle)
                driver.close()
        driver.switch_to.window(first)


@pytest.mark.slow
def test_a_file_changed_on_disk_is_not_overwritten_in_silence(
    browser: Browser, serve: Callable[..., Served], tmp_path: Path,
) -> None:
    served = serve(copied(tmp_path))
    hand = open_page(browser, served, WIDE)
    text = served.job.read_text()
    served.job.write_text(text.replace("38'-7 1/2\"", "39'-0\"") + "# by hand\n")
    hand.says("#notices", "Another program changed the file.")
    hand.until(lambda: value(hand, "runs.0.faces.0.length") == "39'-0\"", "its version")
    hand.type("runs.0.faces.1.length", "26'")
    hand.until(lambda: "length: 26'\n" in served.job.read_text(), "both")
    assert served.job.read_text().endswith("# by hand\n")
    served.job.write_text("runs: [")
    hand.says("#notices", "cannot be read")
    hand.type("runs.0.faces.1.length", "27'")
    hand.says("#saved", "not saved")
    assert served.job.read_text() == "runs: ["
    press(hand, "Write over it")
    hand.until(lambda: "length: 27'\n" in served.job.read_text(), "written over")
    quiet(browser)


def test_names_that_are_markup_are_words(browser: Browser, serve: Callable[..., Served], tmp_path: Path) -> None:
    job = copied(tmp_path)
    evil = "<img src=x onerror=alert(1)></script><b>"
    text = job.read_text("utf-8").replace("name: South", f"name: '{evil}'")
    text = text.replace("name: Marlpit", f"name: '{evil}' # ")
    job.write_text(text.replace("tag: P1", f"tag: '{evil}'"), "utf-8")
    hand = open_page(browser, serve(job), WIDE)
    hand.says("#figures", "waste")
    hand.says("#job-name", evil)
    hand.says("#chips", evil)
    open_face(hand, 1)
    assert value(hand, "runs.0.faces.1.sleeves.0.tag") == evil
    hand.click('[data-chip="0/1"]')
    shown = "return document.getElementById('elevation').shadowRoot"
    hand.until(lambda: evil in str(browser.run(f"{shown}.textContent")), "the tag in the drawing")
    assert browser.run("return document.querySelectorAll('img, b, main script').length") == 0
    assert browser.run(f"{shown}.querySelectorAll('img, b, script').length") == 0
    quiet(browser)


def test_what_does_not_come_from_the_page_is_refused(serve: Callable[..., Served], tmp_path: Path) -> None:
    served = serve(copied(tmp_path))
    before = served.job.read_bytes()
    host, own = f"127.0.0.1:{served.port}", f"http://127.0.0.1:{served.port}"
    good = {"Host": host, "Origin": own, "Content-Type": "application/json"}
    edit = '{"base": 1, "changes": [{"do": "set", "path": ["units"], "value": "mm"}]}'

    def asked(method: str, path: str, headers: dict[str, str], body: str | None = None) -> int:
        connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=20)
        connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for key, given in headers.items():
            connection.putheader(key, given)
        if body is not None:
            connection.putheader("Content-Length", str(len(body)))
        connection.endheaders(body.encode() if body is not None else None)
        return connection.getresponse().status

    here = f"/{served.token}/"
    assert asked("GET", here, {"Host": host}) == 200
    for wrong in ({"Host": "evil.example"}, {"Host": f"localhost:{served.port}"}, {"Host": "127.0.0.1"}, {},
                  {"Host": host, "Origin": "http://evil.example"}, {"Host": host, "Origin": "null"},
                  {"Host": host, "Sec-Fetch-Site": "cross-site"}):
        assert asked("GET", f"{here}state", wrong) in (400, 403), wrong
    for path in ("/", "/state", "/wrong/state", f"/{served.token[:-1]}/state", f"/{served.token}x/state"):
        assert asked("GET", path, {"Host": host}) == 403, path
    for wrong in ({**good, "Origin": "http://evil.example"}, {key: good[key] for key in ("Host", "Content-Type")},
                  {**good, "Host": "evil.example"}):
        assert asked("POST", f"{here}edit", wrong, edit) == 403, wrong
    assert asked("POST", "/edit", good, edit) == 403
    assert asked("POST", f"{here}edit", good, '{"base": 1, "changes": ["x' + "y" * 300_000 + '"]}') == 413
    assert asked("POST", f"{here}edit", good, "no json") == 400
    assert asked("PUT", f"{here}edit", good, edit) == 405
    for path in ("packet/plan.json", "packet/../basement.yaml", "static/../server.py", "static/..%2fserver.py"):
        assert asked("GET", here + path, {"Host": host}) == 404, path
    assert served.job.read_bytes() == before
    assert asked("POST", f"{here}edit", good, edit) == 200
    assert served.job.read_bytes() != before


def revision(served: Served) -> int:
    """Return the number of the state that the server has."""
    with urllib.request.urlopen(f"{served.address}state", timeout=20) as answer:
        found = json.load(answer)["revision"]
    assert isinstance(found, int)
    return found


def posted(served: Served, place: str, body: dict[str, object]) -> int:
    """Ask the server as the page does, and return the answer's status."""
    asked = urllib.request.Request(served.address + place, json.dumps(body).encode(), {
        "Content-Type": "application/json", "Origin": f"http://127.0.0.1:{served.port}"})
    with urllib.request.urlopen(asked, timeout=20) as answer:
        return int(answer.status)


def copied(folder: Path, name: str = "basement") -> Path:
    """Return a copy of a sample that may be changed."""
    job = folder / f"{name}.yaml"
    job.write_bytes((SAMPLES / f"{name}.yaml").read_bytes())
    return job


def press(hand: Hand, words: str) -> None:
    """Answer a notice."""
    next(each for each in hand.driver.find_elements(By.CSS_SELECTOR, "#notices button") if each.text == words).click()


def value(hand: Hand, path: str) -> str | None:
    """Return what a field shows."""
    return hand.driver.find_element(By.ID, f"f:{path}").get_attribute("value")


def tab_to(hand: Hand, goal: str, *, back: bool = False) -> None:
    """Press Tab until the cursor is where it should be, by id or selector."""
    selector = goal if goal.startswith("[") else f'[id="{goal}"]'
    for _ in range(150):
        if hand.driver.execute_script("return document.activeElement.matches(arguments[0])", selector):
            return
        if back:
            hand.chord(Keys.SHIFT, Keys.TAB)
        else:
            hand.keys(Keys.TAB)
    raise AssertionError(f"Tab never came to {goal}")
