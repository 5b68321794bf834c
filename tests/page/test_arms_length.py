"""What is seen from an arm's length away: the answer first, then the entry, nothing twice."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from drift.page import Room
from drift.page.typed import Typed
from tests.page.visits import SetClock, entry, served
from tests.running_log import wait_for

pytestmark = pytest.mark.timeout(300)


def enter(room: Room, line: str, **seat: str) -> None:
    assert room.enter(Typed.of(entry(line, **seat))).answer.saved, line


@pytest.fixture
def evening(book: Path, clock: SetClock) -> Iterator[Room]:
    """Half an hour of a horn and a trumpet; the horn is sharp."""
    trumpet = {"player": "Kim", "instrument": "Bb trumpet"}
    with Room(book, clock) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        for line in ("temp 21", "slide main 12", "slide F 8", "play warm"):
            enter(room, line)
        for minute in range(6):
            clock.pass_by(minutes=4)
            enter(room, f"F4 {24 + minute % 2:+d} Bb")
            enter(room, f"Bb4 {minute % 2:+d}", **trumpet)
        enter(room, "temp 21")
        yield room


@pytest.fixture
def opened(chromium: Any, evening: Room) -> Iterator[Callable[..., Any]]:
    with served(evening) as address:
        pages: list[Any] = []

        def open_at(width: int, height: int, path: str = "/") -> Any:
            context = chromium.new_context(viewport={"width": width, "height": height})
            pages.append(context.new_page())
            pages[-1].goto(address + path)
            if path == "/":
                pages[-1].wait_for_selector(".chosen .large")
            return pages[-1]

        yield open_at
        for page in pages:
            page.context.close()


PLACES = """() => Object.fromEntries(
  [".chosen .large", "#note", ".air", ".saved", ".charts"].map(name =>
    [name, document.querySelector(name).getBoundingClientRect().toJSON()]))"""


SCREENS = [
    (320, 568),
    pytest.param((768, 1024), marks=pytest.mark.slow),
    pytest.param((1920, 1080), marks=pytest.mark.slow),
]


@pytest.mark.slow
@pytest.mark.parametrize("size", SCREENS)
def test_the_answer_fills_the_first_screen_then_the_entry_then_the_air(
    opened: Callable[..., Any], size: tuple[int, int]
) -> None:
    width, height = size
    page = opened(width, height)
    page.get_by_role("button", name="Rowan, double horn").click()
    box = page.evaluate(PLACES)
    answer, note, air = box[".chosen .large"], box["#note"], box[".air"]
    assert "main slide out" in page.locator(".chosen .large").inner_text()
    assert 0 <= answer["top"] < answer["bottom"] <= height
    assert answer["width"] >= 0.85 * width
    letters = page.evaluate(
        "parseFloat(getComputedStyle(document.querySelector('.chosen .large')).fontSize)"
    )
    assert letters >= max(32, width / 20)
    assert answer["bottom"] < note["top"] < air["top"] < box[".charts"]["top"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    if width >= 768:
        assert note["bottom"] <= height, "the entry is on the first screen as well"


@pytest.mark.slow
@pytest.mark.parametrize("size", [(390, 844), (1280, 800)])
def test_with_a_line_for_each_side_the_whole_entry_is_on_the_first_screen(
    chromium: Any, book: Path, clock: SetClock, size: tuple[int, int]
) -> None:
    with Room(book, clock) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        for line in ("temp 21", "slide main 12", "slide F 8", "play warm"):
            enter(room, line)
        for line in ("F4 -7 Bb", "Bb3 -5 Bb", "F3 -8 Bb", "C4 +5 F", "F4 +5 F"):
            clock.pass_by(minutes=2)
            enter(room, line)
        with served(room) as address:
            page = chromium.new_context(viewport={"width": size[0], "height": size[1]}).new_page()
            page.goto(address)
            page.wait_for_selector(".chosen .large + .large")
            told = page.locator(".chosen .large").all_inner_texts()
            assert [line[:7] for line in told] == ["B♭ side", "F side "]
            for part in ("#note", "#sides", "#reading button.main"):
                box = page.locator(part).bounding_box()
                assert box["y"] + box["height"] <= size[1], part
            page.context.close()


@pytest.mark.slow
@pytest.mark.parametrize("size", [(1366, 768), (1280, 720)])
def test_with_two_moves_the_whole_entry_is_on_the_first_screen_of_a_laptop(
    chromium: Any, book: Path, clock: SetClock, size: tuple[int, int]
) -> None:
    with Room(book, clock) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        for line in ("temp 21", "slide main 12", "slide F 8", "play warm"):
            enter(room, line)
        for line in ("F4 -12 Bb", "Bb3 -13 Bb", "F3 -12 Bb", "C4 -12 F", "F4 -11 F"):
            clock.pass_by(minutes=2)
            enter(room, line)
        with served(room) as address:
            page = chromium.new_context(viewport={"width": size[0], "height": size[1]}).new_page()
            page.goto(address)
            page.wait_for_selector(".chosen .large")
            assert page.locator(".chosen .large").inner_text().count("Push the") == 2
            box = page.locator("#reading button.main").bounding_box()
            assert box["y"] + box["height"] <= size[1]
            page.context.close()


@pytest.mark.slow
def test_with_two_players_the_whole_entry_is_on_the_first_screen_of_a_telephone(
    chromium: Any, book: Path, clock: SetClock
) -> None:
    trumpet = {"player": "Kim", "instrument": "Bb trumpet"}
    with Room(book, clock) as room:
        room.begin("hall", player="Rowan", instrument="double horn")
        for line in ("temp 21", "slide main 12", "slide F 8", "play warm"):
            enter(room, line)
        for place, line in enumerate(("F4 -7 Bb", "Bb3 -5 Bb", "F3 -8 Bb", "C4 +5 F", "F4 +5 F")):
            clock.pass_by(minutes=2)
            enter(room, line)
            enter(room, f"Bb4 {place:+d}", **trumpet)
        with served(room) as address:
            page = chromium.new_context(viewport={"width": 390, "height": 844}).new_page()
            page.goto(address)
            page.wait_for_selector(".chosen .large")
            for who in ("Kim, B♭ trumpet", "Rowan, double horn"):
                if page.locator(".chosen h3").inner_text() != who:
                    page.get_by_role("button", name=who).click()
                assert page.locator(".chosen h3").inner_text() == who
                for part in (".chosen .large", "#note", "#sides", "#reading button.main"):
                    box = page.locator(part).last.bounding_box()
                    assert box["y"] + box["height"] <= 844, (who, part)
            page.context.close()


@pytest.mark.slow
def test_one_player_is_large_and_the_others_take_a_line_each(opened: Callable[..., Any]) -> None:
    page = opened(1280, 900)
    assert page.locator("article").count() == 2
    assert page.locator("article .large:visible").count() == 1
    page.get_by_role("button", name="Kim, B♭ trumpet").click()
    assert page.locator(".chosen h3").inner_text() == "Kim, B♭ trumpet"
    assert page.locator("article .large:visible").count() == 1
    page.get_by_label("Player").fill("Rowan")  # who enters is another matter
    assert page.locator(".chosen").get_attribute("data-player") == "Kim"


@pytest.mark.slow
def test_now_help_and_target_do_what_they_do_in_the_terminal(opened: Callable[..., Any]) -> None:
    from playwright.sync_api import expect

    page = opened(1280, 900)
    page.keyboard.type("now")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("Rowan, double horn: 21.0 °C")
    expect(page.locator("#answer")).to_contain_text("main slide out")
    page.keyboard.type("target 23:59 4")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("let the tuner show")
    page.keyboard.type("help")
    page.keyboard.press("Enter")
    expect(page.locator("#help dl")).to_be_in_viewport()
    expect(page.locator("#help dl")).to_contain_text("target 18:30 4")


@pytest.mark.slow
def test_a_whole_line_is_taken_beside_a_reading_that_is_not_finished(
    opened: Callable[..., Any],
) -> None:
    from playwright.sync_api import expect

    page = opened(1280, 900)
    page.keyboard.type("Bb3")
    page.keyboard.press("Enter")
    page.keyboard.type("5")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("Choose the side")
    page.get_by_label("Note", exact=True).fill("slide main 14")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("saved slide main 14 mm")
    for line in ("F4 -6", "F4-6 !", "-6"):  # a whole line is asked for its side as well
        page.get_by_label("Note", exact=True).fill("help")
        page.keyboard.press("Enter")
        expect(page.locator("#answer")).to_be_empty()
        page.get_by_label("Note", exact=True).fill(line)
        page.keyboard.press("Enter")
        expect(page.locator("#answer")).to_contain_text("Choose the side")
    page.get_by_label("Note", exact=True).fill("F4 -6 Bb")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("saved F4 −6.0 cents on the B♭ side")
    page.get_by_label("Note", exact=True).fill("F")
    page.keyboard.press("Enter")
    expect(page.locator("#answer")).to_contain_text("is on the B♭ side already")


@pytest.mark.slow
def test_slides_open_with_the_player_of_this_browser_and_the_logged_positions(
    opened: Callable[..., Any],
) -> None:
    page = opened(1280, 900)
    page.get_by_role("link", name="Past rehearsals").click()
    page.get_by_role("link", name="Slides").click()
    assert page.get_by_label("Player").input_value() == "Rowan"
    assert page.get_by_label("Position of the main slide").input_value() == "12"
    page.get_by_label("Position of the main slide").fill("")
    page.get_by_label("Going to").fill("30")
    page.keyboard.press("Enter")
    page.wait_for_selector("ol.work")
    assert page.get_by_label("Position of the main slide").input_value() == ""
    work = page.locator("ol.work").inner_text()
    assert re.search(r"main slide out [\d.]+\smm \(", work), "an empty field is no position"


@pytest.mark.slow
@pytest.mark.parametrize("width", [320, 390])
def test_the_table_of_positions_is_not_clipped_on_a_telephone(
    opened: Callable[..., Any], width: int
) -> None:
    page = opened(width, 844, "/slides?instrument=double+horn&player=Rowan&celsius=5")
    region = page.get_by_role("region", name="Positions at each temperature", exact=True)
    assert region.evaluate("e => e.scrollWidth <= e.clientWidth")
    cold = region.locator("tbody tr").first
    assert cold.locator("[data-is='Remaining (cents)']").inner_text().startswith("F −")
    assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.slow
def test_pictures_are_redrawn_without_a_flash(opened: Callable[..., Any]) -> None:
    """While a new picture is under way, the old one stays."""
    page = opened(1280, 900)
    page.wait_for_selector("img[data-chart=last-hour]:not([hidden])")
    page.evaluate("""() => {
      window.gone = 0;
      const look = () => {
        const picture = document.querySelector("img[data-chart=last-hour]");
        const there = picture && !picture.hidden && picture.complete && picture.naturalWidth;
        if (!there) window.gone += 1;
        requestAnimationFrame(look);
      };
      look();
    }""")
    before = page.locator("img[data-chart=last-hour]").get_attribute("src")
    page.evaluate("drawCharts(991)")
    page.wait_for_selector("img[data-chart=last-hour][src*='version=991']")
    assert before != page.locator("img[data-chart=last-hour]").get_attribute("src")
    page.wait_for_timeout(200)
    assert page.evaluate("window.gone") == 0


@pytest.mark.slow
def test_each_browser_shows_the_units_of_its_player(room: Room, chromium: Any) -> None:
    room.begin("hall", player="Rowan", instrument="Bb trumpet")
    enter(room, "temp 20")
    with served(room) as address:
        pages = []
        for player in ("Kim", "Rowan"):
            page = chromium.new_context(viewport={"width": 768, "height": 1024}).new_page()
            page.goto(address)
            page.get_by_label("Player", exact=True).fill(player)
            page.keyboard.press("Tab")
            pages.append(page)
        kim, rowan = pages
        kim.get_by_label("Note", exact=True).fill("units F inch")
        kim.keyboard.press("Enter")
        shows(kim, "[data-region=temperature] .figure", "68.0 °F")
        shows(kim, "label[for=playing-degrees]", "in air of (°F)")
        shows(rowan, "[data-region=temperature] .figure", "20.0 °C")
        kim.get_by_label("Player", exact=True).fill("Rowan")  # another sits down here
        kim.keyboard.press("Tab")
        shows(kim, "[data-region=temperature] .figure", "20.0 °C")


def shows(page: Any, where: str, text: str) -> None:
    from playwright.sync_api import expect

    expect(page.locator(where)).to_have_text(text, use_inner_text=True)


@pytest.mark.slow
def test_a_telephone_gets_charts_of_its_own_width(opened: Callable[..., Any]) -> None:
    page = opened(320, 568)
    picture = "document.querySelector('img[data-chart=time]')"
    with page.expect_request(re.compile(r"charts/time\.svg\?.*narrow=1")):
        page.reload()
    wait_for(lambda: "narrow=1" in page.evaluate(f"{picture}.src"), "a chart for a telephone")
    drawn = page.evaluate(f"fetch({picture}.src).then(answer => answer.text())")
    wide = float(re.search(r'viewBox="0 0 ([\d.]+) ', drawn)[1]) * 4 / 3  # points to pixels
    assert 280 <= wide <= 340, "letters as large as elsewhere"
