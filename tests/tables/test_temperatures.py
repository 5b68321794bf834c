"""Temperatures as a logger or people write them: rows without one, and cells with a unit."""

import numpy as np
import pandas as pd
import pytest

import drift
from drift.errors import InputError
from drift.tables.understood import Gaps
from tests.folders import write

READINGS = (
    "time,rehearsal,player,instrument,side,note,cents\n"
    "2026-10-03T18:02:00Z,hall,Rowan,double horn,F,F4,4.0\n"
)
WHEN = [f"2026-10-03T18:0{minute}:00Z" for minute in range(4)]


def hall(*degrees):
    rows = [f"{time},{value}\n" for time, value in zip(WHEN, degrees, strict=True)]
    return "time,celsius\n" + "".join(rows)


def gaps(taken):
    return [one[1:] for one in taken.understood if isinstance(one, Gaps)]


@pytest.mark.parametrize("heading", ["celsius", "fahrenheit"])
def test_rows_of_a_file_without_a_temperature_are_passed_over_and_counted(tmp_path, heading):
    warm = ("61.5", "62") if heading == "fahrenheit" else ("16.5", "17")
    text = hall(warm[0], "", warm[1], " ").replace("celsius", heading)
    folder = write(tmp_path / "tables", readings=READINGS, temperatures=text)
    taken = drift.load(folder)
    assert len(taken.temperatures) == 2
    ((rows, first),) = gaps(taken)
    assert rows == 2
    assert first.endswith("temperatures.csv line 3")


def test_a_frame_with_nan_is_taken_as_a_file(tmp_path):
    (tmp_path / "readings.csv").write_text(READINGS, encoding="utf-8")
    frame = pd.DataFrame({"time": WHEN, "celsius": [16.5, np.nan, 17.0, 17.5]})
    readings = pd.read_csv(tmp_path / "readings.csv")
    taken = drift.load({"readings": readings, "temperatures": frame})
    assert taken.temperatures["celsius"].tolist() == [16.5, 17.0, 17.5]
    assert gaps(taken)[0][0] == 1


def test_a_file_with_no_temperature_at_all_is_refused(tmp_path):
    folder = write(tmp_path / "tables", readings=READINGS, temperatures=hall("", "", "", ""))
    with pytest.raises(InputError, match="celsius is empty"):
        drift.load(folder)


def test_a_word_in_place_of_a_temperature_is_refused_still(tmp_path):
    text = hall("16.5", "warm", "", "17")
    folder = write(tmp_path / "tables", readings=READINGS, temperatures=text)
    with pytest.raises(InputError, match="warm"):
        drift.load(folder)


@pytest.mark.parametrize("heading", ["celsius", "fahrenheit"])
def test_a_cell_that_names_its_own_unit_is_of_that_unit(tmp_path, heading):
    text = hall("68 F", "20C", "68 °F", "20 °C").replace("celsius", heading)
    folder = write(tmp_path / "tables", readings=READINGS, temperatures=text)
    assert drift.load(folder).temperatures["celsius"].tolist() == pytest.approx([20.0] * 4)
    write(tmp_path / "tables", readings=READINGS, temperatures=text.replace("20C", "20K"))
    with pytest.raises(InputError, match=f"line 3: {heading} '20K' is not a number"):
        drift.load(folder)
