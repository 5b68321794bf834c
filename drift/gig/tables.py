"""Tables as people have them: CSV with comma or semicolon, spreadsheets, headings with units."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from drift.errors import InputError
from drift.tables.sources import sheets_of, text_of

__all__ = ["lines_of", "named_columns"]

#: What people write over a column (in small letters, without unit and blanks), and what it is.
WORDS: Mapping[str, str] = {
    **dict.fromkeys(("temp", "temperature", "airtemp", "airtemperature", "t"), "temperature"),
    **dict.fromkeys(("humidity", "rh", "relativehumidity"), "humidity"),
    **dict.fromkeys(("wind", "windspeed"), "wind"),
    **dict.fromkeys(("pressure", "barometer"), "pressure"),
    **dict.fromkeys(("datetime", "dateandtime", "when"), "time"),
    **dict.fromkeys(("begin", "from"), "start"),
    **dict.fromkeys(("until", "to"), "end"),
    **dict.fromkeys(("what", "event"), "activity"),
    **dict.fromkeys(("note", "notes", "comment"), "remark"),
    **dict.fromkeys(("number", "count", "howmany"), "players"),
    **dict.fromkeys(("position", "at"), "position"),
    "travel": "travel",
}
#: The columns here of what is measured in a unit, by unit; an empty unit is the one that is taken
#: where none is written.
UNITS: Mapping[str, Mapping[str, str]] = {
    "temperature": {"c": "celsius", "f": "fahrenheit"},
    "humidity": {"": "humidity_percent", "%": "humidity_percent"},
    "wind": {"m/s": "wind_m_s", "km/h": "wind_km_h", "mph": "wind_mph", "kn": "wind_knots"},
    "pressure": {"hpa": "pressure_hpa", "mbar": "pressure_hpa"},
    "position": {"": "position_mm", "mm": "position_mm"},
    "travel": {"": "travel_mm", "mm": "travel_mm"},
}
_SAME_UNIT = {"kmh": "km/h", "kph": "km/h", "kt": "kn", "knots": "kn", "ms": "m/s"}


def lines_of(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield each line of a table with its number, the heading first.

    Parameters
    ----------
    path : Path
        CSV in UTF-8 with commas, semicolons or tabs; or a spreadsheet (``.xlsx``, ``.ods``),
        whose first sheet is read.

    Raises
    ------
    InputError
        When the file cannot be read, or has a quote that is not closed.
    """
    path = Path(path)
    if path.suffix.lower() in (".xlsx", ".xlsm", ".xls", ".ods"):
        first_sheet = next(iter(sheets_of(path).values()), [])
        for number, row in enumerate(first_sheet, start=1):
            yield number, [text_of(cell) for cell in row]
        return
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise InputError(
            f"{path} cannot be read: {error.strerror or error}", "check the name of the file"
        ) from None
    except UnicodeDecodeError:
        raise InputError(f"{path} is not UTF-8 text", "save it as CSV in UTF-8") from None
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)  # the first of them where none is there
    reader = csv.reader(io.StringIO(text, newline=""), strict=True, delimiter=delimiter)
    try:
        for cells in reader:
            yield reader.line_num, cells
    except csv.Error as error:
        raise InputError(
            f"{path.name} line {reader.line_num}: {error}", "look for a quote that is not closed"
        ) from None


def named_columns(
    heads: Iterable[str], allowed: Iterable[str], given: Mapping[str, str] | None = None
) -> tuple[list[str], list[InputError]]:
    """Return the name of each column, from what is written over it, and what is wrong there.

    Parameters
    ----------
    heads : iterable of str
        The heading of a table.
    allowed : iterable of str
        Names of columns that the table may have; a heading that is one stays as it is.
    given : mapping of str to str, optional
        Names that the user gave for headings.

    Returns
    -------
    names : list of str
        A heading that is not understood stays as it is.
    problems : list of InputError
        Where a heading needs a unit to be understood.

    Examples
    --------
    >>> named_columns(["Time", "Temp (C)", "Humidity %"], ["time", "celsius", "humidity_percent"])
    (['time', 'celsius', 'humidity_percent'], [])
    """
    allowed = list(allowed)
    by_user = {head.strip().casefold(): name.strip() for head, name in (given or {}).items()}
    names, problems = [], []
    for head in heads:
        try:
            names.append(_named(head.strip(), allowed, by_user))
        except InputError as problem:
            problems.append(problem)
            names.append("")
    return names, problems


def _named(head: str, names: list[str], by_user: Mapping[str, str]) -> str:
    if head.casefold() in by_user:
        return by_user[head.casefold()]
    plain = "_".join(head.casefold().split())
    if plain in names:
        return plain
    word, unit = _word_and_unit(head)
    what = WORDS.get(word, "")
    units = UNITS.get(what, {"": what})
    name = units.get(_SAME_UNIT.get(unit, unit))
    if name is None and any(found in names for found in units.values()):
        offered = " or ".join(f"--columns '{head}={found}'" for found in units.values())
        raise InputError(f"column {head!r} does not say its unit", f"give it with {offered}")
    return name if name in names else head


def _word_and_unit(head: str) -> tuple[str, str]:
    head = re.sub(r"\s*%$", " (%)", head)
    found = re.fullmatch(r"([^(\[]*)(?:[(\[]([^)\]]*)[)\]])?\s*", head.casefold())
    word, unit = (found[1], found[2]) if found else (head.casefold(), None)
    pieces = re.sub(r"[\s_\-]+", " ", word).strip().split(" ")
    if unit is None and len(pieces) > 1 and pieces[-1] in ("c", "f", "mph", "kmh", "hpa", "kn"):
        unit = pieces.pop()
    return "".join(pieces), (unit or "").replace("°", "").strip()
