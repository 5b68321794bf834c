"""A rehearsal in a real browser, from its start to its report."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from drift.logbook.book import Logbook
from drift.page import Room, State
from drift.page.typed import Typed
from tests.page.visits import Program, SetClock, entry, served
from tests.running_log import PATIENCE_SECONDS

pytestmark = pytest.mark.timeout(300)

PLAYER = ("--player", "Rowan", "--instrument", "double horn")
ROOM = ("--rehearsal", "Thursday hall", *PLAYER)
STAGE = ("--thermometer", "simulated:?seed=3&celsius=18&every=0.2&name=stage")


class Watched:
    """A browser window of a size, and everything it complained about or asked elsewhere."""

    def __init__(self, browser: Any, address: str, width: int = 1280) -> None:
        self.address = address
        self.complaints: list[str] = []
        self.elsewhere: list[str] = []
        self.context = browser.new_context(
            viewport={"width": width, "height": 900}, accept_downloads=True
        )
        self.page = self.context.new_page()
        self.page.on("console", self._said)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.context.on("request", self._asked)

    def _said(self, message: Any) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    def _asked(self, request: Any) -> None:
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.elsewhere.append(request.url)

    def open(self, path: str = "/") -> Any:
        self.page.goto(self.address + path)
        if path == "/":
            self.sees("#line", "connected")
        return self.page

    def type(self, *words: str) -> None:
        """Type words by the keyboard alone, Enter after each."""
        for word in words:
            self.page.keyboard.type(word)
            self.page.keyboard.press("Enter")

    def sees(self, where: str, text: str, seconds: float = 15) -> None:
        from playwright.sync_api import expect

        expect(self.page.locator(where)).to_contain_text(text, timeout=seconds * 1000)

    def fits(self, width: int) -> None:
        """Check that nothing reaches beyond the right edge."""
        self.page.wait_for_load_state("load")
        assert self.page.evaluate("document.documentElement.scrollWidth") <= width

    def counts(self, where: str, number: int) -> None:
        from playwright.sync_api import expect

        expect(self.page.locator(where)).to_have_count(number, timeout=15_000)

    def entries(self) -> list[str]:
        found: list[str] = self.page.locator("tr[data-entry]").evaluate_all(
            "rows => rows.map(row => row.dataset.words)"
        )
        return found


@pytest.fixture
def window(chromium: Any) -> Iterator[Callable[..., Watched]]:
    opened: list[Watched] = []

    def make(address: str, width: int = 1280) -> Watched:
        opened.append(Watched(chromium, address, width))
        return opened[-1]

    yield make
    for one in opened:
        one.context.close()


@pytest.mark.slow
@pytest.mark.parametrize("width", [320, 1920])
def test_whole_rehearsal_by_keyboard(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path, width: int
) -> None:
    at = program(*STAGE).address
    stand = window(at, width)
    page = stand.open("/rehearsals")
    page.get_by_role("link", name="Begin one").click()

    page.get_by_label("Name").fill("Thursday hall")
    page.get_by_label("First player").fill("Rowan")
    page.get_by_label("Instrument").select_option("double horn")
    page.get_by_role("button", name="Begin").click()
    stand.sees("#line", "connected")
    stand.sees("[data-region=temperature]", "°C")
    stand.sees("[data-region=temperature]", "stage")

    stand.type("slide main 12", "slide F 8", "play warm")
    stand.sees("#answer", "saved play already warm")
    assert page.locator("#answer.refusal").count() == 0
    stand.type("F4", "-6")
    stand.sees("#answer", "Choose the side")  # asked once, known from then on
    page.get_by_label("F side").check()
    page.get_by_label("Cents").fill("-6")
    page.keyboard.press("Enter")
    stand.sees("#answer", "saved F4 −6.0 cents on the F side")
    page.get_by_label("B♭ side").check()
    page.get_by_label("Note").focus()
    stand.type("F4", "-4,5", "Bb3", "-3", "C4", "+2", "F3", "-1")
    stand.sees("#answer", "saved F3 −1.0")
    page.get_by_label("Flag as unusual").check()
    page.get_by_label("Note").focus()
    stand.type("F4", "+20")
    stand.sees("#answer", "flagged")
    stand.type("remark the heating is on")
    stand.sees("#answer", "saved remark")

    page.get_by_role("button", name=re.compile("^Undo: remark")).click()
    stand.sees("#answer", "saved undo of remark")
    stand.type("F4 +300")
    stand.sees("#answer", "not saved: 300 cents")
    assert page.locator("#answer.refusal").count() == 1
    stand.sees("[data-region=standing]", "Rowan, double horn")
    stand.sees("[data-region=playing]", "Playing since")

    page.get_by_text("End the rehearsal", exact=True).click()
    page.get_by_role("button", name="End the rehearsal now").click()
    stand.sees("[data-region=playing]", "The rehearsal ended")
    stand.fits(width)

    page.get_by_role("link", name="See this rehearsal").click()
    page.get_by_role("link", name="Thursday hall").click()
    stand.sees("main", "6 readings of Rowan")
    stand.fits(width)
    with page.expect_download() as packed:
        page.get_by_role("link", name="the rehearsal folder (zip)").click()
    assert packed.value.suggested_filename == "rehearsal-1.zip"
    page.get_by_role("link", name="Slides", exact=True).click()
    page.get_by_label("Going to (°C)").fill("33")
    page.keyboard.press("Enter")
    stand.sees("main", "cents sharp")
    stand.sees("ol.work", "Pull the main slide out")
    stand.fits(width)

    assert stand.complaints == []
    assert stand.elsewhere == []
    with Logbook(book) as kept:
        assert len(list(kept.rows("readings"))) == 6
        assert kept.interrupted() == []


@pytest.mark.slow
def test_forty_minutes_to_their_report(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.page
    page.clock.install()  # the browser's clock runs ahead; the entries say how long they waited
    stand.open()
    page.route("**/entries", lambda route: route.abort())
    stand.type("temp 18", "slide main 12", "play")
    page.get_by_label("B♭ side").check()
    page.get_by_label("Note").focus()
    for minute in range(0, 40, 5):
        page.clock.fast_forward(5 * 60_000)
        stand.type(f"temp {18 + minute / 20}")
        stand.type("F4", f"{-14 + minute / 3:.1f}", "Bb3", f"{-12 + minute / 3:.1f}")
    page.unroute("**/entries")
    page.clock.fast_forward(5_000)
    stand.sees("#answer", "saved B♭3", 30)
    stand.counts("#unsent li", 0)
    stand.type("end")
    stand.sees("[data-region=playing]", "The rehearsal ended")

    page.get_by_role("link", name="See this rehearsal").click()
    page.get_by_role("link", name="Thursday hall").click()
    stand.sees("main", "16 readings of Rowan")
    page.get_by_role("link", name="to read").click()
    stand.sees("body", "Thursday hall")
    stand.sees("body", "cents")
    assert page.locator("svg").count() >= 1
    printed = page.context.request.get(f"{stand.address}/rehearsals/1/report.pdf")
    assert printed.body().startswith(b"%PDF-")
    assert [text for text in stand.complaints if "ERR_FAILED" not in text] == []
    assert stand.elsewhere == []


@pytest.mark.slow
def test_two_browsers_see_each_other_and_keep_their_own_players(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    at = program(*ROOM).address
    ann, ben = window(at), window(at)
    for stand, player in ((ann, "Ann"), (ben, "Ben")):
        page = stand.open()
        page.get_by_label("Player").fill(player)
        page.get_by_label("Player").press("Tab")
        page.get_by_label("Instrument").select_option("double horn")
        page.get_by_label("B♭ side").check()
        page.get_by_label("Note").focus()
    ann.type("F4", "+1")
    ben.sees("[data-region=entries]", "F4 +1.0 cents, B♭ side")
    ben.type("F4", "+2")
    ann.sees("[data-region=entries]", "F4 +2.0")
    ann.sees("#undo", "Undo: F4 +1.0")  # not Ben's, although it is newer
    ann.page.get_by_role("button", name=re.compile("^Undo: F4")).click()
    ann.sees("#answer", "saved undo of F4 +1.0 cents")
    ben.sees("[data-region=entries]", "F4 +2.0")
    ben.counts("tr[data-entry]", 1)
    with Logbook(book) as kept:
        assert [(r["player"], r["cents"]) for r in kept.rows("readings")] == [("Ben", 2.0)]
    assert ann.complaints + ben.complaints + ann.elsewhere + ben.elsewhere == []


@pytest.mark.slow
def test_entries_typed_while_the_server_is_away_are_sent_once(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    server = program(*ROOM)
    stand = window(server.address)
    page = stand.open()
    page.get_by_label("F side", exact=True).check()
    page.get_by_label("Note").focus()
    stand.type("F4", "+1")
    stand.sees("#answer", "saved F4 +1.0")
    server.kill()
    stand.sees("#line", "the program does not answer")
    stand.type("F4", "+2", "C4", "-3")
    stand.sees("#unsent", "Not saved yet")
    stand.sees("#unsent", "C4 -3 F (Rowan, typed")
    stand.sees("#answer", "saved F4 +1.0")  # nothing newer is confirmed
    assert stand.entries() == ["F4 +1.0 cents, F side"]
    time.sleep(3)
    server.start()
    stand.sees("#line", "connected", 30)
    stand.sees("[data-region=entries]", "C4 −3.0")
    stand.counts("#unsent li", 0)
    assert stand.entries()[::-1] == [
        "F4 +1.0 cents, F side",
        "F4 +2.0 cents, F side",
        "C4 −3.0 cents, F side",
    ]
    with Logbook(book) as kept:
        rows = list(kept.rows("readings"))
        back = list(kept.rows("events"))[-1]
    assert [row["cents"] for row in rows] == [1.0, 2.0, -3.0]
    assert back["event"] == "start"
    assert rows[-1]["time"] < back["time"], "it has the time it was typed, not that it was sent"
    assert stand.elsewhere == []


@pytest.mark.slow
def test_entries_survive_a_page_that_is_closed_while_the_server_is_away(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    server = program(*ROOM)
    stand = window(server.address)
    stand.open()
    server.kill()
    stand.sees("#line", "the program does not answer")
    stand.type("F4 +2 F")
    stand.sees("#unsent", "F4 +2 F")
    stand.page.close()
    server.start()
    page = stand.context.new_page()
    page.goto(server.address)
    page.wait_for_selector("tr[data-entry]")
    with Logbook(book) as kept:
        assert [row["cents"] for row in kept.rows("readings")] == [2.0]


@pytest.mark.slow
def test_answer_that_was_lost_on_the_way_makes_no_double(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    lost: list[int] = []

    def lose_the_first_two(route: Any) -> None:
        if len(lost) < 2:
            lost.append(route.fetch().status)  # the server keeps it, the browser never hears
            route.abort()
        else:
            route.continue_()

    page.route("**/entries", lose_the_first_two)
    stand.type("F4 +2 F")
    stand.sees("#answer", "saved F4 +2.0", 20)
    assert lost == [200, 200]
    with Logbook(book) as kept:
        assert [row["cents"] for row in kept.rows("readings")] == [2.0]


@pytest.mark.slow
def test_what_is_typed_while_the_program_is_busy_keeps_its_order(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    held: list[Any] = []

    def hold_the_first(route: Any) -> None:
        if held:
            route.continue_()
        else:
            held.append(route)

    page.route("**/entries", hold_the_first)
    stand.type("slide main 14")
    page.wait_for_timeout(1500)
    stand.type("F4 +2 F")
    page.wait_for_timeout(1500)
    stand.type("undo")
    page.wait_for_timeout(500)
    held[0].continue_()
    stand.sees("#answer", "saved undo of F4 +2.0", 20)
    with Logbook(book) as kept:
        (slide,) = [row["time"] for row in kept.rows("events") if row["slide"]]
        (reading,) = [row["time"] for row in kept.rows("readings", undone=True)]
    assert slide < reading


@pytest.mark.slow
def test_a_side_is_asked_for_until_it_is_given(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    held: list[Any] = []
    page.route("**/entries", lambda route: held.append(route))
    stand.type("F4 +2 F")
    page.wait_for_timeout(100)
    stand.type("Bb3", "2")
    stand.sees("#answer", "Choose the side")
    with page.expect_response("**/entries"):
        held[0].continue_()
    page.wait_for_timeout(300)
    stand.sees("#answer", "Choose the side")


@pytest.mark.slow
def test_entry_at_which_the_program_fails_is_not_sent_for_ever(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    failed: list[float] = []

    def fail_at_one(route: Any) -> None:
        if "+2" in route.request.post_data:
            failed.append(time.monotonic())
            route.fulfill(status=500, body="Internal Server Error")
        else:
            route.continue_()

    page.route("**/entries", fail_at_one)
    stand.type("F4 +2 F")
    stand.sees("#unsent", "The program failed at", 20)
    stand.type("F4 +3 F")
    stand.sees("#answer", "saved F4 +3.0")
    page.wait_for_timeout(5000)  # more than two rounds of sending again
    assert len(failed) == 5
    stand.counts("#unsent li", 1)
    with Logbook(book) as kept:
        assert [row["cents"] for row in kept.rows("readings")] == [3.0]
    stand.complaints.clear()  # the browser's own words about the status 500


@pytest.mark.slow
def test_what_is_saved_waits_no_longer_while_the_next_is_on_its_way(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    page.route("**/entries", lambda route: route.abort())
    stand.type("F4 +1 F", "slide F 12")
    stand.counts("#unsent li", 2)

    def first_alone(route: Any) -> None:
        if "F4 +1" in route.request.post_data:
            route.continue_()  # the other is never answered

    page.unroute("**/entries")
    page.route("**/entries", first_alone)
    stand.sees("#answer", "saved F4 +1.0")
    stand.counts("#unsent li", 1)
    stand.sees("#unsent", "slide F 12")
    stand.complaints.clear()  # the browser's own words about what was aborted


@pytest.mark.slow
def test_a_question_leaves_the_field_and_a_refusal_goes_back(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    with page.expect_response("**/entries") as answered:
        stand.type("now")
    answered.value.finished()
    page.wait_for_timeout(200)  # for the answer to be shown
    assert page.get_by_label("Note").input_value() == ""
    stand.type("F4 +900 F")
    stand.sees("#answer", "not saved")
    assert page.get_by_label("Note").input_value() == "F4 +900 F"


@pytest.mark.slow
@pytest.mark.parametrize("width", [390, 1280])
def test_an_answer_that_is_being_worked_out_is_said_and_read_aloud(
    room: Room,
    clock: SetClock,
    window: Callable[..., Watched],
    monkeypatch: pytest.MonkeyPatch,
    width: int,
) -> None:
    for line in ("temp 20", "play warm", "F4 +6 F"):
        room.enter(Typed.of(entry(line)))
    clock.pass_by(minutes=5)
    go_on, work_out = threading.Event(), State._work_out
    go_on.set()

    def waits(state: State, now: datetime) -> None:
        assert go_on.wait(PATIENCE_SECONDS)
        work_out(state, now)

    monkeypatch.setattr(State, "_work_out", waits)
    with served(room) as address:
        stand = window(address, width)
        page = stand.open()
        stand.sees("#moves", "Not sure yet")
        top = page.get_by_label("Note").bounding_box()["y"]
        go_on.clear()
        page.get_by_label("Note").focus()
        stand.type("F4 +7 F")
        for where in (".chosen .working", "#moves"):
            stand.sees(where, "Working it out …")
        stand.fits(width)
        assert page.get_by_label("Note").bounding_box()["y"] == top  # under a finger nothing moves
        go_on.set()
        stand.sees(".chosen .answer", "Expected from 2 readings of tonight")
        stand.counts(".working", 0)
        assert "Working" not in page.locator("#moves").inner_text()
        assert not stand.complaints


@pytest.mark.slow
def test_help_takes_a_refusal_away_and_fits_a_telephone(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    stand = window(program(*ROOM).address, 320)
    page = stand.open()
    stand.type("F4 +900 F")
    stand.sees("#answer", "not saved")
    page.get_by_label("Note").fill("")
    stand.type("help")
    stand.sees("#help[open] dl", "at 20:10 slide main 14")
    assert page.locator("#answer").inner_text() == ""
    assert page.locator("#answer.refusal").count() == 0
    stand.fits(320)
    wide = "e => e.scrollWidth - e.clientWidth"
    assert page.locator("#help dl").evaluate(wide) <= 0


@pytest.mark.slow
def test_each_browser_shows_notes_as_its_player_types_them(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    at = program(*ROOM).address
    rowan, ben = window(at), window(at)
    rowan.open()
    ben.open()
    ben.page.get_by_label("Player", exact=True).fill("Ben")
    ben.page.get_by_label("Player", exact=True).press("Tab")
    ben.page.get_by_label("Instrument").select_option("double horn")
    ben.page.get_by_label("Note").focus()
    ben.type("notes written")
    ben.sees("#answer", "saved notes as the player reads them, for Ben")
    for stand, words, note in ((ben, "Written notes", "C5"), (rowan, "Sounding notes", "F4")):
        stand.page.wait_for_function(
            "words => document.getElementById('note-hint').innerText.includes(words)", arg=words
        )
        options = "list => [...list.options].map(one => one.value)"
        assert note in stand.page.locator("#notes").evaluate(options)
    ben.type("C5 +6 F")
    ben.sees("#answer", "saved C5, sounding F4 +6.0 cents")
    with Logbook(book) as kept:
        assert [row["note"] for row in kept.rows("readings")] == ["F4"]


@pytest.mark.slow
def test_double_tap_undoes_one_entry(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    stand.type("F4 +1 F", "F4 +2 F", "F4 +3 F")
    stand.sees("#undo", "F4 +3.0")
    page.locator("#undo").dblclick(delay=20)
    stand.sees("#undo", "F4 +2.0")
    page.keyboard.press("Enter")  # meant for the note field, which has the focus again
    page.wait_for_timeout(500)
    with Logbook(book) as kept:
        assert [row["cents"] for row in kept.rows("readings")] == [1.0, 2.0]
    assert page.evaluate("document.activeElement.id") == "note"


@pytest.mark.slow
def test_undo_offers_what_was_entered_last_whenever_it_happened(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    stand.type("F4 +1 F", "F4 +2 F")
    stand.sees("#undo", "F4 +2.0")
    begun = page.locator("tr[data-entry] time").last.inner_text()
    stand.type(f"at {begun} slide main 14")
    stand.sees("#answer", f"saved slide main 14 mm at {begun}")
    stand.sees("#undo", "Undo: main slide at 14 mm")
    page.locator("#undo").click()
    stand.sees("#answer", "saved undo of slide main 14 mm")
    stand.sees("#undo", "F4 +2.0")


@pytest.mark.slow
def test_second_tap_that_a_busy_machine_handles_late_undoes_nothing(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    stand.type("F4 +1 F", "F4 +2 F", "F4 +3 F")
    stand.sees("#undo", "F4 +3.0")
    page.locator("#undo").click()
    stand.sees("#undo", "F4 +2.0")
    page.wait_for_timeout(1100)
    page.locator("#undo").dispatch_event("click", {"detail": 2})
    page.wait_for_timeout(300)
    with Logbook(book) as kept:
        assert [row["cents"] for row in kept.rows("readings")] == [1.0, 2.0]


@pytest.mark.slow
def test_script_in_a_name_runs_nowhere(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    page.get_by_label("Player").fill("<img src=x onerror=\"document.title='ran'\">")
    page.get_by_label("Player").press("Tab")
    page.get_by_label("Instrument").select_option("double horn")
    page.get_by_label("Note").focus()
    stand.type("slide main 12", "F4 +1 F", "remark <script>document.title='ran'</script>")
    stand.sees("[data-region=standing]", "<img src=x")
    stand.sees("[data-region=entries]", "<script>")
    for path in ("/", "/rehearsals/1", "/slides"):
        page.goto(stand.address + path)
        page.wait_for_load_state("networkidle" if path != "/" else "load")
        assert page.title() != "ran"
    assert page.locator("img[src=x]").count() == 0
    assert stand.complaints == []


@pytest.mark.slow
def test_tablet_is_let_in_by_an_address_that_works_once(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    server = program(*ROOM, "--open-to-network")
    assert server.process is not None
    assert server.process.stdout is not None
    printed = next(line for line in server.process.stdout if "for the next device" in line)
    secret = printed.rsplit("secret=", 1)[1].strip()
    tablet, other = window(server.address), window(server.address)
    assert other.page.goto(server.address).status == 403
    tablet.page.goto(f"{server.address}/open?secret={secret}")
    tablet.page.get_by_role("button", name="Open it here").click()
    tablet.sees("#line", "connected")
    assert "secret" not in tablet.page.url
    assert tablet.page.evaluate("document.cookie") == "", "no script may read the cookie"
    other.page.goto(f"{server.address}/open?secret={secret}")
    other.page.get_by_role("button", name="Open it here").click()
    other.sees("main", "has already been used")
    server.kill()
    server.start()
    tablet.sees("#line", "connected", 30)
    tablet.type("F4 +1 F")
    tablet.sees("#answer", "saved F4 +1.0")
    assert [text for text in tablet.complaints if "ERR_" not in text] == []


def contrast(one: tuple[float, ...], other: tuple[float, ...]) -> float:
    """Return the contrast ratio of two colours (WCAG 2.1, definition of contrast ratio)."""

    def luminance(colour: tuple[float, ...]) -> float:
        linear = [
            c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4
            for c in (value / 255 for value in colour[:3])
        ]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


TEXTS = """() => [...document.querySelectorAll("body *")].filter(e =>
  [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()) && e.checkVisibility()
  && !e.closest(".unseen, .skip, option, script, :disabled")).map(e => {
    let behind = e;
    while (behind && getComputedStyle(behind).backgroundColor === "rgba(0, 0, 0, 0)")
      behind = behind.parentElement;
    const ground = getComputedStyle(behind || document.documentElement).backgroundColor;
    return [e.textContent.trim().slice(0, 40), getComputedStyle(e).color, ground];
  })"""


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_texts_are_readable_and_fields_are_named(
    program: Callable[..., Program], window: Callable[..., Watched], scheme: str
) -> None:
    stand = window(program(*ROOM, *STAGE).address)
    page = stand.page
    page.emulate_media(color_scheme=scheme)
    stand.open()
    stand.type("slide main 12", "F4 +300 F", "F4 +1 F !")
    stand.sees("#answer", "flagged")
    for path in (None, "/rehearsals", "/rehearsals/1", "/slides?instrument=double+horn&celsius=33"):
        if path:
            stand.open(path)
            page.wait_for_load_state("load")
        texts = page.evaluate(TEXTS)
        assert len(texts) > 15
        for text, ink, ground in texts:
            colours = [tuple(map(float, re.findall(r"[\d.]+", c))) for c in (ink, ground)]
            # WCAG 2.1, success criterion 1.4.3 (AA): at least 4.5 to 1.
            assert contrast(*colours) >= 4.5, (path, text, ink, ground)
        unnamed = page.evaluate(
            "() => [...document.querySelectorAll('input:not([type=hidden]), select')]"
            ".filter(e => !e.labels.length && !e.ariaLabel).map(e => e.outerHTML)"
        )
        assert unnamed == []
        pictures = page.evaluate("() => [...document.images].map(e => e.alt)")
        assert all(pictures)
        headings = page.evaluate("() => document.querySelectorAll('h1').length")
        assert headings == 1


@pytest.mark.slow
def test_everything_can_be_reached_by_the_tab_key(
    program: Callable[..., Program], window: Callable[..., Watched]
) -> None:
    stand = window(program(*ROOM).address)
    page = stand.open()
    stand.type("F4 +1 F")
    stand.sees("#answer", "saved")
    page.evaluate("document.activeElement.blur()")
    reached = set()
    for _ in range(60):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                "(e => e.id || e.dataset.line || e.dataset.undo || e.textContent.trim())"
                "(document.activeElement)"
            )
        )
    wanted = {
        "note", "cents", "turn", "otherwise", "undo", "player", "instrument", "play", "rest",
        "which", "millimetres", "degrees", "words", "Save the reading", "Past rehearsals", "Slides",
    }  # fmt: skip
    assert wanted <= reached


@pytest.mark.slow
def test_tuning_step_by_step_by_keyboard(
    program: Callable[..., Program], window: Callable[..., Watched], book: Path
) -> None:
    """Every step is answered by keys alone; another browser sees the steps of its own player."""
    at = program("--rehearsal", "hall", "--player", "Rowan", "--instrument", "Bb trumpet").address
    stand, other = window(at, 320), window(at)
    page = stand.open()
    other.open()
    page.get_by_role("button", name="Begin to tune").click()
    stand.sees("[data-region=tuning]", "How warm is the room?")
    other.sees("[data-region=tuning]", "How warm is the room?")
    stand.fits(320)

    page.wait_for_function("document.activeElement.id === 'tune-answer'")
    stand.type("21")
    stand.sees("[data-region=tuning] .step", "Where is the main slide? Millimetres from fully in.")
    page.get_by_role("button", name="Undo the last answer").click()
    stand.sees("[data-region=tuning] .step", "How warm is the room?")
    stand.type("21")  # the keys went back to the step
    stand.sees("[data-region=tuning] .step", "Where is the main slide? Millimetres from fully in.")
    stand.type("deep")
    stand.sees("#tune-reply", "not saved: 'deep' is not a length")
    page.get_by_label("Where it is").fill("10")
    page.keyboard.press("Enter")
    stand.sees("[data-region=tuning] .step", "Warm enough?")
    page.keyboard.press("Enter")
    stand.sees("[data-region=tuning] .step", "Long B♭4")
    asked = page.locator("[data-region=tuning] .step")
    for _ in range(6):
        if "main slide" in asked.inner_text():
            break
        before = asked.inner_text()
        stand.type("18")
        page.wait_for_function(
            "before => document.querySelector('[data-region=tuning] .step').innerText !== before",
            arg=before,
        )
    stand.sees("[data-region=tuning] .step", "Pull the main slide out")
    page.keyboard.press("Enter")
    stand.sees("[data-region=entries]", "main slide at")
    page.get_by_role("button", name="Stop tuning").click()
    stand.sees("[data-region=tuning]", "Stopped: what was read and set so far is saved.")
    page.get_by_role("button", name="Begin to tune").wait_for()
    assert page.get_by_label("Valves too").is_visible()
    page.get_by_label("Instrument").select_option("flute")
    page.get_by_label("Valves too").wait_for(state="hidden")
    with Logbook(book) as opened:
        assert next(row["position_mm"] for row in opened.rows("events") if row["slide"]) == 10.0
        assert {row["cents"] for row in opened.rows("readings")} == {18.0}
        assert [row["celsius"] for row in opened.rows("temperatures")] == [21.0]
    assert stand.complaints == []
