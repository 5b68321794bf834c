"""drift fit, by each method, for people and for programs."""

import json

import pytest

import drift as package
from drift.cli.fit import __doc__ as description
from tests.nearly import nearly

SEASON = package.shipped.folder("datasets/cold-hall-season")


@pytest.mark.slow
def test_the_summary_names_what_the_answer_rests_on(drift):
    status, out, err = drift("fit", SEASON)
    assert (status, err) == (0, "")
    assert out.startswith("bayesian: ")
    assert "slope of a warm instrument" in out
    assert "95 % warm after playing" in out


@pytest.mark.slow
def test_json_is_one_object_with_the_agreed_names(drift):
    status, out, _ = drift("fit", SEASON, "--json")
    answer = json.loads(out)
    assert status == 0
    assert answer["method"] == "bayesian"
    assert set(answer["instruments"]) == {"double horn", "Bb trumpet"}
    horn = answer["instruments"]["double horn"]
    assert set(horn["players"]) == {"Rowan"}
    for entries in (horn["population"], horn["players"]["Rowan"], horn["new_player"]):
        assert entries["warm_up_cents"]["low"] < entries["warm_up_cents"]["high"]
        assert "slow_cents_per_hour" in entries
    assert answer["left_out"][0].keys() == {"reason", "text", "count"}


@pytest.mark.slow
def test_json_says_how_the_fit_was_made_so_that_it_can_be_repeated(drift, tmp_path):
    """From the priors of the answer alone, the same answer."""
    file = tmp_path / "p.toml"
    file.write_text('player_rise_sd = 3.0\n[instruments."double horn"]\nrise_mean = 12.0\n')
    _, out, _ = drift("fit", SEASON, "--priors", file, "--covariate", "humidity", "--json")
    answer = json.loads(out)
    assert answer["version"] == package.__version__
    settings = answer["settings"]
    assert settings["source"] == str(SEASON)
    assert (settings["start"], settings["covariates"]) == ("stated", ["humidity"])
    assert settings["priors"]["player_rise_sd"] == 3.0
    assert settings["priors"]["instruments"]["double horn"]["rise_mean"] == 12.0
    trumpet = package.Priors().of("Bb trumpet")
    assert settings["priors"]["instruments"]["Bb trumpet"]["rise_mean"] == trumpet.rise_mean
    again = package.fit(
        package.pair(package.load(SEASON)),
        priors=package.Priors.from_table(settings["priors"]),
        covariates=settings["covariates"],
    )
    assert again.to_json()["instruments"] == nearly(answer["instruments"])
    _, out, _ = drift("fit", SEASON, "--method", "mixed", "--without-flagged", "--json")
    settings = json.loads(out)["settings"]
    assert (settings["priors"], settings["without_flagged"]) == (None, True)


@pytest.mark.slow
def test_a_rehearsal_is_left_out_and_counted(drift):
    name = "2026-06-30 hottest"
    season = package.load(SEASON)
    there = int((season.readings["rehearsal"] == name).sum())
    _, out, _ = drift("fit", SEASON, "--method", "mixed", "--without-rehearsal", name, "--json")
    answer = json.loads(out)
    assert answer["settings"]["without_rehearsal"] == [name]
    assert [one for one in answer["left_out"] if one["reason"] == "asked"] == [
        {"reason": "asked", "text": "in rehearsals that were to be left out", "count": there}
    ]
    rest = [one for one in season.names if one != name]
    alone = package.fit(package.pair(season.only(rehearsals=rest)), method="mixed")
    assert answer["instruments"] == nearly(alone.to_json()["instruments"])
    status, _, err = drift("fit", SEASON, "--without-rehearsal", "hottest")
    assert status == 1
    assert "there is no rehearsal 'hottest'" in err
    status, out, _ = drift("slides", SEASON, "--instrument", "double horn", "--celsius", "33",
                           "--without-rehearsal", name)  # fmt: skip
    assert status == 0
    assert "outside" in out


@pytest.mark.slow
def test_one_player_is_answered_for_from_everybodys_readings(drift):
    _, everybody, _ = drift("fit", SEASON, "--json")
    status, out, _ = drift("fit", SEASON, "--player", "Isolde", "--json")
    answer = json.loads(out)
    assert status == 0
    assert set(answer["instruments"]) == {"Bb trumpet"}
    mine = answer["instruments"]["Bb trumpet"]
    theirs = json.loads(everybody)["instruments"]["Bb trumpet"]
    assert mine["players"] == nearly(theirs["players"])
    assert mine["readings_used"] == answer["readings_used"]
    status, _, err = drift("fit", SEASON, "--player", "Nobody")
    assert (status, err.splitlines()[0]) == (1, "drift fit: there is no player 'Nobody'")


@pytest.mark.parametrize("more", [(), ("--apart",), ("--method", "least-squares")])
@pytest.mark.slow
def test_what_was_left_out_is_counted_for_the_player_asked_for(drift, more):
    left_out = {}
    for who in ((), ("--player", "Rowan"), ("--player", "Isolde")):
        answer = json.loads(drift("fit", SEASON, *who, *more, "--without-flagged", "--json")[1])
        left_out[who[1:]] = {one["reason"]: one["count"] for one in answer["left_out"]}
    readings = package.load(SEASON).readings
    flagged = readings[readings["flagged"]]["player"].value_counts()
    rowan, isolde = left_out["Rowan",], left_out["Isolde",]
    assert (rowan["flagged"], isolde["flagged"]) == (flagged["Rowan"], flagged["Isolde"])
    assert all(
        rowan.get(reason, 0) + isolde.get(reason, 0) == count
        for reason, count in left_out[()].items()
    )


@pytest.mark.slow
@pytest.mark.parametrize("method", ["least-squares", "mixed"])
def test_the_classical_methods_give_a_table_and_its_choices(drift, method):
    status, out, _ = drift("fit", SEASON, "--method", method)
    assert status == 0
    assert "standard error" in out
    assert "cents/minute" in out
    _, out, _ = drift("fit", SEASON, "--method", method, "--json")
    diagnostics = json.loads(out)["diagnostics"]["double horn"]
    assert {"durbin_watson", "breusch_pagan_p", "condition_number", "covariance"} <= set(
        diagnostics
    )


def test_physics_needs_no_readings(drift):
    status, out, _ = drift("fit", "physics")
    assert (status, out) == (0, "acoustics alone, no readings\n")


@pytest.mark.slow
def test_compare_lists_each_method_and_no_drift(drift):
    _, out, _ = drift("fit", SEASON, "--compare", "--json")
    answer = json.loads(out)
    table = {row["method"]: row["rms_cents"] for row in answer["comparison"]}
    assert len(answer["shapes"]) == 5
    assert set(table) == {"bayesian", "least-squares", "mixed", "no drift"}
    assert table["bayesian"] < table["least-squares"] < table["no drift"]


@pytest.mark.slow
def test_advice_is_a_sentence(drift):
    _, out, _ = drift("fit", SEASON, "--advise", 33)
    assert "to know the drift at 33 °C of the double horn better, read the same notes" in out


def test_advice_for_no_temperature_is_refused_in_two_lines(drift):
    status, out, err = drift("fit", SEASON, "--advise", "hot")
    assert (status, out) == (1, "")
    assert err.splitlines() == [
        "drift fit: 'hot' is not a temperature",
        "write a number of °C, or of °F as in 50F",
    ]


@pytest.mark.slow
def test_a_plot_is_written(drift, tmp_path):
    status, out, _ = drift("fit", SEASON, "--plot", tmp_path / "fit.svg")
    assert status == 0
    assert (tmp_path / "fit.svg").read_text().startswith("<?xml")
    assert "drawn: " in out


def test_nothing_is_noticed_apart_by_a_straight_line(drift):
    status, _, err = drift("fit", SEASON, "--apart", "--method", "mixed")
    assert status != 0
    assert "the method mixed notices nothing that could be fitted apart" in err


@pytest.mark.slow
def test_what_was_expected_is_drawn_with_the_readings_over_it(drift, tmp_path):
    status, out, _ = drift("fit", SEASON, "--plot-priors", tmp_path / "priors.svg")
    assert (status, f"drawn: {tmp_path / 'priors.svg'}" in out) == (0, True)
    drawn = (tmp_path / "priors.svg").read_text("utf-8")
    assert "expected before any reading" in drawn
    assert "read when warm" in drawn


@pytest.mark.parametrize("how", [(SEASON, "--method", "mixed"), ("acoustics",)])
def test_nothing_is_expected_without_priors_or_readings(drift, tmp_path, how):
    status, _, err = drift("fit", *how, "--plot-priors", tmp_path / "priors.svg")
    assert status != 0
    assert "expects nothing of readings before there are any" in err


@pytest.mark.slow
def test_a_plot_that_cannot_be_written_is_refused_in_two_lines(drift, tmp_path):
    for path in (tmp_path / "no" / "fit.svg", tmp_path / "fit.tune"):
        status, _, err = drift("fit", SEASON, "--plot", path)
        assert status == 1
        assert len(err.splitlines()) == 2
        assert "cannot be written" in err
        assert "/." not in err  # the unfinished file, which nobody knows
        assert "Errno" not in err


def test_an_unknown_method_is_wrong_usage(drift):
    assert drift("fit", SEASON, "--method", "magic")[0] == 2


def test_a_folder_that_is_not_there_is_refused(drift):
    status, _, err = drift("fit", "nowhere")
    assert status == 1
    assert len(err.splitlines()) == 2


def test_the_help_has_an_example():
    assert "for example:\n  drift fit" in description


@pytest.mark.slow
def test_covariates_a_formula_and_priors_are_options(drift, tmp_path):
    _, out, _ = drift("fit", SEASON, "--covariate", "humidity", "--json")
    assert set(json.loads(out)["instruments"]["double horn"]["covariates"]) == {"humidity"}
    formula = ("--method", "least-squares", "--formula", "cents ~ drift + humidity")
    status, out, err = drift("fit", SEASON, *formula)
    assert (status, err) == (0, "")
    assert "humidity: " in out
    priors = tmp_path / "priors.toml"
    priors.write_text("reading_sd = 9.0\n")
    _, out, _ = drift("fit", SEASON, "--priors", priors, "--json")
    assert json.loads(out)["method"] == "bayesian"
    priors.write_text("reading = 9.0\n")
    status, _, err = drift("fit", SEASON, "--priors", priors)
    assert status == 1
    assert "reading" in err


def test_the_answer_names_the_thermometers_that_were_used(drift):
    _, out, _ = drift("fit", SEASON, "--method", "least-squares", "--json")
    settings = json.loads(out)["settings"]
    assert settings["thermometer"] is None
    assert settings["thermometers_used"] == ["hall"]


@pytest.mark.slow
def test_another_thermometer_serves_some_rehearsals_and_the_answer_says_so(drift, tmp_path):
    for path in SEASON.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    table = (tmp_path / "temperatures.csv").read_text(encoding="utf-8")
    lines = [
        line.replace(",hall", ",case") if "heating off" in line else line
        for line in table.splitlines()
    ]
    (tmp_path / "temperatures.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    status, out, _ = drift("fit", tmp_path)
    used = out.split(" readings", 1)[0]
    assert (status, used) == (0, drift("fit", SEASON)[1].split(" readings", 1)[0])
    assert "Temperatures are those of hall; where it was not there, of case." in out
    drift("import", tmp_path / "band.logbook", tmp_path)
    _, checked, _ = drift("check", tmp_path / "band.logbook")
    assert "several thermometers: Temperatures are those of hall" in checked
    _, fewer, _ = drift("fit", tmp_path, "--thermometer", "hall")
    assert "in rehearsals without the chosen thermometer" in fewer


def test_a_wide_table_in_local_time_is_fitted_as_the_long_one_in_utc(drift, tmp_path):
    season = package.load(SEASON)
    long, wide = tmp_path / "long", tmp_path / "wide"
    readings = season.readings.drop_duplicates(["time", "player", "note"])
    for folder, local in ((long, False), (wide, True)):
        folder.mkdir()
        for name in ("readings", "temperatures", "events"):
            table = readings if name == "readings" else getattr(season, name)
            if local:
                told = table["time"].dt.tz_convert("Europe/Berlin").dt.tz_localize(None)
                table = table.assign(time=told.astype(str))
            if local and name == "readings":
                keys = [one for one in table if one not in ("note", "cents", "remark", "cents_sd",
                                                            "pair_probability")]  # fmt: skip
                table = table.pivot(index=keys, columns="note", values="cents").reset_index()
                table = table.sort_values(["rehearsal", "time"], kind="stable")
            table.to_csv(folder / f"{name}.csv", index=False)
    expected = json.loads(drift("fit", long, "--method", "least-squares", "--json")[1])
    status, out, err = drift(
        "fit", wide, "--method", "least-squares", "--wide", "--zone", "Europe/Berlin", "--json"
    )
    assert (status, err) == (0, "")
    found = json.loads(out)
    assert found["readings_used"] == expected["readings_used"]
    horn = [one["instruments"]["double horn"]["population"] for one in (found, expected)]
    assert horn[0]["cents_per_celsius"] == pytest.approx(horn[1]["cents_per_celsius"])


def test_how_tables_are_written_is_of_no_use_for_a_logbook(drift, tmp_path):
    drift("import", tmp_path / "band.logbook", SEASON)
    status, _, err = drift("fit", tmp_path / "band.logbook", "--wide")
    assert status == 1
    assert "--wide says how tables are written, and" in err


def test_an_engine_that_is_not_asked_for_or_cannot_do_it_is_refused(drift):
    status, _, err = drift("fit", SEASON, "--scheduler", "tcp://127.0.0.1:8786")
    assert status == 1
    assert "--scheduler has no use without --engine" in err
    status, _, err = drift("fit", SEASON, "--engine", "dask", "--compare", "--player", "Rowan")
    assert status == 1
    assert "--player, --compare cannot be combined with --engine" in err


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_a_data_set_is_fitted_by_processes_of_this_computer(drift, tmp_path):
    season = package.load(SEASON)
    folder = tmp_path / "season.parquet"
    folder.mkdir()
    for name in ("readings", "temperatures", "events"):
        getattr(season, name).to_parquet(folder / f"{name}.parquet", index=False)
    how = ("--method", "least-squares", "--json")
    status, out, err = drift("fit", folder, "--engine", "dask", *how)
    assert (status, err) == (0, "")
    expected = json.loads(drift("fit", folder, *how)[1])["instruments"]["double horn"]
    found = json.loads(out)["instruments"]["double horn"]
    assert found["population"]["cents_per_celsius"]["estimate"] == pytest.approx(
        expected["population"]["cents_per_celsius"]["estimate"], rel=1e-9
    )


def test_a_fit_says_where_nobody_logged_when_playing_began(drift, tmp_path):
    season = package.load(SEASON)
    names = season.names
    folder = tmp_path / "f"
    folder.mkdir()
    season.readings.to_parquet(folder / "readings.parquet")
    season.temperatures.to_parquet(folder / "temperatures.parquet")
    season.events[season.events["rehearsal"] != names[2]].to_parquet(folder / "events.parquet")
    _, out, _ = drift("fit", folder, "--method", "least-squares")
    assert f"to look at: No event says when playing began on {names[2]}: taken as a minute" in out
    assert "which makes the rise too small where people had played for longer" in out
    assert "with a row play and its time" in out
    _, out, _ = drift("fit", SEASON, "--method", "least-squares")
    assert "No event" not in out
