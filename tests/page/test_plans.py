"""The plan of an outdoor performance on the page."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from drift.cli import main
from drift.page import Room, State, create_app
from drift.page.security import hosts_of
from drift.shipped import folder
from tests.page.visits import Program, Visitor

DEMO = folder("demo")
FILES = [f"--{name}={DEMO / name}.csv" for name in ("forecast", "schedule", "roster")]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of the demonstration band, which has two pitches."""
    out = tmp_path_factory.mktemp("evening") / "tonight"
    assert main(["gig", "acoustics", *FILES, "--draws", "100", "--out", str(out)]) == 0
    return out


def visitor_with(room: Room, plan: Path | None) -> Visitor:
    room.plan = plan
    return Visitor(create_app(State(room), hosts=hosts_of(["127.0.0.1"], 8040)))


@pytest.mark.slow
def test_two_pitches_are_two_plans_to_choose_from(room: Room, written: Path) -> None:
    visitor = visitor_with(room, written)
    asked = visitor.ask("GET", "/plan")
    assert asked.status_code == 200
    assert asked.text.count('<a href="/plan/') == 2
    shown = visitor.ask("GET", "/plan/2")
    assert "Let the tuner show" in shown.text
    assert '<a href="/slides">Slides</a>' in shown.text
    assert "script-src 'sha256-" in shown.headers["Content-Security-Policy"]


def test_one_pitch_is_shown_at_once_and_as_it_is_written_now(room: Room, tmp_path: Path) -> None:
    (tmp_path / "plan.html").write_text("<title>first</title>", encoding="utf-8")
    visitor = visitor_with(room, tmp_path)
    asked = visitor.ask("GET", "/plan")
    assert (asked.status_code, asked.headers["Location"]) == (303, "/plan/1")
    (tmp_path / "plan.html").write_text("<title>second</title>", encoding="utf-8")
    assert "second" in visitor.ask("GET", "/plan/1").text


@pytest.mark.parametrize("number", ["0", "3", "x", "00000000001", "²"])
def test_no_other_plan_is_there(room: Room, written: Path, number: str) -> None:
    assert visitor_with(room, written).ask("GET", f"/plan/{number}").status_code == 404


def test_without_a_plan_the_page_says_how_to_write_one(room: Room, tmp_path: Path) -> None:
    assert "drift page LOGBOOK --plan tonight" in visitor_with(room, None).ask("GET", "/plan").text
    empty = visitor_with(room, tmp_path).ask("GET", "/plan").text
    assert "No plan was found in" in empty


@pytest.mark.slow
def test_a_telephone_shows_one_section_at_a_time(
    program: Callable[..., Program], chromium: Any, written: Path
) -> None:
    from playwright.sync_api import expect

    at = program("--plan", str(written), "--rehearsal", "tonight").address
    context = chromium.new_context(viewport={"width": 360, "height": 780})
    page, complaints = context.new_page(), []
    page.on("console", lambda said: complaints.append(said.text))
    page.goto(at + "/plan")
    page.get_by_role("main").get_by_role("link").first.click()
    expect(page.locator(".card:visible")).to_have_count(1)
    page.get_by_label("Section").select_option(label="Trumpets")
    assert "trumpet" in page.locator(".card:visible").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    assert complaints == []
    context.close()
