"""Parts of what was logged."""

import pandas as pd

from drift import shipped
from drift.logbook.records import RECORDS
from drift.logbook.rehearsals import load


def test_what_was_known_at_a_time_holds_nothing_later():
    season = load(shipped.folder("datasets/cold-hall-season"))
    name = season.names[3]
    inside = season.readings.loc[season.readings["rehearsal"] == name, "time"]
    cut = inside.iloc[len(inside) // 2]  # in the middle of a rehearsal
    known = season.before(cut.to_pydatetime())
    for table in RECORDS:
        whole, part = getattr(season, table), getattr(known, table)
        pd.testing.assert_frame_equal(part, whole[whole["time"] < cut].reset_index(drop=True))
    assert known.names == season.names[:4]
    everything = season.before(pd.Timestamp("2100-01-01", tz="UTC").to_pydatetime())
    assert everything.same_as(season)
