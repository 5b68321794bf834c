"""``drift gig``: templates, files, one-liners, refusals, and what it writes."""

import argparse
import json
import shlex
import shutil
from pathlib import Path

import pandas as pd
import pytest
from pypdf import PdfReader

from drift import shipped
from drift.cli.gig import add_arguments
from drift.cli.gig_inputs import roster_of
from drift.study import Study
from tests.nearly import nearly

DEMO = Path(__file__).parents[2] / "demo"
FILES = ("--forecast", DEMO / "forecast.csv", "--roster", DEMO / "roster.csv",
         "--schedule", DEMO / "schedule.csv")  # fmt: skip
ONE_LINE = ("physics", "--celsius", "4", "--from", "18:30", "--to", "21:00", "--instrument",
            "Bb trumpet", "--date", "2026-10-09", "--zone=-04:00")  # fmt: skip


def test_templates_make_a_plan(drift, tmp_path):
    status, out, _ = drift("gig", "--templates", tmp_path / "tonight")
    assert status == 0
    assert [Path(line).name for line in out.split()] == [
        "forecast.csv",
        "schedule.csv",
        "roster.csv",
    ]
    files = [word for line in out.split() for word in (f"--{Path(line).stem}", line)]
    status, out, err = drift("gig", "physics", *files)
    assert (status, err) == (0, "")
    assert "Tune at 18:40" in out


def test_slides_that_were_measured_are_said_not_to_count_in_a_plan(drift, tmp_path):
    season = shutil.copytree(shipped.folder("datasets/cold-hall-season"), tmp_path / "season")
    (season / "calibrations.csv").write_text(
        "time,player,instrument,slide,side,cents_per_mm,low,high,readings,remark\n"
        "2026-10-01T18:00:00Z,Isolde,Bb trumpet,main,,-2.2,-2.4,-2.0,6,\n",
        encoding="utf-8",
    )
    status, out, _ = drift("gig", season, *ONE_LINE[1:])
    assert status == 0
    assert "uses the calculated slides of Bb trumpet" in " ".join(out.split())


def test_without_a_roster_slides_are_where_their_only_player_left_them():
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    options = parser.parse_args(["season", "--celsius", "4"])
    study = Study.open(shipped.folder("datasets/cold-hall-season"), method="anchored")
    horn, trumpet = sorted(roster_of(options, study).sections, key=lambda one: one.name)[::-1]
    assert horn.at_mm == study.last_positions("Rowan", "double horn") == {"main": 12.0, "F": 8.0}
    assert trumpet.at_mm == {"main": 10.0}
    named = parser.parse_args(["season", "--instrument", "BBb tuba"])
    assert roster_of(named, study).sections[0].at_mm == {}


def test_templates_replace_nothing(drift, tmp_path):
    (tmp_path / "roster.csv").write_text("mine", encoding="utf-8")
    status, _, err = drift("gig", "--templates", tmp_path)
    assert status == 1
    assert "roster.csv exists already" in err
    assert (tmp_path / "roster.csv").read_text(encoding="utf-8") == "mine"
    assert not (tmp_path / "forecast.csv").exists()


def test_the_demonstration(drift):
    status, out, err = drift("gig", "physics", *FILES)
    assert (status, err) == (0, "")
    for words in ("Tune at 17:45", "old tuba", "stuck", "front mallets", "Do not force it"):
        assert words in out
    assert max(map(len, out.splitlines())) < 125


@pytest.mark.slow
def test_json_is_one_object(drift):
    status, out, _ = drift("gig", "physics", *FILES, "--json")
    answer = json.loads(out)
    assert status == 0
    assert {"settings", "pitch", "cautions", "timeline", "warnings"} <= set(answer)
    assert answer["pitch"]["a4_hz"] == 440
    assert answer["pitch"]["reason"] == "limited"
    told = [caution["text"] for caution in answer["words"]["cautions"]]
    assert len(told) == len(answer["cautions"])
    assert any("Do not force it" in text for text in told)


def test_physics_is_the_default(drift):
    assert drift("gig", *ONE_LINE[1:])[1] == drift("gig", *ONE_LINE)[1]


def test_one_line_without_files(drift):
    status, out, err = drift("gig", *ONE_LINE)
    assert (status, err) == (0, "")
    assert "Friday 9 October 2026, 18:30–21:00 (UTC-0400), 4 °C" in out
    assert "in " in out
    assert "Tune at 18:30 (play until 18:37, then the tuner), for 18:40–21:00" in out
    assert "Set before playing, for 18:30–21:00" in drift("gig", *ONE_LINE, "--tune", "0")[1]
    over_midnight = [*ONE_LINE[:4], "22:30", "--to", "00:30", *ONE_LINE[7:]]
    assert "22:30–00:30" in drift("gig", *over_midnight)[1]


def test_fahrenheit_in_and_out(drift):
    words = list(ONE_LINE)
    words[2] = "39.2F"
    status, out, _ = drift("gig", *words, "--fahrenheit", "--tuned-celsius", "68F",
                           "--forecast-error", "3.6F")  # fmt: skip
    assert status == 0
    assert "39 °F" in out
    assert "°C" not in out
    plain = json.loads(drift("gig", *ONE_LINE, "--json")[1])
    typed = json.loads(drift("gig", *words, "--json", "--forecast-error", "3.6F")[1])
    moves = [answer["settings"][0]["moves"][0]["move_mm"] for answer in (plain, typed)]
    assert moves[0] == pytest.approx(moves[1])


def test_rehearsals_of_the_band(drift, tmp_path):
    folder = rehearsal_folder(tmp_path / "season")
    status, out, err = drift("gig", folder, *ONE_LINE[1:7], *ONE_LINE[9:])
    assert (status, err) == (0, "")
    assert "own, " in out
    told = drift("gig", folder, *ONE_LINE[1:7], *ONE_LINE[9:], "--fahrenheit")[1]
    assert "39.2 °F lies beyond" not in told
    assert "39 °F is outside the temperatures measured so far (63 to 79 °F)" in told.replace(
        "\n    ", " "
    )
    assert "°C" not in told


def rehearsal_folder(folder):
    """A rehearsal folder of one trumpet, as the contract has it."""
    folder.mkdir()
    readings, temperatures = [], []
    for day in range(1, 5):
        for five in range(0, 60, 5):
            time = f"2026-09-{day:02}T19:{five:02}:00+02:00"
            temperatures.append((time, f"day {day}", 14 + 3 * day))
            if five:
                cents = 2 * (3 * day - 6) + five / 30
                readings.append((time, f"day {day}", "Rowan", "Bb trumpet", "Bb4", round(cents, 1)))
    pd.DataFrame(
        readings, columns=["time", "rehearsal", "player", "instrument", "note", "cents"]
    ).to_csv(folder / "readings.csv", index=False)
    pd.DataFrame(temperatures, columns=["time", "rehearsal", "celsius"]).to_csv(
        folder / "temperatures.csv", index=False
    )
    return folder


@pytest.mark.slow
@pytest.mark.parametrize(("order", "date"), [("day-first", "9 Oct"), ("month-first", "10 Sep")])
def test_the_order_of_dates_is_told_beside_a_logbook_too(drift, tmp_path, order, date):
    forecast, times, band = (tmp_path / f"{name}.csv" for name in ("forecast", "times", "band"))
    forecast.write_text("time,celsius\n09/10/2026 17:00,12\n09/10/2026 21:00,8\n")
    times.write_text("start,end,activity\n09/10/2026 18:00,18:10,tune\n18:10,18:40,play\n")
    band.write_text("section,instrument,players,slide,position_mm\nfirst,Bb trumpet,9,main,15\n")
    tables = ("--forecast", forecast, "--schedule", times, "--roster", band, "--zone", "UTC")
    status, _, err = drift("gig", "acoustics", *tables)
    assert status == 1
    assert err.count("could be two days") == 3
    assert "or say --dates day-first or month-first" in err
    book = tmp_path / "band.logbook"
    assert drift("import", book, rehearsal_folder(tmp_path / "season"))[0] == 0
    for source in ("acoustics", book):
        status, out, err = drift("gig", source, *tables, "--dates", order)
        assert (status, err) == (0, "")
        assert date in out.splitlines()[0]


def test_what_is_written(drift, tmp_path):
    status, out, _ = drift("gig", "physics", *FILES, "--out", tmp_path, "--scenario", "front=-6")
    assert status == 0
    # The stuck tuba keeps the band far from 440 Hz: a folder for each pitch, and none for both.
    lower, nominal = sorted(path for path in tmp_path.iterdir() if path.is_dir())
    assert lower.name.startswith("A4-434.")
    assert nominal.name == "A4-440.0"
    names = {"plan.csv", "timeline.csv", "plan.png", "director.pdf", "section-cards.pdf",
             "plan.html"}  # fmt: skip
    for folder in (lower, nominal):
        assert {path.name for path in folder.iterdir()} == names | {
            "scenarios.csv", "scenarios.png"
        }  # fmt: skip
        told = " ".join(PdfReader(folder / "director.pdf").pages[0].extract_text().split())
        assert "Front (up to 6 °C colder): " in told
    written = [Path(line.removeprefix("wrote ")) for line in out.splitlines()[-16:]]
    assert {path.parent.name for path in written} == {lower.name, nominal.name}
    moves = pd.read_csv(lower / "plan.csv")
    assert {"section", "tune_at", "move_mm", "from_mm", "to_mm", "remaining_cents"} <= set(moves)
    assert "celsius" in pd.read_csv(lower / "timeline.csv")
    assert (lower / "plan.png").read_bytes().startswith(b"\x89PNG")
    assert f"--a4 {lower.name.removeprefix('A4-')} gives the first alone" in out
    assert len(PdfReader(lower / "director.pdf").pages) == 1
    assert len(PdfReader(lower / "section-cards.pdf").pages) == 6
    assert set(pd.read_csv(lower / "scenarios.csv")["scenario"]) == {"as planned", "front"}


@pytest.mark.slow
def test_a_folder_is_planned_into_itself_again(drift, tmp_path):
    folder = tmp_path / "evening"
    assert drift("gig", "--templates", folder)[0] == 0
    words = ("gig", "--folder", folder, "--out", folder, "--scenario", "front=-6", "--a4", "440")
    first = drift(*words)
    assert (first[0], first[2]) == (0, "")
    assert (folder / "scenarios.csv").exists()
    (folder / "timeline (1).csv").write_bytes((folder / "timeline.csv").read_bytes())
    (folder / "roster.csv").rename(folder / "plan2.csv")  # an input by its headings
    assert drift(*words) == first
    status, out, _ = drift("gig", "--check", folder)
    assert status == 0
    assert out.count("nothing to correct") == 3
    assert "director.pdf" not in out


@pytest.mark.slow
def test_scenarios(drift, tmp_path):
    other = tmp_path / "hot.csv"
    other.write_text("time,celsius\n2026-07-01T12:00Z,33\n2026-07-01T15:00Z,35\n", encoding="utf-8")
    when = tmp_path / "noon.csv"
    when.write_text("start,end,activity\n2026-07-01T12:00Z,12:20,tune\n12:20,14:30,play\n",
                    encoding="utf-8")  # fmt: skip
    status, out, _ = drift("gig", "physics", *FILES, "--scenario", f"hot noon={other},{when}",
                           "--scenario", "mild=+9F")  # fmt: skip
    assert status == 0
    table = out[out.index("\nScenarios\n") :]
    assert "hot noon" in table
    assert "33 to 35 °C" in table
    # Eleven degrees and more are told apart on brass; of woodwinds too little is known before.
    assert not [row for row in table.splitlines() if "≈" in row and "trumpets" in row]
    same = drift("gig", "physics", *FILES, "--scenario", "same=+0")[1]
    assert "≈ differs" not in same[: same.index("\nScenarios\n")]
    assert max(map(len, table.splitlines())) <= 100


def test_other_weather_has_the_pitch_recommended_that_it_has_by_itself(drift, tmp_path):
    """In mild air the slides reach 440 Hz; the targets stay at the pitch of the sheets."""
    roster = tmp_path / "roster.csv"
    roster.write_text("section,instrument,players,slide,position_mm,travel_mm\n"
                      "tubas,CC tuba,2,main,6,60\ntrumpets,Bb trumpet,8,main,14,40\n",
                      encoding="utf-8")  # fmt: skip
    words = ("gig", "acoustics", "--roster", roster, "--from", "18:30", "--to", "21:00",
             "--date", "2026-10-09", "--zone=-04:00")  # fmt: skip
    cold = json.loads(drift(*words, "--celsius", "2", "--scenario", "mild=+19", "--json")[1])
    mild = json.loads(drift(*words, "--celsius", "21", "--json")[1])
    (beside,) = (cold["scenarios"][name] for name in cold["scenarios"] if name != "as planned")
    assert cold["pitch"]["recommended_a4_hz"] < 439.0
    assert mild["pitch"]["recommended_a4_hz"] == beside["pitch"]["recommended_a4_hz"] == 440.0
    aimed = cold["pitch"]["moves_aim_at_a4_hz"]
    assert beside["pitch"]["moves_aim_at_a4_hz"] == aimed == cold["pitch"]["recommended_a4_hz"]


@pytest.fixture
def undated(tmp_path):
    """The files of an evening whose date is nowhere in them, and a later timetable."""
    files = {
        "weather": "time,celsius\n18:00,10\n22:00,6\n",
        "evening": "start,end,activity\n18:30,18:40,tune\n18:40,20:00,play\n",
        "late": "start,end,activity\n19:00,19:10,tune\n19:10,20:30,play\n",
    }
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    return {name: tmp_path / f"{name}.csv" for name in files}


@pytest.mark.slow
@pytest.mark.parametrize("dated", [True, False])
def test_a_scenario_is_of_the_date_that_was_given(drift, undated, dated):
    if not dated:
        with undated["evening"].open("a", encoding="utf-8") as file:
            file.write("# date 2026-10-16\n")
    files = ("--forecast", undated["weather"], "--schedule", undated["evening"], *FILES[2:4])
    on = ("--date", "2026-10-16") if dated else ()
    status, out, err = drift("gig", "physics", *files, *on, "--zone=-04:00", "--draws", "100",
                             "--scenario", f"same={undated['weather']}",
                             "--scenario", f"late={undated['weather']},{undated['late']}",
                             "--scenario", f"mild and late=+6,{undated['late']}")  # fmt: skip
    assert (status, err) == (0, "")
    table = out[out.index("\nScenarios\n") :].splitlines()
    tunes = [at for row in table if "tune 1" in row for at in row.split()[2:]]
    assert tunes == ["18:30", "18:30", "19:00", "19:00"]


def test_all_that_is_wrong_with_scenarios_is_said_at_once(drift, undated):
    for name, wrong in (("weather", "10,cold"), ("late", "late,tune")):
        text = undated[name].read_text(encoding="utf-8")
        undated[name].write_text(text + wrong + "\n", encoding="utf-8")
    both = f"late={undated['weather']},{undated['late']}"
    status, _, err = drift("gig", *ONE_LINE, "--scenario", both)
    assert status == 1
    assert "weather.csv line 4" in err
    assert "late.csv line 4" in err


@pytest.mark.slow
def test_aiming_at_the_recommended_pitch(drift):
    status, out, _ = drift("gig", "physics", *FILES, "--a4", "recommended", "--json")
    answer = json.loads(out)
    assert status == 0
    assert answer["pitch"]["moves_aim_at_a4_hz"] == answer["pitch"]["recommended_a4_hz"] < 440


def test_a_measured_wbgt(drift):
    out = drift("gig", *ONE_LINE, "--wbgt", "82F@19:15", "--fahrenheit")[1]
    assert "19:15  measured WBGT 82 °F: this can hardly be" in out


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        (("physics",), "neither --forecast nor --celsius"),
        (("physics", *FILES, "--celsius", "4"), "both --forecast and --celsius"),
        (("physics", "--celsius", "4", *ONE_LINE[7:9]), "no schedule"),
        (ONE_LINE[:7], "no roster and no instrument"),
        ((*ONE_LINE[:2], "cold", *ONE_LINE[3:]), "'cold' is not a temperature"),
        ((*ONE_LINE[:4], "7", *ONE_LINE[5:]), "--from '7' is not a time of day"),
        ((*ONE_LINE[:6], "18:00", *ONE_LINE[7:]), "--to 18:00 is before --from 18:30"),
        ((*ONE_LINE, "--tune", "150"), "150 minutes of tuning do not fit between 18:30 and 21:00"),
        ((*ONE_LINE, "--tuned-celsius", "71"), "'71' is 71 °C, where no band tunes"),
        ((*ONE_LINE, "--a4", "4400"), "--a4 '4400' is no A4"),
        ((*ONE_LINE, "--draws", "3"), "--draws 3"),
        ((*ONE_LINE, "--date", "9.10."), "--date '9.10.' is not a date"),
        ((*ONE_LINE, "--date", "9/10/2026"), "is not a date, or could be two"),
        ((*ONE_LINE, "--zone", "EST"), "--zone 'EST' is not a zone"),
        ((*ONE_LINE, "--scenario", "hot"), "--scenario 'hot' has no name or no weather"),
        ((*ONE_LINE, "--scenario", "hot=very"), "'very' is not a temperature"),
        ((*ONE_LINE[:-4], "tuba of mine", *ONE_LINE[-3:-1]), "no instrument 'tuba of mine'"),
        ((*ONE_LINE[:7], "--instrument", "snares"), "no pitch to tune: snares"),
        (
            ("physics", "--forecast", "w.nc", "--place", "north", *FILES[2:]),
            "--place 'north' is not",
        ),
        (("physics", "--forecast", "none.csv", *FILES[2:]), "none.csv: it cannot be read"),
    ],
)
def test_refusals_take_two_lines(drift, words, problem):
    status, out, err = drift("gig", *words)
    assert (status, out) == (1, "")
    assert problem in err
    assert err.count("\n") == 2


def test_a_wrong_cell_is_named_by_line_and_value(drift, tmp_path):
    roster = tmp_path / "roster.csv"
    roster.write_text("section,instrument,slide\nhorns,dubble horn,main\n", encoding="utf-8")
    status, _, err = drift("gig", "physics", *FILES[:2], "--roster", roster, *FILES[4:])
    assert status == 1
    assert "roster.csv line 2: no instrument 'dubble horn'" in err
    assert "double horn" in err.splitlines()[1]


@pytest.mark.parametrize(
    ("fahrenheit", "typed", "shown"),
    [((), "-6", "−6 °C"), (("--fahrenheit",), "-6", "−6 °F"), (("--fahrenheit",), "-6C", "−11 °F"),
     ((), "-9F", "−5 °C")],
)  # fmt: skip
def test_a_plain_difference_is_in_the_units_chosen(drift, fahrenheit, typed, shown):
    status, out, _ = drift("gig", *ONE_LINE, *fahrenheit, "--scenario", f"colder={typed}")
    assert status == 0
    (row,) = [line.split("  ") for line in out.splitlines() if "against the first" in line]
    assert row[-1].strip() == shown


def test_plain_degrees_follow_the_units_chosen(drift):
    usual = drift("gig", *ONE_LINE, "--fahrenheit")[1]
    assert "right within ±3.6 °F" in usual  # the usual 2 °C
    assert "right within ±5 °F" in drift(
        "gig", *ONE_LINE, "--fahrenheit", "--forecast-error", "5"
    )[1]  # fmt: skip
    hot = drift("gig", *ONE_LINE, "--fahrenheit", "--wbgt", "85@18:40")[1]
    assert hot == drift("gig", *ONE_LINE, "--fahrenheit", "--wbgt", "85F@18:40")[1]
    # An option that is named after a unit keeps it.
    assert drift("gig", *ONE_LINE, "--fahrenheit", "--tuned-celsius", "20")[1] == usual


def test_a_check_tells_everything_and_fixes_nothing(drift, tmp_path):
    roster = tmp_path / "roster.csv"
    text = "section,instrument,slide\nhorns,dubble horn,main\ntuba,BBb tuba,mian\n"
    roster.write_text(text, encoding="utf-8")
    status, out, err = drift("gig", "--check", *FILES[:2], "--roster", roster, *FILES[4:])
    assert (status, err) == (1, "")
    assert out.count("nothing to correct") == 2
    assert "roster.csv line 2: no instrument 'dubble horn'" in out
    assert "roster.csv line 3: " in out
    assert roster.read_text(encoding="utf-8") == text
    assert drift("gig", "--check", *FILES)[0] == 0


def messy(folder):
    """A folder as a band has it: other names, separators, units, and files of nothing."""
    folder.mkdir()
    (folder / "weather export.csv").write_text(
        "Time;Temp (C);RH;Wind (km/h)\n17:00;12,5;61%;18\n19:00;11,0;64%;12,6\n"
        "22:00;8,5;70%;10\n", encoding="utf-8")  # fmt: skip
    (folder / "running order.csv").write_text(
        "# date 2026-10-16\nBegin,Until,What\n5:20 PM,5:40 PM,tune\n5:45 PM,6:30 PM,play\n"
        "20:00,20:30,play\n", encoding="utf-8")  # fmt: skip
    (folder / "who.csv").write_text(
        "Section,Instrument,Players,Slide,Position,Travel\ntrumpets,trumpets,6,main,15 mm,35 mm\n"
        "bones,bones,4,,,\n", encoding="utf-8")  # fmt: skip
    (folder / "poster.png").write_bytes(b"\x89PNG")
    (folder / "remember.txt").write_text("valve oil", encoding="utf-8")
    return folder


def test_a_check_shows_the_timetable_as_it_is_understood(drift, tmp_path):
    schedule = tmp_path / "s.csv"
    schedule.write_text(
        "start,end,activity,celsius,remark\n2026-10-16T17:00-04:00,17:50,play,21,band hall\n"
        "18:45,18:55,play,,pre-game\n18:55,19:40,stands 0.2,,\n", encoding="utf-8",
    )  # fmt: skip
    status, out, _ = drift("gig", "--check", schedule)
    assert status == 0
    rows = [" ".join(line.split()) for line in out.splitlines()]
    assert "17:00–17:50 play 21 °C band hall" in rows
    assert "17:50–18:45 rest as forecast nothing scheduled" in rows
    assert "18:55–19:40 stands 0.2 as forecast" in rows
    assert "no tune: the plan puts one before the playing at 18:45 where there is a rest" in rows
    assert "17:00–17:50 play 70 °F band hall" in " ".join(
        drift("gig", "--check", schedule, "--fahrenheit")[1].split()
    )


def test_a_check_shows_times_as_the_timetable_has_them_and_where_a_file_is(drift, tmp_path):
    folder = messy(tmp_path / "messy")
    where = ("--zone", "America/New_York")

    def rows(*options):
        status, out, _ = drift("gig", "--check", folder, *where, *options)
        assert status == 0
        return [" ".join(line.split()) for line in out.splitlines()]

    assert "5:20–5:40 PM tune as forecast" in rows()
    assert "17:20–17:40 tune as forecast" in rows("--clock", "24")
    (times,) = [row for row in rows("--clock", "12") if "weather export.csv" in row]
    assert "2026-10-16 5:00 PM to 2026-10-16 10:00 PM (EDT)" in times
    schedule = folder / "running order.csv"
    with schedule.open("a", encoding="utf-8") as file:
        file.write("20:45,21:00,dance\n")
    assert f"{schedule} line 6: activity 'dance'" in drift("gig", "--check", folder, *where)[1]


@pytest.mark.parametrize("kind", ["schedule", "forecast", "roster"])
def test_a_file_given_twice_is_refused_and_not_replaced(drift, kind):
    status, _, err = drift("gig", *FILES, f"--{kind}", DEMO / f"{kind}.csv")
    assert status == 2
    assert "is given twice" in err


def test_a_folder_is_checked_and_planned_by_its_headings(drift, tmp_path):
    folder = messy(tmp_path / "messy")
    status, out, err = drift("gig", "--check", folder, "--zone", "America/New_York")
    assert (status, err) == (0, "")
    assert "running order.csv: schedule, nothing to correct: 3 entries, 2026-10-16 5:20" in out
    assert "weather export.csv: forecast, nothing to correct: 3 rows, 2026-10-16 17:00" in out
    assert "who.csv: roster, nothing to correct: 2 sections, 10 players" in out
    assert "poster.png: left out" in out
    status, out, err = drift("gig", "--folder", folder, "--zone", "America/New_York")
    assert (status, err) == (0, "")
    assert "Friday 16 October 2026" in out


def test_a_check_sees_that_the_forecast_ends_too_early(drift, tmp_path):
    folder = messy(tmp_path / "messy")
    with (folder / "running order.csv").open("a", encoding="utf-8") as file:
        file.write("23:30,23:50,play\n")
    status, out, _ = drift("gig", "--check", folder, "--zone", "UTC")
    assert status == 1
    assert "add rows to the forecast so that it covers the whole schedule" in out


def test_everything_wrong_in_all_files_is_said_at_once(drift, tmp_path):
    folder = messy(tmp_path / "messy")
    for name, wrong in (("weather export.csv", "20:00;warm;140%;x\n"), ("who.csv", "a,kazoo,x\n"),
                        ("running order.csv", "20:45,soon,dance\n")):  # fmt: skip
        with (folder / name).open("a", encoding="utf-8") as file:
            file.write(wrong)
    (folder / "list.csv").write_text("name,uniform\nRowan,12\n", encoding="utf-8")
    status, out, _ = drift("gig", "--check", folder, "--zone", "UTC")
    assert status == 1
    for words in ("celsius 'warm'", "humidity_percent '140%'", "wind_km_h 'x'", "'kazoo'",
                  "players 'x'", "end 'soon'", "activity 'dance'", "list.csv is not"):  # fmt: skip
        assert words in out
    status, _, err = drift("gig", "--folder", folder, "--zone", "UTC")
    assert status == 1
    assert "8 problems" in err  # 20:00 after 22:00 as well


@pytest.mark.parametrize("dated", ["row", "forecast", "option", "nothing"])
def test_times_without_a_date_take_it_from_wherever_it_is(drift, tmp_path, dated):
    schedule, forecast = tmp_path / "schedule.csv", tmp_path / "forecast.csv"
    second = "2026-10-16 19:00" if dated == "row" else "19:00"
    schedule.write_text(f"start,end,activity\n18:30,18:45,tune\n{second},20:00,play\n")
    day = "2026-10-16T" if dated == "forecast" else ""
    forecast.write_text(f"time,celsius\n{day}18:00,12\n{day}21:00,9\n")
    words = ["--schedule", schedule, "--forecast", forecast, "--instrument", "flute"]
    extra = ["--date", "2026-10-16"] if dated == "option" else []
    status, out, err = drift("gig", *words, "--zone", "-04:00", *extra)
    if dated == "nothing":
        assert status == 1
        assert "schedule.csv line 2: start '18:30' has no date" in err
        assert "--date 2026-10-09" in err
    else:
        assert (status, err) == (0, "")
        assert "Friday 16 October 2026, 18:30" in out


def test_zones_by_name(drift):
    named = drift("gig", *ONE_LINE[:-1], "--zone", "America/New_York")
    assert named == drift("gig", *ONE_LINE)


def test_an_evening_is_compared_with_its_plan(drift, tmp_path):
    folder = rehearsal_folder(tmp_path / "season")
    words = ("acoustics", "--celsius", "20", "--from", "19:00", "--to", "20:30", "--instrument",
             "trumpets", "--date", "2026-09-02", "--zone=+02:00")  # fmt: skip
    status, out, err = drift("gig", *words, "--compare", folder)
    assert (status, err) == (0, "")
    assert "Read beside planned" in out
    assert "Bb trumpet" in out
    answer = json.loads(drift("gig", *words, "--compare", folder, "--json")[1])
    assert answer["sections"][0]["readings"] > 5
    late = [*words[:-3], "--date", "2026-10-02", words[-1]]
    status, _, err = drift("gig", *late, "--compare", folder)
    assert status == 1
    assert "no reading was taken during the schedule" in err


DAY_4 = ("--celsius", "20", "--from", "19:00", "--to", "20:30", "--instrument", "trumpets",
         "--draws", "100", "--date", "2026-09-04", "--zone=+02:00")  # fmt: skip


@pytest.mark.slow
def test_the_evening_that_is_judged_is_not_in_its_plan(drift, tmp_path):
    whole = rehearsal_folder(tmp_path / "whole")
    readings = pd.read_csv(whole / "readings.csv")
    that_day = readings["rehearsal"] == "day 4"
    readings.loc[that_day, "cents"] += 12  # as if every slide had been moved and none logged
    readings.to_csv(whole / "readings.csv", index=False)
    earlier = tmp_path / "earlier"
    earlier.mkdir()
    for table in ("readings.csv", "temperatures.csv"):
        rows = pd.read_csv(whole / table)
        rows[rows["rehearsal"] != "day 4"].to_csv(earlier / table, index=False)
    found, known = (
        json.loads(drift("gig", source, *DAY_4, "--compare", whole, "--json")[1])
        for source in (whole, earlier)
    )
    assert (found.pop("left_out_rehearsals"), known.pop("left_out_rehearsals")) == (["day 4"], [])
    assert found == nearly(known)
    out = drift("gig", whole, *DAY_4, "--compare", whole)[1]
    assert "from what was known before that evening; left out of whole: 1 rehearsal, day 4" in out


def test_slides_that_sheets_moved_and_nobody_logged_are_told(drift, tmp_path):
    evening = rehearsal_folder(tmp_path / "evening")
    cold = ("acoustics", "--celsius", "4", *DAY_4[2:], "--compare")
    told = "no slide was logged that evening, though the sheets move some"
    assert told in drift("gig", *cold, evening)[1]
    (evening / "events.csv").write_text(
        "time,rehearsal,player,event,slide,position_mm\n"
        "2026-09-04T19:05+02:00,day 4,Rowan,slide,main,12\n"
    )
    assert told not in drift("gig", *cold, evening)[1]
    paper = tmp_path / "paper.csv"
    paper.write_text("Section,Time,Cents\nBb trumpet,7:30 PM,2\n")
    assert told not in drift("gig", *cold, paper)[1]


def test_a_source_of_the_evening_alone_plans_nothing(drift, tmp_path):
    whole = rehearsal_folder(tmp_path / "whole")
    words = (*DAY_4[:-2], "2026-09-01", DAY_4[-1])
    status, out, err = drift("gig", whole, *words, "--compare", whole)
    assert (status, out) == (1, "")
    assert "whole holds nothing from before that evening" in err
    assert "acoustics" in err


@pytest.mark.parametrize("zone", ["America/New_York", "-04:00"])
@pytest.mark.slow
def test_readings_alone_are_compared_in_the_zone_and_at_the_pitch(drift, tmp_path, zone):
    evening = tmp_path / "evening"
    evening.mkdir()
    (evening / "readings.csv").write_text(
        "rehearsal,time,player,instrument,note,cents\n"
        "gig,2026-10-09 18:45,Wren,Bb trumpet,Bb4,-6\n", encoding="utf-8",
    )  # fmt: skip
    words = [*ONE_LINE[:-1], f"--zone={zone}", "--a4", "437", "--compare"]
    for path in (evening, evening / "readings.csv"):
        status, out, err = drift("gig", *words, path)
        assert (status, err) == (0, "")
        assert "18:40 play" in out
        assert "taken as read on tuners set to the pitch of the plan" in out
        assert "are counted" not in out
        answer = json.loads(drift("gig", *words, path, "--json")[1])
        assert answer["sections"][0]["read_cents"] == pytest.approx(-6.0)


def test_a_check_shows_warm_ups_and_degrees_as_they_are_understood(drift, tmp_path):
    schedule, forecast = tmp_path / "schedule.csv", tmp_path / "forecast.csv"
    schedule.write_text("start,end,activity\n2026-10-16T18:00Z,18:20,Warm up\n18:20,19:00,play\n")
    forecast.write_text("time,celsius\n2026-10-16T18:00Z,10\n2026-10-16T21:00Z,5\n")
    status, out, err = drift("gig", "--check", schedule, forecast, "--fahrenheit")
    assert (status, err) == (0, "")
    assert "18:00–18:20  warm-up  as forecast  Warm up" in out
    assert "41 to 50 °F" in out
    assert "°C" not in out


def test_options_of_an_evening_are_kept_in_a_file(drift, tmp_path):
    kept = tmp_path / "evening.txt"
    kept.write_text("# our field\n--celsius 4 --from 18:30\n--to 21:00 --date 2026-10-09\n"
                    "--zone=-04:00 --instrument 'Bb trumpet'\n")  # fmt: skip
    assert drift("gig", f"@{kept}") == drift("gig", *ONE_LINE[1:])


def test_a_file_of_options_works_with_a_check(drift, tmp_path):
    folder, kept = tmp_path / "game", tmp_path / "game.txt"
    folder.mkdir()
    for kind, file in zip(FILES[::2], FILES[1::2], strict=True):
        (folder / f"{kind.removeprefix('--')}.csv").write_bytes(Path(file).read_bytes())
    kept.write_text("--fahrenheit\n")
    wanted = drift("gig", "--fahrenheit", "--check", folder)
    assert wanted[0] == 0
    assert drift("gig", f"@{kept}", "--folder", folder, "--check") == wanted
    assert drift("gig", f"@{kept}", "--folder", folder, "--check", folder) == wanted
    assert drift("gig", "--check", f"@{kept}", folder) == wanted
    assert drift("gig", "--check", folder, f"@{kept}") == wanted
    roster = ("--roster", folder / "roster.csv")
    status, out, _ = drift("gig", *roster, f"@{kept}", "--folder", folder, "--check")
    assert (status, sorted(out.splitlines())) == (0, sorted(wanted[1].splitlines()))
    season = shipped.folder("datasets/cold-hall-season")
    assert drift("gig", season, f"@{kept}", "--folder", folder, "--check") == wanted
    status, _, err = drift("gig", f"@{kept}", "--check")
    assert (status, "nothing to check" in err) == (1, True)


def test_a_file_of_options_that_is_not_there_takes_two_lines(drift, tmp_path):
    status, out, err = drift("gig", "acoustics", f"@{tmp_path / 'gmae.txt'}")
    assert (status, out) == (1, "")
    assert err.splitlines() == [
        f"drift gig: there is no file of options {tmp_path / 'gmae.txt'}", "check its name",
    ]  # fmt: skip


def test_readings_on_paper_are_compared(drift, tmp_path):
    paper = tmp_path / "paper.csv"
    paper.write_text("Section,Time,Cents\ntrumpets,6:45 PM,-6\ntrumpets,7:30 PM,2\n")
    status, out, err = drift("gig", *ONE_LINE[1:], "--compare", paper)
    assert (status, err) == (0, "")
    assert "18:40 play" in out
    assert "no temperature was measured outdoors" in out
    paper.write_text("Section,Time,Cents,Temp\ntrumpets,6:45 PM,-6,43\ntrumpets,7:30 PM,2,41\n")
    words = ("--columns", "Temp=fahrenheit", "--compare", paper)
    status, out, err = drift("gig", *ONE_LINE[1:], *words)
    assert (status, err) == (0, "")
    assert "the air was 1.6 °C warmer than forecast" in out
    paper.write_text("Section,Time,Cents\nkazoos,6:45 PM,-6\ntrumpets,late,2\n")
    status, _, err = drift("gig", *ONE_LINE[1:], "--compare", paper)
    assert status == 1
    assert "2 problems" in err


def test_a_bare_command_on_a_terminal_asks(drift, tmp_path, monkeypatch):
    answers = iter(
        ["2026-10-09", "18:40-19:10", "", "warm", "12 to 8", "6 trumpets, 2 tubas, 4 kazoos",
         "2 sousas, 7 trumpets, 5 snares, 1 kazoo", "", str(tmp_path / "tonight")]
    )  # fmt: skip
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    status, out, err = drift("gig")
    assert (status, err) == (0, "")
    assert "'warm' is not a temperature" in out
    assert "'tubas' means more than one instrument" in out
    assert "Tune at 18:30 (play until 18:37, then the tuner), for 18:40" in out
    assert "'kazoos'" in out
    # What was right is kept: only the others are asked for again.
    roster = pd.read_csv(tmp_path / "tonight" / "roster.csv")
    assert dict(zip(roster["section"], roster["players"], strict=True)) == {
        "trumpets": 7, "sousas": 2,
    }  # fmt: skip
    assert "taken: 7 trumpets, 2 sousas" in out
    assert "not planned, no pitch to tune: 5 snares" in out
    assert f"drift gig --folder {tmp_path / 'tonight'} --out {tmp_path / 'tonight'}" in out
    assert next(answers, None) is None


def parsed(words):
    parser = argparse.ArgumentParser()
    add_arguments(parser)
    return vars(parser.parse_args(words))


@pytest.mark.slow
def test_the_command_that_is_printed_is_the_plan_that_was_shown(drift, tmp_path, monkeypatch):
    rehearsal_folder(tmp_path / "our band")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    answers = iter(["10/16/2026", "5 pm - 6:15 pm", "", "12", "6 trumpets", "Joe's field"])
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    typed = ["our band", "--tuned-celsius=-1F", "--a4", "441", "--scenario", "cold front=-4",
             "--scenario=noon=+2", "--as-scheduled", "--limit", "9"]  # fmt: skip
    status, first, err = drift("gig", *typed)
    assert (status, err) == (0, "")
    (line,) = [line for line in first.splitlines() if line.startswith("  drift gig")]
    words = shlex.split(line)[2:]
    files = {"folder": Path("Joe's field"), "out": Path("Joe's field")}
    assert parsed(words) == {**parsed(typed), **files, "clock": "12"}  # as it was typed
    status, again, err = drift("gig", *words)
    assert (status, err) == (0, "")
    shown = first.partition("this is the plan as it is now.\n\n")[2]
    assert again.startswith(shown.rstrip("\n"))


def test_a_tune_indoors_and_the_stands_are_answers_too(drift, tmp_path, monkeypatch):
    questions = []
    answers = iter(
        ["11/28/2026", "6:45-7:00 PM in the stands no playing, 7:00-8:10 in the stands, "
         "8:22-8:32, 8:45-10:00 stands",
         "6:15-6:40 band room, 8:18-8:22", "70 to 72", "70", "58 to 44", "6 trumpets",
         str(tmp_path / "game")]
    )  # fmt: skip
    monkeypatch.setattr("builtins.input", lambda text: questions.append(text) or next(answers))
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    status, out, err = drift("gig", "--fahrenheit")
    assert (status, err) == (0, "")
    schedule = pd.read_csv(tmp_path / "game" / "schedule.csv")
    assert schedule["activity"].tolist() == ["tune", "rest", "stands", "tune", "play", "stands"]
    assert schedule["celsius"].tolist()[0] == 21.1
    assert schedule["celsius"].isna().tolist() == [False, *[True] * 5]
    assert [text for text in questions if "indoors?" in text] == [
        "   How warm is it indoors? such as 70, or 21C: ",
        "   How warm is it indoors? such as 70, or 21C: ",
    ]
    assert "is not one temperature" in out
    assert any("outdoors" in text for text in questions if text.startswith("4."))
    assert "70 °F by the schedule: 6:15–6:40\N{NO-BREAK SPACE}PM." in out
    assert next(answers, None) is None


def test_an_overlap_is_refused_at_its_question(drift, tmp_path, monkeypatch):
    answers = iter(
        ["Oct 9", "6:10-6:55 PM, 6:40-7:10", "6:10-6:55 PM, 8:20-8:30", "6:00-6:30", "5:50-6:00",
         "12", "39F", "6 trumpets", str(tmp_path / "tonight")]
    )  # fmt: skip
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    status, out, err = drift("gig", "--fahrenheit")
    assert (status, err) == (0, "")
    for words in ("6:40 is before 18:55", "play from 18:10 begins before tune ends at 18:30",
                  "12 may be in °F or in °C", "--fahrenheit\nwrites the sheets"):  # fmt: skip
        assert words in out
    assert "for 6:10–6:55\N{NO-BREAK SPACE}PM at 39 °F" in out
    assert "for 8:20–8:30\N{NO-BREAK SPACE}PM at 39 °F" in out


def test_the_folder_offered_is_one_that_is_not_there(drift, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    for _ in range(2):
        answers = iter(["10/16/2026", "5 pm - 9:15 pm", "", "12", "6 trumpets", ""])
        monkeypatch.setattr("builtins.input", lambda _, given=answers: next(given))
        assert drift("gig")[0] == 0
    assert {path.name for path in tmp_path.iterdir()} == {"gig-2026-10-16", "gig-2026-10-16-2"}


def test_a_command_that_is_interrupted_says_so_without_a_traceback(drift, monkeypatch):
    def interrupted(_):
        raise KeyboardInterrupt

    monkeypatch.setattr("builtins.input", interrupted)
    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    status, _, err = drift("gig")
    assert status == 130
    assert err == "\ndrift gig: stopped\n"


def test_a_bare_command_without_a_terminal_asks_nothing(drift):
    status, _, err = drift("gig")
    assert status == 1
    assert "neither --forecast nor --celsius" in err
