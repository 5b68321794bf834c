"""drift slides, from physics and from rehearsals."""

import json

import pandas as pd
import pytest
from pypdf import PdfReader

import drift as package
from tests.spoilt_seasons import FAULTS, clean

SEASON = package.shipped.folder("datasets/cold-hall-season")
HORN = ("--instrument", "double horn")


def test_physics_answers_without_any_reading(drift):
    status, out, err = drift("slides", "physics", *HORN, "--celsius", 33)
    assert (status, err) == (0, "")
    assert "Warm up first" in out
    assert "Pull the main slide out" in " ".join(out.split())


def test_json_is_one_object_with_the_agreed_names(drift):
    status, out, _ = drift(
        "slides", "physics", *HORN, "--celsius", 33, "--at", "main=12,F=8", "--json"
    )
    answer = json.loads(out)
    assert status == 0
    assert {"instrument", "tuned", "there", "expected_cents", "moves", "remaining_cents",
            "valve_slides", "valve_remaining_cents", "warnings"} <= set(answer)  # fmt: skip
    assert answer["tuned"]["positions_mm"] == {"main": 12.0, "F": 8.0}
    main = answer["moves"][0]
    assert main["to_mm"] == pytest.approx(12.0 + main["move_mm"]["estimate"])


@pytest.mark.slow
def test_rehearsals_narrow_the_answer(drift):
    widths = []
    for source in ("physics", SEASON):
        _, out, _ = drift("slides", source, *HORN, "--celsius", 28, "--json")
        expected = json.loads(out)["expected_cents"]["F"]
        widths.append(expected["high"] - expected["low"])
    assert widths[1] < widths[0] / 3


@pytest.mark.slow
def test_last_logged_positions_are_taken_and_options_override_them(drift):
    _, out, _ = drift("slides", SEASON, "--player", "Rowan", *HORN, "--celsius", 28, "--json")
    logged = json.loads(out)["tuned"]["positions_mm"]
    assert set(logged) == {"main", "F"}
    _, out, _ = drift("slides", SEASON, *HORN, "--celsius", 28, "--at", "main=3", "--json")
    assert json.loads(out)["tuned"]["positions_mm"] == {"main": 3.0}


def test_another_pitch_moves_the_slides_by_the_cents_between_the_two(drift, tmp_path):
    words = ("slides", "physics", "--instrument", "Bb trumpet", "--celsius", 33, "--at", "main=12")
    found = []
    for pitch in ((), ("--a4", 437.5), ("--a4", "437.5 Hz", "--tuned-a4", 437.5)):
        _, out, _ = drift(*words, *pitch, "--json")
        found.append(json.loads(out)["expected_cents"][""]["estimate"])
    assert found[1] - found[0] == pytest.approx(9.865, abs=0.001)  # 1200 log2(440/437.5)
    assert found[2] == found[0]
    card = tmp_path / "card.pdf"
    drift(*words, "--a4", 437.5, "--card", card)
    assert "A4 = 437.5 Hz" in PdfReader(card).pages[0].extract_text()


def test_stuck_travel_and_other_models(drift):
    words = ("slides", "physics", *HORN, "--celsius", 33, "--at", "main=12", "--json")
    _, out, _ = drift(*words, "--travel", "main=15", "--stuck", "F")
    answer = json.loads(out)
    assert answer["moves"][0]["at_end_of_travel"] is True
    assert answer["moves"][1]["move_mm"]["estimate"] == 0.0
    _, out, _ = drift(*words, "--serves", "main=F", "--serves", "Bb=F+Bb")
    moves = {move["slide"]: move["move_mm"]["estimate"] for move in json.loads(out)["moves"]}
    assert moves["Bb"] > 0.0


def test_fahrenheit_and_negative_degrees(drift):
    def expected(celsius):
        _, out, _ = drift("slides", "physics", *HORN, f"--celsius={celsius}", "--json")
        return json.loads(out)["there"]["celsius"]

    assert expected("91F") == pytest.approx(32.7778, abs=1e-4)
    assert expected("-4") == -4.0
    assert drift("slides", "physics", *HORN, "--celsius", "-4")[0] == 0


@pytest.mark.slow
def test_table_csv_and_card(drift, tmp_path):
    csv, card = tmp_path / "table.csv", tmp_path / "card.pdf"
    status, out, _ = drift(
        "slides", SEASON, "--player", "Rowan", *HORN, "--table", "--csv", csv, "--card", card
    )
    assert status == 0
    assert f"wrote {csv}" in out
    assert "double horn, Rowan" in out
    assert "*" in out  # 0 °C is outside what was measured
    assert len(pd.read_csv(csv)) == 9
    assert card.read_bytes().startswith(b"%PDF")
    _, out, _ = drift("slides", SEASON, *HORN, "--table", "--json")
    assert len(json.loads(out)["positions"]) == 9


def test_inches(drift):
    _, out, _ = drift("slides", "physics", *HORN, "--celsius", 33, "--inches")
    assert "/16 inch" in out
    assert " mm" not in out


@pytest.mark.slow
def test_an_instrument_of_the_users_own(drift, tmp_path):
    _, toml, _ = drift("instruments", "F horn", "--toml")
    mine = tmp_path / "mine.toml"
    mine.write_text(toml.replace("F horn", "natural horn"), encoding="utf-8")
    words = ("--instrument", "natural horn", "--celsius", 33, "--instruments", mine)
    assert drift("slides", "physics", *words)[0] == 0
    assert drift("slides", SEASON, *words)[0] == 0


@pytest.mark.parametrize("method", ["anchored", "least-squares", "mixed"])
@pytest.mark.slow
def test_other_methods_answer_too(drift, method):
    _, out, _ = drift("slides", SEASON, *HORN, "--celsius", 28, "--method", method, "--json")
    expected = json.loads(out)["expected_cents"]["F"]
    assert expected["low"] < expected["estimate"] < expected["high"]


@pytest.mark.parametrize(
    ("words", "problem", "remedy"),
    [
        (("physics", "--celsius", 33), "no instrument was named", "add --instrument NAME"),
        (("physics", *HORN), "no temperature was given", "add --celsius T"),
        (("physics", "--instrument", "hron", "--celsius", 33), "no instrument 'hron'", "horn"),
        (("nowhere", *HORN, "--celsius", 33), "there is no folder or logbook nowhere", "check"),
        ((SEASON, "--celsius", 33), "the readings are of Bb trumpet, double horn", "--instrument"),
        ((SEASON, *HORN, "--player", "Ada", "--celsius", 33), "no player 'Ada'", "Rowan"),
        (("physics", *HORN, "--celsius", 33, "--at", "main=50", "--travel", "main=45"),
         "stands at 50 mm, beyond its travel of 45 mm", "from fully in"),
        (("physics", *HORN, "--celsius", 33, "--at", "third=5"), "no slide 'third'", "main, F"),
        (("physics", *HORN, "--celsius", 33, "--a4", 300), "A4 = 300 Hz is not possible", "380 to"),
        (("physics", *HORN, "--card", "/no/such/folder/card.pdf"), "cannot be written", "folder"),
    ],
)  # fmt: skip
def test_problems_are_told_in_two_lines(drift, words, problem, remedy):
    status, out, err = drift("slides", *words)
    assert (status, out) == (1, "")
    first, second = err.splitlines()
    assert first.startswith("drift slides: ")
    assert problem in first
    assert remedy in second


@pytest.mark.parametrize(
    "words",
    [("--celsius", "warm"), ("--celsius", "400"), ("--at", "main"), ("--serves", "main")],
)
def test_wrong_usage(drift, words):
    status, out, err = drift("slides", "physics", *HORN, *words)
    assert (status, out) == (2, "")
    assert "usage: drift slides" in err


def test_a_card_for_one_room_alone(drift, tmp_path):
    card = tmp_path / "card.pdf"
    asked = ("acoustics", "--instrument", "Bb trumpet", "--at", "main=12")
    assert drift("slides", *asked, "--celsius", "24", "--card", card)[0] == 0
    text = PdfReader(card).pages[0].extract_text()
    assert "24" in text.split()
    assert "25" not in text.split()
    status, said, _ = drift("slides", *asked, "--celsius", "24", "--table", "--json")
    assert status == 0
    assert [row["celsius"] for row in json.loads(said)["positions"]] == [24.0]


@pytest.mark.slow
def test_a_slide_that_moved_unlogged_is_mentioned_to_whom_it_concerns(drift, tmp_path):
    made = clean((31, 3))
    FAULTS["slide 12 mm"][0](made, 20.0)
    for name, table in made.tables().items():
        table.to_csv(tmp_path / f"{name}.csv", index=False)
    moved = package.fit(package.pair(package.load(tmp_path))).notices[0].player
    other = next(name for name in made.readings["player"].unique() if name != moved)
    words = ("slides", tmp_path, "--instrument", "double horn", "--celsius", "10", "--player")
    assert "If it moved, log it: “at " in drift(*words, moved)[2]
    assert "If it moved, log it" not in drift(*words, other)[2]
