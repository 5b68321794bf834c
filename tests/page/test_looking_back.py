"""Looking back in the page, with the same numbers as the command line."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

import drift
from drift.logbook.bulk import import_tables
from drift.page import Room, State, create_app
from drift.page.security import hosts_of
from drift.tables.taking import take_tables
from tests.page.visits import SetClock, Visitor, entry

SEASON = drift.shipped.folder("datasets/cold-hall-season")


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    book = tmp_path_factory.mktemp("season") / "season.logbook"
    with Room(book, SetClock()) as room:
        import_tables(room.book, take_tables(SEASON))
        yield Visitor.of(room)


def test_rehearsals_are_listed_the_latest_first(season: Visitor) -> None:
    text = season.get("/rehearsals").text
    names = drift.load(SEASON).names
    assert len(names) > 5
    assert [text.index(name) for name in names] == sorted(map(text.index, names), reverse=True)


@pytest.mark.usefixtures("in_berlin")
def test_the_list_of_rehearsals_says_in_which_zone_it_is(season: Visitor) -> None:
    text = season.get("/rehearsals").text
    assert "Dates and times are in CEST and CET." in text or "in CET and CEST." in text


@pytest.mark.slow
def test_one_rehearsal_shows_every_reading(season: Visitor) -> None:
    readings = drift.load(SEASON).readings
    first = drift.load(SEASON).names[0]
    mine = readings[readings["rehearsal"] == first]
    text = season.get("/rehearsals/1").text
    assert f"{len(mine)} readings" in text
    assert text.count("<tr><td><time") >= len(mine)


def test_chart_is_a_drawing_that_can_load_nothing(season: Visitor) -> None:
    answer = season.get("/rehearsals/1/chart.svg")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert answer.text.startswith("<svg")
    assert "http" not in answer.text.replace("http://www.w3.org/", "")


def test_folder_holds_what_was_logged(season: Visitor, tmp_path: Path) -> None:
    answer = season.get("/rehearsals/1/folder.zip")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        packed.extractall(tmp_path)
    there, here = drift.load(tmp_path / "rehearsal"), drift.load(SEASON)
    name = here.names[0]
    mine = here.readings[here.readings["rehearsal"] == name].reset_index(drop=True)
    assert there.readings.reset_index(drop=True).equals(mine)


def test_pseudonyms_hide_the_players(season: Visitor) -> None:
    answer = season.get("/rehearsals/1/folder.zip?players=pseudonyms")
    with zipfile.ZipFile(io.BytesIO(answer.content)) as packed:
        text = "".join(packed.read(name).decode() for name in packed.namelist())
    players = set(drift.load(SEASON).readings["player"])
    assert not [player for player in players if player in text]
    assert "player 1" in text


@pytest.mark.slow
def test_report_to_read_can_load_nothing(season: Visitor) -> None:
    answer = season.get("/rehearsals/1/report.html")
    assert answer.headers["content-security-policy"].startswith("default-src 'none'")
    assert "<script" not in answer.text
    assert drift.load(SEASON).names[0] in answer.text


@pytest.mark.slow
def test_report_to_print(season: Visitor) -> None:
    answer = season.get("/rehearsals/1/report.pdf")
    assert answer.content.startswith(b"%PDF-")


def test_too_few_readings_for_a_report_are_explained(visitor: Visitor) -> None:
    visitor.post("/entries", json=entry("F4 +1 F"))
    answer = visitor.get("/rehearsals/1/report.html")
    assert answer.status_code == 422
    assert "Traceback" not in answer.text


def test_empty_book_asks_for_a_rehearsal(book: Path, clock: SetClock) -> None:
    with Room(book, clock) as room:
        visitor = Visitor.of(room)
        assert "no rehearsal yet" in visitor.get("/rehearsals").text
        assert visitor.get("/").headers["location"] == "/begin"
        refused = visitor.post("/begin", data={"rehearsal": "hall", "instrument": "kazoo"})
        assert "kazoo" in refused.text
        assert room.desk is None
        begun = visitor.post("/begin", data={"rehearsal": "hall", "instrument": "double horn"})
        assert begun.headers["location"] == "/"
        assert room.rehearsal == "hall"


def test_charts_of_the_stand_before_anything_is_known(visitor: Visitor) -> None:
    for name in ("last-hour", "time", "temperature", "playing"):
        answer = visitor.get(f"/charts/{name}.svg?instrument=<script>")
        assert (answer.status_code, answer.text) == (204, "")  # the page leaves its place out
    assert visitor.get("/charts/other.svg").status_code == 404


def test_chart_is_drawn_once_for_everyone(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    state = State(room)
    visitor = Visitor(create_app(state, hosts=hosts_of(["127.0.0.1"], 8040)))
    drawn: list[str] = []

    def draw(name: str, *others: object) -> str:
        drawn.append(name)
        return "<svg/>"

    monkeypatch.setattr("drift.page.state.on_stand", draw)
    assert visitor.get("/charts/time.svg").text == ""
    state._work_out(room.clock.now())
    for _ in range(3):
        assert visitor.get("/charts/time.svg").text == "<svg/>"
    visitor.get("/charts/time.svg?instrument=Bb+trumpet")
    assert drawn == ["time", "time"]
    state._work_out(room.clock.now())
    visitor.get("/charts/time.svg")
    assert drawn == ["time", "time", "time"]


def test_slide_positions_are_listed(visitor: Visitor) -> None:
    assert visitor.post("/entries", json=entry("slide main 13.5")).json()["saved"]
    text = visitor.get("/rehearsals/1").text
    assert '<span data-in="mm">13.5</span><span data-in="inch">17/32</span></td>' in text


def test_a_rehearsal_is_shown_in_the_units_and_under_the_names_of_each_player(
    visitor: Visitor,
) -> None:
    for line in ("units F inch", "notes written", "temp 68", "play warm", "C5 -3 F"):
        assert visitor.post("/entries", json=entry(line)).json()["saved"]
    text = visitor.get("/rehearsals/1").text
    assert '<span data-in="C">20.0 °C</span><span data-in="F">68.0 °F</span>' in text
    assert '<span data-in="sounding">F4</span><span data-in="written">C5</span>' in text
    assert "Rowan&#34;: &#34;F inch&#34;" in text
    assert "Rowan&#34;: &#34;written&#34;" in text
    assert '<span data-in="F">68.0 °F</span>' in visitor.get("/rehearsals").text


def test_readings_that_were_not_used_are_counted_with_the_reason(
    room: Room, clock: SetClock, visitor: Visitor
) -> None:
    for line in ("temp 20", "play", "F4 -3 F"):
        assert visitor.post("/entries", json=entry(line)).json()["saved"]
    clock.pass_by(minutes=5)
    assert visitor.post("/entries", json=entry("F4 +1 F")).json()["saved"]
    reason = "not used, 1: too soon after the player began to play."
    assert f"Blank air and minutes: {reason}" in visitor.get("/rehearsals/1").text
    assert visitor.post("/entries", json=entry("end")).json()["saved"]
    room.begin("another", player="Rowan", instrument="double horn")
    assert "Blank" not in visitor.get("/rehearsals/2").text
