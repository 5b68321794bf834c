"""Whatever stands in the three files: a record comes out, or a refusal that names the file."""

from datetime import UTC

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drift.errors import InputError
from drift.gig.roster import read_roster
from drift.gig.timetable import read_schedule
from drift.gig.weather import read_forecast
from drift.tables.problems import parts_of

HEADERS = {
    "forecast.csv": "time,celsius,humidity_percent,wind_m_s",
    "schedule.csv": "start,end,activity,offset_celsius",
    "roster.csv": "section,instrument,slide,at_mm,travel_mm,stuck",
}
READERS = {
    "forecast.csv": lambda path: read_forecast(path, UTC),
    "schedule.csv": lambda path: read_schedule(path, UTC),
    "roster.csv": read_roster,
}
CELLS = st.one_of(
    st.sampled_from(
        ["", "2026-10-09T18:00Z", "2026-10-09T19:30-04:00", "0001-01-01T00:00+14:00",
         "9999-12-31T23:59-14:00", "18:30", "23:59:59", "9.5", "-3", "nan", "1e999", "play", "rest",
         "tune", "Bb trumpet", "double horn", "main", "F", "yes", "no", "glockenspiel", '"', '","']
    ),
    st.text(max_size=8),
)  # fmt: skip
ROWS = st.lists(st.lists(CELLS, min_size=1, max_size=6).map(",".join), max_size=5).map("\n".join)


@pytest.mark.parametrize("name", HEADERS)
@given(rows=ROWS, header=st.booleans())
@settings(
    max_examples=150,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
def test_nothing_but_a_record_or_a_refusal(tmp_path, name, rows, header):
    path = tmp_path / name
    path.write_bytes(f"{HEADERS[name]}\n{rows}".encode("utf-8", "surrogatepass") if header
                     else rows.encode("utf-8", "surrogatepass"))  # fmt: skip
    refusal = None
    try:
        assert READERS[name](path)
    except InputError as error:
        refusal = error
    if refusal is not None:
        assert all("\n" not in found.problem and found.remedy for found in parts_of(refusal))
