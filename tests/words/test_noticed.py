"""What is spoilt in a study, in words."""

from dataclasses import replace

import pandas as pd
import pytest

import drift
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
