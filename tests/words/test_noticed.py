"""What is spoilt in a study, in words."""

from dataclasses import replace

import pandas as pd
import pytest

import drift
from drift.pairing.spoilt import Spoilt, SpoiltKind
from drift.words import noticed
from drift.words.noticed import findings, sentences

SEASON = drift.load(drift.shipped.folder("datasets/cold-hall-season"))


def test_findings_and_sentences_of_copied_rows():
    first, second = SEASON.names[:2]
    copies = [
        SEASON.readings[SEASON.readings["rehearsal"] == name].head(count)
        for name, count in ((first, 2), (second, 1))
    ]
    table = pd.concat([SEASON.readings, *copies], ignore_index=True)
    study = drift.Study.open(replace(SEASON, readings=table))
    two = f"2 readings of {first} are there twice. Remove the copies."
    one = f"1 reading of {second} is there twice. Remove the copy."
    assert findings(study) == [("duplicates", two), ("duplicates", one)]
    assert sentences(study.spoilt, ()) == [two, one]
    assert sentences(study.spoilt, (), first) == [two]


def test_of_more_readings_than_are_searched_that_is_said_and_nothing_is_fitted(monkeypatch):
    monkeypatch.setattr(noticed, "MOST_READINGS", 100)
    study = drift.Study(SEASON)
    monkeypatch.setattr(drift.Study, "fit", property(lambda self: pytest.fail("a fit for nothing")))
    kind, text = findings(study)[-1]
    assert kind == "not searched"
    assert "readings are more than 100" in text


def test_thermometers_and_clocks_that_are_off_all_season_are_named_once_with_the_one_in_use():
    names = SEASON.names
    other = SEASON.temperatures.assign(source="box", celsius=SEASON.temperatures["celsius"] + 2.0)
    table = pd.concat([SEASON.temperatures.assign(source="air"), other], ignore_index=True)
    study = drift.Study.open(replace(SEASON, temperatures=table))
    told = [text for _, text in findings(study) if "box" in text]
    assert told == [
        f"air and box differ by 2.0 °C on {', '.join(names[:5])} and {len(names) - 5} more. "
        "Compare them side by side."
    ]
    used = "Temperatures are those of air; --thermometer NAME takes another one's."
    assert used in [text for _, text in findings(study)]
    assert used in noticed.beside(study, study.fit)
    clocks = [
        Spoilt(SpoiltKind.CLOCK, name, size=share, other=hours)
        for name, share, hours in (("A", 0.5, "+1"), ("B", 0.75, "+1"), ("C", 0.5, "-1"))
    ]
    assert sentences(clocks, ()) == [
        "50 to 75 % of the readings of A, B lie outside the time that was logged; 1 hour later "
        "fits. Check clock and time zone.",
        "50 % of the readings of C lie outside the time that was logged; 1 hour earlier fits. "
        "Check clock and time zone.",
    ]
