"""What people write over a column, with its unit: one list for every table that is read."""

from __future__ import annotations

import re
from collections.abc import Container, Iterable, Mapping
from datetime import timedelta, timezone, tzinfo

from drift.errors import InputError

__all__ = ["heading_name", "named_columns", "without_zone"]

#: What is written over a column (in small letters, without unit and blanks), and what it is. A name
#: that a table has for itself goes before: ``note`` is one of the readings.
WORDS: Mapping[str, str] = {
    **dict.fromkeys(("temp", "temperature", "airtemp", "airtemperature", "t", "deg"),
                    "temperature"),
    **dict.fromkeys(("humidity", "rh", "relativehumidity", "relhum"), "humidity"),
    **dict.fromkeys(("wind", "windspeed", "windspd"), "wind"),
    **dict.fromkeys(("pressure", "barometer", "surfacepressure"), "pressure"),
    **dict.fromkeys(
        ("time", "datetime", "dateandtime", "date/time", "timestamp", "when", "hour", "validtime",
         "validlocal", "localtime"),
        "time",
    ),
    **dict.fromkeys(("begin", "begins", "starts", "starttime", "from"), "start"),
    **dict.fromkeys(("until", "to", "ends", "endtime", "finish"), "end"),
    **dict.fromkeys(("what", "event"), "activity"),
    **dict.fromkeys(("note", "notes", "remarks", "comment", "comments"), "remark"),
    **dict.fromkeys(
        ("number", "count", "howmany", "#ofplayers", "noofplayers", "numberofplayers", "#"),
        "players",
    ),
    **dict.fromkeys(("whichslide", "tuningslide", "slidename"), "slide"),
    **dict.fromkeys(
        ("position", "slideposition", "at", "millimetres", "mm", "pulledout", "pulled", "out",
         "slideout"),
        "position",
    ),
    **dict.fromkeys(
        ("travel", "longest", "maximum", "max", "maxtravel", "maximumtravel", "slidetravel"),
        "travel",
    ),
}  # fmt: skip
#: What has a temperature, where a unit is written behind it; without one it is no quantity.
PLACES = ("room", "hall", "air", "field", "outside", "indoors", "roomtemp", "roomtemperature")
#: The columns of what is measured in a unit, by unit; an empty unit is the one that is taken where
#: none is written. A temperature has none: 30 may be frost or heat.
UNITS: Mapping[str, Mapping[str, str]] = {
    "temperature": {"c": "celsius", "f": "fahrenheit"},
    "humidity": {"": "humidity_percent", "%": "humidity_percent", "rh": "humidity_percent"},
    "wind": {"m/s": "wind_m_s", "km/h": "wind_km_h", "mph": "wind_mph", "kn": "wind_knots"},
    "pressure": {"": "pressure_hpa", "hpa": "pressure_hpa", "mbar": "pressure_hpa"},
    "position": {"": "position_mm", "mm": "position_mm"},
    "travel": {"": "travel_mm", "mm": "travel_mm"},
}
_SAME_UNIT = {"kmh": "km/h", "kph": "km/h", "kt": "kn", "knots": "kn", "ms": "m/s",
              "celsius": "c", "fahrenheit": "f", "%rh": "%", "% rh": "%", "pct": "%",
              "percent": "%", "local": ""}  # fmt: skip
#: What a user names a column that is to be left out.
UNUSED = "unused"
#: How high above the ground a quantity is forecast: it is no part of its name.
_HEIGHT = re.compile(r"\d{1,3} ?m")
#: Units that may follow the word without brackets.
_BARE = ("c", "f", "pct", "percent", "mph", "kmh", "kph", "hpa", "mbar", "kn", "mm")


def heading_name(head: str, ours: Container[str]) -> str | None:
    """Return the column of a table that a heading means, None where it means none.

    Parameters
    ----------
    head : str
        What is written over the column.
    ours : container of str
        The columns that the table may have.

    Raises
    ------
    InputError
        When it cannot be understood without its unit.

    Examples
    --------
    >>> heading_name("Temp (°F)", ["time", "fahrenheit"]), heading_name("colour", ["time"])
    ('fahrenheit', None)
    """
    plain = "_".join(head.casefold().split())
    if plain in ours:
        return plain
    word, unit = _word_and_unit(head)
    what = WORDS.get(word, "temperature" if word in PLACES and unit else "")
    units = UNITS.get(what, {"": what})
    name = units.get(_SAME_UNIT.get(unit, unit))
    if name == "time" and "time" not in ours and "start" in ours:
        name = "start"  # of a timetable: when, and until when
    if name is None and any(found in ours for found in units.values()):
        offered = " or ".join(f"--columns '{head}={found}'" for found in dict.fromkeys(
            units.values()))  # fmt: skip
        raise InputError(f"column {head!r} does not give its unit", f"give it with {offered}")
    return name if name and name in ours else None


_ZONE = re.compile(
    r"[\s,]*[\s,(\[](?:UTC|GMT)(?:([+\-−])(\d{1,2})(?::?(\d\d))?)?[)\]]?", re.IGNORECASE
)


def without_zone(head: str) -> tuple[str, tzinfo | None]:
    """Return the heading of a column of times without its zone, and the zone where it gives one.

    Examples
    --------
    >>> without_zone("Timestamp (UTC)")[0], str(without_zone("Time, GMT-04:00")[1])
    ('Timestamp', 'UTC-04:00')
    >>> without_zone("Temp (C)")
    ('Temp (C)', None)
    """
    found = _ZONE.search(head)
    if found is None or found.end() < len(head.rstrip()) or not found.start():
        return head, None
    sign, hours, minutes = found.groups()
    offset = timedelta(hours=int(hours or 0), minutes=int(minutes or 0))
    if offset >= timedelta(hours=24):
        return head, None
    return head[: found.start()], timezone(-offset if sign in ("-", "−") else offset)


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
        Names that the user gave for headings; ``unused`` leaves a column out, and ``*`` stands for
        every heading that is not understood.

    Returns
    -------
    names : list of str
        A heading that is not understood stays as it is; of a column to be left out, empty.
    problems : list of InputError
        Where a heading needs a unit to be understood, or gives another one than the user did.

    Examples
    --------
    >>> named_columns(["Time", "Temp (C)", "Humidity %"], ["time", "celsius", "humidity_percent"])
    (['time', 'celsius', 'humidity_percent'], [])
    """
    allowed = list(allowed)
    by_user = {head.strip().casefold(): name.strip() for head, name in (given or {}).items()}
    names, problems = [], []
    for head in map(str.strip, heads):
        try:
            if name := by_user.get(head.casefold()):
                _check_unit(head, name, allowed)
            if name not in (*allowed, UNUSED):  # the user's word was for another table
                name = heading_name(head, allowed) or name
            names.append(name or by_user.get("*") or head)
        except InputError as problem:
            problems.append(problem)
            names.append("")
    return ["" if name == UNUSED else name for name in names], problems


def _check_unit(head: str, name: str, allowed: Container[str]) -> None:
    """Refuse a name that is the same quantity in another unit than the heading gives."""
    try:
        own = heading_name(head, allowed)
    except InputError:  # it gives none
        return
    for columns in UNITS.values():
        if own != name and {own, name} <= set(columns.values()):
            raise InputError(
                f"column {head!r} gives its unit, and --columns calls it {name}",
                f"leave that --columns out, or write --columns '{head}={own}'",
            )


def _word_and_unit(head: str) -> tuple[str, str]:
    head = re.sub(r"\s*%$", " (%)", head)
    found = re.fullmatch(r"([^(\[]*)(?:[(\[]([^)\]]*)[)\]])?\s*", head.casefold())
    word, unit = (found[1], found[2]) if found else (head.casefold(), None)
    pieces = re.sub(r"[\s_\-]+", " ", word.replace("°", " ")).strip().split(" ")
    pieces = [piece for piece in pieces if not _HEIGHT.fullmatch(piece)] or pieces
    if unit is None and len(pieces) > 1 and pieces[-1] in _BARE:
        unit = pieces.pop()
    return "".join(pieces), (unit or "").replace("°", "").strip()
