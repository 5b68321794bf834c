"""The tables of a logbook, and the steps from each older schema to the next.

History is append-only: the triggers refuse to change or delete a row of the history, and taking
an entry back is a row of its own. The limits repeat those of `drift.logbook.records` in SQL, so
that no program writes what the project could not read; a test holds the two together.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable

from drift.logbook.digests import append

__all__ = [
    "APPLICATION_ID",
    "BEGUN_HERE",
    "CHOICES",
    "HISTORY",
    "INSTRUMENT_OF",
    "INTERRUPTED",
    "KEYS_FROM",
    "LAST_BY_HAND",
    "LAST_TIME",
    "MIGRATIONS",
    "PLAYERS",
    "TAKEN_BACK_BY",
    "Step",
    "rows_query",
]

#: Marks a SQLite file as a logbook of this project: "DRFT" in ASCII.
APPLICATION_ID = 0x44524654

_FIRST_HISTORY = (
    "rehearsal",
    "entry",
    "reading",
    "temperature",
    "event",
    "calibration",
    "notice",
    "choice",
    "undo",
    "session",
)
#: The tables that may only grow.
HISTORY = (*_FIRST_HISTORY, "digest")

_TABLES = """
CREATE TABLE rehearsal (
    rehearsal_id INTEGER PRIMARY KEY,
    name TEXT NOT NULL UNIQUE CHECK (name <> '')
) STRICT;

-- One row for whatever was kept, in the order it was kept.
CREATE TABLE entry (
    entry_id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL CHECK (kind IN
        ('reading', 'temperature', 'event', 'calibration', 'notice', 'choice', 'undo')),
    rehearsal_id INTEGER REFERENCES rehearsal,
    time_us INTEGER NOT NULL,        -- microseconds since 1970-01-01T00:00:00Z
    once TEXT UNIQUE                 -- a key that keeps a repeated entry from counting twice
) STRICT;
CREATE INDEX entry_by_rehearsal ON entry (rehearsal_id, kind);

CREATE TABLE reading (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    player TEXT NOT NULL CHECK (player <> ''),
    instrument TEXT NOT NULL CHECK (instrument <> ''),
    side TEXT NOT NULL,
    note TEXT NOT NULL CHECK (note <> ''),
    cents REAL NOT NULL CHECK (cents BETWEEN -200 AND 200),
    a4_hz REAL NOT NULL CHECK (a4_hz BETWEEN 380 AND 500),
    remark TEXT NOT NULL
) STRICT;

CREATE TABLE temperature (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    celsius REAL NOT NULL CHECK (celsius BETWEEN -40 AND 60),
    humidity_percent REAL CHECK (humidity_percent BETWEEN 0 AND 100),
    pressure_hpa REAL CHECK (pressure_hpa BETWEEN 500 AND 1100),
    source TEXT NOT NULL
) STRICT;

CREATE TABLE event (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    player TEXT NOT NULL,
    instrument TEXT NOT NULL,
    event TEXT NOT NULL CHECK (event IN ('start', 'end', 'play', 'rest', 'slide', 'remark')),
    slide TEXT NOT NULL,
    millimetres REAL CHECK (millimetres BETWEEN 0 AND 1000),
    remark TEXT NOT NULL,
    CHECK ((event = 'slide') = (slide <> '' AND millimetres IS NOT NULL)),
    CHECK (event = 'slide' OR (slide = '' AND millimetres IS NULL))
) STRICT;

CREATE TABLE calibration (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    player TEXT NOT NULL CHECK (player <> ''),
    instrument TEXT NOT NULL CHECK (instrument <> ''),
    slide TEXT NOT NULL CHECK (slide <> ''),
    side TEXT NOT NULL,
    cents_per_mm REAL NOT NULL CHECK (cents_per_mm BETWEEN -20 AND -0.01),
    low REAL,
    high REAL,
    readings INTEGER CHECK (readings BETWEEN 2 AND 1000000000),
    remark TEXT NOT NULL
) STRICT;

CREATE TABLE notice (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    source TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind <> ''),
    text TEXT NOT NULL
) STRICT;

-- Who is playing what, as chosen at the terminal, so that an interrupted rehearsal resumes there.
CREATE TABLE choice (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    what TEXT NOT NULL CHECK (what IN ('player', 'instrument')),
    name TEXT NOT NULL CHECK (name <> '')
) STRICT;

CREATE TABLE undo (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    undone_id INTEGER NOT NULL UNIQUE REFERENCES entry
) STRICT;

-- A rehearsal that a program began to log; it is over when an 'end' follows.
CREATE TABLE session (
    session_id INTEGER PRIMARY KEY,
    rehearsal_id INTEGER NOT NULL REFERENCES rehearsal,
    start_id INTEGER NOT NULL REFERENCES entry
) STRICT;

-- The key to names replaced on export; it never leaves the logbook.
CREATE TABLE pseudonym (
    player TEXT PRIMARY KEY CHECK (player <> ''),
    pseudonym TEXT NOT NULL UNIQUE CHECK (pseudonym <> '')
) STRICT;
"""


def _append_only(*tables: str) -> list[str]:
    return [
        f"CREATE TRIGGER {table}_never_{word} BEFORE {word.upper()} ON {table} "
        "BEGIN SELECT RAISE(ABORT, 'the history of a logbook only grows'); END"
        for table in tables
        for word in ("update", "delete")
    ]


def _statements(text: str) -> list[str]:
    return [statement for statement in text.split(";\n") if statement.strip()]


# What remarks and one name hid in version 0.1 has columns of its own. A column with a limit that
# involves others cannot be added to a table, so both are made anew from all they hold.
_OWN_COLUMNS = """
CREATE TABLE reading_2 (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    player TEXT NOT NULL CHECK (player <> ''),
    instrument TEXT NOT NULL CHECK (instrument <> ''),
    side TEXT NOT NULL,
    note TEXT NOT NULL CHECK (note <> ''),
    cents REAL NOT NULL CHECK (cents BETWEEN -200 AND 200),
    a4_hz REAL NOT NULL CHECK (a4_hz BETWEEN 380 AND 500),
    cents_sd REAL CHECK (cents_sd BETWEEN 0.001 AND 200),
    pair_probability REAL CHECK (pair_probability BETWEEN 0 AND 1),
    flagged INTEGER NOT NULL CHECK (flagged IN (0, 1)),
    remark TEXT NOT NULL
) STRICT;
INSERT INTO reading_2
    SELECT entry_id, player, instrument, side, note, cents, a4_hz, NULL, NULL,
           remark LIKE '!%', CASE WHEN remark LIKE '!%' THEN trim(substr(remark, 2)) ELSE remark END
    FROM reading ORDER BY entry_id;
DROP TABLE reading;
ALTER TABLE reading_2 RENAME TO reading;

CREATE TABLE event_2 (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    player TEXT NOT NULL,
    instrument TEXT NOT NULL,
    event TEXT NOT NULL
        CHECK (event IN ('start', 'end', 'play', 'rest', 'slide', 'tuned', 'remark')),
    slide TEXT NOT NULL,
    position_mm REAL CHECK (position_mm BETWEEN 0 AND 1000),
    side TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('', 'cold', 'warm')),
    already_warm INTEGER NOT NULL CHECK (already_warm IN (0, 1)),
    remark TEXT NOT NULL,
    CHECK ((slide <> '') = (position_mm IS NOT NULL)),
    CHECK (event <> 'slide' OR slide <> ''),
    CHECK (event IN ('slide', 'tuned') OR slide = ''),
    CHECK (event = 'tuned' OR (side = '' AND state = '')),
    CHECK (event IN ('start', 'play') OR NOT already_warm)
) STRICT;
INSERT INTO event_2
    SELECT entry_id, player, instrument, event, slide, millimetres, '', '',
           event IN ('start', 'play') AND remark = 'already warm',
           CASE WHEN event IN ('start', 'play') AND remark = 'already warm' THEN '' ELSE remark END
    FROM event ORDER BY entry_id;
DROP TABLE event;
ALTER TABLE event_2 RENAME TO event;
"""

# The side that is played and the pitch of A4 are chosen like player and instrument.
_CHOICES = """
CREATE TABLE choice_2 (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    what TEXT NOT NULL CHECK (what IN ('player', 'instrument', 'side', 'a4')),
    name TEXT NOT NULL CHECK (name <> '')
) STRICT;
INSERT INTO choice_2 SELECT entry_id, what, name FROM choice ORDER BY entry_id;
DROP TABLE choice;
ALTER TABLE choice_2 RENAME TO choice;
"""

# So are the way notes are typed and the units, which are everyone's like the pitch of A4.
_HOW_TYPED = """
CREATE TABLE choice_2 (
    entry_id INTEGER PRIMARY KEY REFERENCES entry,
    what TEXT NOT NULL CHECK (what IN ('player', 'instrument', 'side', 'a4', 'notes', 'units')),
    name TEXT NOT NULL CHECK (name <> '')
) STRICT;
INSERT INTO choice_2 SELECT entry_id, what, name FROM choice ORDER BY entry_id;
DROP TABLE choice;
ALTER TABLE choice_2 RENAME TO choice;
"""

_DIGESTS = """
-- One row for each transaction, and for each block of entries that it filled.
CREATE TABLE digest (
    last_id INTEGER PRIMARY KEY,
    first_id INTEGER NOT NULL,       -- of the block
    checks BLOB NOT NULL,            -- four bytes for each entry of this row
    digest BLOB NOT NULL CHECK (length(digest) = 32)
) STRICT
"""

# An index that holds nothing for entries without a key, and one without the kinds: together they
# were a quarter of a logbook.
_SMALLER_INDEXES = """
CREATE TABLE entry_2 (
    entry_id INTEGER PRIMARY KEY AUTOINCREMENT,
    kind TEXT NOT NULL CHECK (kind IN
        ('reading', 'temperature', 'event', 'calibration', 'notice', 'choice', 'undo')),
    rehearsal_id INTEGER REFERENCES rehearsal,
    time_us INTEGER NOT NULL,        -- microseconds since 1970-01-01T00:00:00Z
    once TEXT                        -- a key that keeps a repeated entry from counting twice
) STRICT;
INSERT INTO entry_2 SELECT entry_id, kind, rehearsal_id, time_us, once FROM entry ORDER BY entry_id;
DROP TABLE entry;
ALTER TABLE entry_2 RENAME TO entry;
CREATE UNIQUE INDEX entry_by_key ON entry (once) WHERE once IS NOT NULL;
CREATE INDEX entry_by_rehearsal ON entry (rehearsal_id);
"""

#: One step from a schema to the next: statements, and functions for what SQL cannot do.
Step = tuple[str | Callable[[sqlite3.Connection], None], ...]
#: ``MIGRATIONS[n]`` leads from schema version n to n + 1.
MIGRATIONS: tuple[Step, ...] = (
    (
        f"PRAGMA application_id = {APPLICATION_ID}",
        *_statements(_TABLES),
        *_append_only(*_FIRST_HISTORY),
    ),
    (*_statements(_OWN_COLUMNS), *_append_only("reading", "event")),
    (_DIGESTS, *_append_only("digest"), append),
    (*_statements(_CHOICES), *_append_only("choice")),
    (*_statements(_HOW_TYPED), *_append_only("choice")),
    (*_statements(_SMALLER_INDEXES), *_append_only("entry")),
)

# The last entry that a person made in a rehearsal and that still stands.
LAST_BY_HAND = """
SELECT e.entry_id, e.kind FROM entry e
JOIN rehearsal r USING (rehearsal_id)
LEFT JOIN undo u ON u.undone_id = e.entry_id
LEFT JOIN event ON event.entry_id = e.entry_id
LEFT JOIN temperature t ON t.entry_id = e.entry_id
WHERE r.name = ? AND u.entry_id IS NULL
  AND (e.kind IN ('reading', 'choice')
       OR (e.kind = 'temperature' AND t.source = ?)
       OR (e.kind = 'event' AND event.event NOT IN ('start', 'end')))
  AND e.entry_id = coalesce(?, e.entry_id)
ORDER BY e.entry_id DESC LIMIT 1"""

# The entries that were kept with keys of a beginning.
KEYS_FROM = "SELECT entry_id, once FROM entry WHERE once >= ? AND once < ?"

# What an undo took back.
TAKEN_BACK_BY = """
SELECT e.entry_id, e.kind FROM undo u JOIN entry e ON e.entry_id = u.undone_id
WHERE u.entry_id = ?"""

# The player, the instrument, the side, A4, notes and units, in the order they were chosen.
CHOICES = """
SELECT c.what, c.name FROM choice c CROSS JOIN entry e NOT INDEXED USING (entry_id)
JOIN rehearsal r USING (rehearsal_id)
WHERE r.name = ? AND e.kind = 'choice' AND e.entry_id NOT IN (SELECT undone_id FROM undo)
ORDER BY e.entry_id"""

# What a player had last by readings and slides, those of one rehearsal before all others.
INSTRUMENT_OF = """
SELECT t.instrument FROM (
    SELECT entry_id, instrument FROM reading WHERE player = ?
    UNION ALL
    SELECT entry_id, instrument FROM event WHERE player = ? AND instrument <> ''
) t JOIN entry e USING (entry_id) LEFT JOIN rehearsal r USING (rehearsal_id)
WHERE e.entry_id NOT IN (SELECT undone_id FROM undo)
ORDER BY r.name IS ? DESC, e.entry_id DESC LIMIT 1"""

# Everyone who was named and not taken back.
PLAYERS = """
SELECT p.player FROM (
    SELECT entry_id, player FROM reading
    UNION ALL SELECT entry_id, player FROM event WHERE player <> ''
    UNION ALL SELECT entry_id, name FROM choice WHERE what = 'player'
) p WHERE p.entry_id NOT IN (SELECT undone_id FROM undo)
GROUP BY p.player ORDER BY min(p.entry_id)"""

# Rehearsals whose logging began and was not ended since.
INTERRUPTED = """
WITH ended AS (
    SELECT e.rehearsal_id, max(e.entry_id) AS end_id
    FROM event CROSS JOIN entry e NOT INDEXED USING (entry_id)
    WHERE event.event = 'end' AND event.player = ''
      AND e.entry_id NOT IN (SELECT undone_id FROM undo)
    GROUP BY e.rehearsal_id)
SELECT r.name FROM session s JOIN rehearsal r USING (rehearsal_id)
LEFT JOIN ended USING (rehearsal_id)
GROUP BY r.rehearsal_id
HAVING max(s.start_id) > coalesce(max(ended.end_id), 0)
ORDER BY r.rehearsal_id"""

# The start with which a program first logged a rehearsal here.
BEGUN_HERE = """
SELECT coalesce(min(s.start_id), 0) FROM session s JOIN rehearsal r USING (rehearsal_id)
WHERE r.name = ?"""

# When something was last kept in a rehearsal.
LAST_TIME = """
SELECT max(e.time_us) FROM entry e JOIN rehearsal r USING (rehearsal_id) WHERE r.name = ?"""


def rows_query(table: str, columns: Iterable[str]) -> str:
    """Return the query for the rows of one table.

    Parameters
    ----------
    table : str
        A table of the history, such as ``reading``.
    columns : iterable of str
        Its columns.

    Returns
    -------
    str
        Yields number, time, rehearsal, time it was taken back (or NULL) and the columns; takes
        whether the rows were taken back, the entry after which to begin, and the name of the
        rehearsal twice (NULL for all).
    """
    return f"""
        SELECT e.entry_id, e.time_us, coalesce(r.name, ''), taken_back.time_us,
               {", ".join(f"t.{name}" for name in columns)}
        FROM {table} t CROSS JOIN entry e NOT INDEXED ON e.entry_id = t.entry_id
        LEFT JOIN rehearsal r ON r.rehearsal_id = e.rehearsal_id
        LEFT JOIN undo u ON u.undone_id = e.entry_id
        LEFT JOIN entry taken_back ON taken_back.entry_id = u.entry_id
        WHERE (u.entry_id IS NOT NULL) = ? AND t.entry_id > ?
          AND (? IS NULL OR r.name = ?)
        ORDER BY e.rehearsal_id, e.time_us, e.entry_id"""
