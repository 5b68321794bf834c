"""A table that names no rehearsals goes by the time of the readings, which name theirs."""

import openpyxl
import pandas as pd
import pytest

import drift
from drift.errors import InputError, TooLittleData
from drift.tables.understood import ByTime

ZONE = "Europe/Berlin"
EVENING = pd.Timestamp("2026-03-03 19:00", tz=ZONE)


def at(minutes, day=0):
    return EVENING + pd.Timedelta(minutes=minutes, days=day)


def local(time):
    return time.strftime("%Y-%m-%d %H:%M:%S")


def utc(time):
    return time.tz_convert("UTC").strftime("%Y-%m-%dT%H:%M:%SZ")


def readings(*rehearsals):
    """Return a reading every ten minutes for two hours, of a player each, in local time."""
    rows = [
        (local(at(minute + late, day)), name, player, "Bb trumpet", "F4", 3.0)
        for name, day, late, player in rehearsals
        for minute in range(0, 121, 10)
    ]
    return pd.DataFrame(
        rows, columns=["time", "rehearsal", "player", "instrument", "note", "cents"]
    )


def logger(first, last, day=0, celsius=20.0):
    """Return a temperature every five minutes, in UTC."""
    times = [at(minute, day) for minute in range(first, last + 1, 5)]
    return pd.DataFrame({"time": map(utc, times), "celsius": celsius, "humidity_percent": 50.0})


TWO = (("hall", 0, 0, "Ada"), ("annex", 7, 0, "Ada"))


def folder(path, tables, kind="csv"):
    path.mkdir(exist_ok=True)
    for name, table in tables.items():
        if kind == "csv":
            table.to_csv(path / f"{name}.csv", index=False)
        else:
            table.to_parquet(path / f"{name}.parquet", index=False)
    return path


def mentioned(found):
    return [one for one in found.understood if isinstance(one, ByTime)]


def test_the_plain_file_of_a_logger_is_paired_by_time(tmp_path):
    tables = {
        "readings": readings(*TWO),
        "temperatures": pd.concat([logger(-20, 140), logger(-20, 140, 7, 23.0)]),
    }
    found = drift.load(folder(tmp_path / "one", tables), zone=ZONE)
    assert dict(found.temperatures.groupby("rehearsal").size()) == {"annex": 33, "hall": 33}
    paired = drift.pair(found)
    assert list(paired.frame["celsius"]) == [20.0] * 13 + [23.0] * 13
    assert paired.frame["humidity_percent"].notna().all()
    (told,) = mentioned(found)
    assert (told.left_out, told.rows) == (0, 66)


def test_a_logger_that_ran_all_week_is_taken_around_the_rehearsals_alone(tmp_path):
    tables = {"readings": readings(*TWO), "temperatures": logger(-600, 8 * 1440)}
    found = drift.load(folder(tmp_path / "week", tables), zone=ZONE)
    spans = found.temperatures.groupby("rehearsal")["time"].agg(["min", "max"])
    for name, day in (("hall", 0), ("annex", 7)):
        assert list(spans.loc[name]) == [at(-60, day), at(180, day)]
    (told,) = mentioned(found)
    assert told.left_out == told.rows - 98


def test_two_rehearsals_close_together_share_the_air_between_them(tmp_path):
    near = (("early", 0, 0, "Ada"), ("late", 0, 150, "Ada"))
    found = drift.load(
        folder(tmp_path / "near", {"readings": readings(*near), "temperatures": logger(-60, 340)}),
        zone=ZONE,
    )
    spans = found.temperatures.groupby("rehearsal")["time"].agg(["min", "max"])
    assert list(spans.loc["early"]) == [at(-60), at(135)]
    assert list(spans.loc["late"]) == [at(140), at(330)]


def test_two_rooms_at_one_time_must_be_named(tmp_path):
    rooms = (("cold room", 0, 0, "Ada"), ("warm room", 0, 1, "Ben"), ("alone", 7, 0, "Ada"))
    tables = {"readings": readings(*rooms), "temperatures": logger(-20, 140)}
    with pytest.raises(InputError) as refusal:
        drift.load(folder(tmp_path / "rooms", tables), zone=ZONE)
    text = str(refusal.value)
    assert "temperatures.csv line 2: 'cold room' and 'warm room' go on at the same time" in text
    assert "(33 rows alike)" in text
    assert "add a column rehearsal" in text
    assert "'alone'" not in text


def test_loggers_of_two_rooms_one_below_the_other_are_not_called_out_of_order(tmp_path):
    rooms = (("cold room", 0, 0, "Ada"), ("warm room", 0, 1, "Ben"))
    both = pd.concat([logger(-20, 140), logger(-20, 140, celsius=24.0)])
    with pytest.raises(InputError, match="go on at the same time") as refusal:
        drift.load(
            folder(tmp_path / "rooms", {"readings": readings(*rooms), "temperatures": both}),
            zone=ZONE,
        )
    assert "before the row above" not in str(refusal.value)


def test_a_clock_that_is_hours_off_is_still_named(tmp_path):
    began = pd.DataFrame({"time": [local(at(-3)), local(at(125))], "event": ["play", "end"]})
    for hours in (1, 2, -5):
        shifted = logger(-20 - 60 * hours, 140 - 60 * hours)
        tables = {"readings": readings(TWO[0]), "temperatures": shifted, "events": began}
        found = drift.load(folder(tmp_path / f"off{hours}", tables), zone=ZONE)
        (clock,) = (
            one
            for one in drift.Study.open(found).spoilt
            if one.kind.value == "clock of the thermometer"
        )
        assert clock.other == f"{hours:+g}"


def test_events_go_by_time_and_those_of_other_days_stay(tmp_path):
    events = pd.DataFrame(
        [(local(at(-3)), "play", "", "", ""), (local(at(3, 3)), "slide", "Ada", "main", "12")],
        columns=["time", "event", "player", "slide", "position_mm"],
    )
    tables = {
        "readings": readings(*TWO),
        "temperatures": logger(-20, 140),
        "events": events,
    }
    found = drift.load(folder(tmp_path / "events", tables), zone=ZONE)
    assert list(found.events["rehearsal"]) == ["hall", "2026-03-06"]
    assert found.without_a_beginning == ("annex",)


def test_readings_by_day_in_local_time_go_with_a_logger_in_utc_past_its_midnight(tmp_path):
    zone = "America/Chicago"
    day = readings(TWO[0]).drop(columns="rehearsal")
    evening = pd.Timestamp("2026-03-03 19:00", tz=zone)
    times = [evening + pd.Timedelta(minutes=minute) for minute in range(-60, 181, 5)]
    temperatures = pd.DataFrame({"time": map(utc, times), "celsius": 20.0})
    tables = {"readings": day, "temperatures": temperatures}
    found = drift.load(folder(tmp_path / "days", tables), zone=zone)
    assert set(found.temperatures["rehearsal"]) == {"2026-03-03"}
    assert not found.temperatures["time"].isna().any()


def test_every_other_source_goes_by_time_as_well(tmp_path):
    long, air = readings(*TWO), pd.concat([logger(-20, 140), logger(-20, 140, 7)])
    expected = drift.load(
        folder(tmp_path / "csv", {"readings": long, "temperatures": air}), zone=ZONE
    ).temperatures
    path = folder(tmp_path / "parquet", {"readings": long, "temperatures": air}, "parquet")
    wide = long.drop(columns=["note", "cents"]).assign(F4=long["cents"])
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, table in (("readings", long), ("temperatures", air)):
        sheet = book.create_sheet(name)
        for row in [list(table.columns), *table.values.tolist()]:
            sheet.append(row)
    book.save(tmp_path / "log.xlsx")
    instants = air.assign(time=pd.to_datetime(air["time"]))
    for source, how in (
        (path, {}),
        (tmp_path / "log.xlsx", {}),
        (folder(tmp_path / "wide", {"readings": wide, "temperatures": air}), {"wide": True}),
        ({"readings": long, "temperatures": instants}, {}),
    ):
        found = drift.load(source, zone=ZONE, **how)
        pd.testing.assert_frame_equal(found.temperatures, expected)


def test_what_lies_far_from_any_reading_is_not_judged(tmp_path):
    air = pd.concat([logger(-20, 140), logger(0, 0, 3, "---")])
    found = drift.load(
        folder(tmp_path / "dashes", {"readings": readings(*TWO), "temperatures": air}), zone=ZONE
    )
    assert mentioned(found)[0].left_out == 1


def test_a_wrong_time_is_named_with_its_line(tmp_path):
    air = logger(-20, 140)
    air.loc[3, "time"] = "noon"
    with pytest.raises(InputError, match=r"temperatures\.csv line 5: 'noon'"):
        drift.load(
            folder(tmp_path / "noon", {"readings": readings(*TWO), "temperatures": air}), zone=ZONE
        )


def test_names_that_differ_are_named_as_the_cause(tmp_path):
    air = logger(-20, 140).assign(rehearsal="2026-03-03")
    path = folder(tmp_path / "named", {"readings": readings(TWO[0]), "temperatures": air})
    found = drift.load(path, zone=ZONE)
    paired = drift.pair(found)
    assert [(one.reason.value, one.count) for one in paired.left_out] == [("other_rehearsal", 13)]
    with pytest.raises(TooLittleData) as refusal:
        drift.fit(paired)
    assert "no temperature within" not in str(refusal.value)
    assert "no temperature in their rehearsal, though one of another name" in str(refusal.value)
    typed = drift.load(
        {"readings": readings(TWO[0]), "temperatures": air.assign(source="typed")}, zone=ZONE
    )
    assert drift.pair(typed).left_out[0].reason.value == "other_rehearsal"
