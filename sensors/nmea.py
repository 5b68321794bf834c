"""NMEA 0183: sentences of instruments on a serial line, those that carry a temperature.

Read are MTA (air temperature), MTW (water temperature: some thermometers send it for any probe)
and XDR (transducer measurements, several groups to a sentence). The checksum is required.
"""

from __future__ import annotations

import re

from sensors.errors import LineRefused
from sensors.quantities import NUMBER, Measured, celsius_of, humidity_of, measured, pressure_of

__all__ = ["checksum", "sentence"]

_SENTENCE = re.compile(r"[$!](?P<body>[ -)+-~]*)\*(?P<sum>[0-9A-Fa-f]{2})")
_NUMBER = re.compile(NUMBER, re.ASCII)


def checksum(body: str) -> int:
    """Return the checksum of a sentence: the exclusive or of its characters.

    Parameters
    ----------
    body : str
        The characters between ``$`` and ``*``.

    References
    ----------
    NMEA 0183, Standard for interfacing marine electronic devices (second-hand: the rule is
    quoted by every open decoder).

    Examples
    --------
    >>> f"{checksum('IIMTA,21.5,C'):02X}"
    '03'
    """
    total = 0
    for character in body:
        total ^= ord(character)
    return total


def sentence(line: str, key: str = "") -> Measured | None:
    """Read one sentence.

    Parameters
    ----------
    line : str
        Such as ``$IIMTA,21.5,C*03``.
    key : str
        For XDR with several temperatures: the name of the transducer to take.

    Returns
    -------
    Measured or None
        None for a whole sentence that carries no temperature.

    Raises
    ------
    LineRefused
        If the line is no sentence, its checksum is wrong, the field is empty, or it holds
        several temperatures and none is chosen.

    Examples
    --------
    >>> sentence("$WIXDR,C,21.5,C,TEMP,H,48,P,RH*4A")
    Measured(celsius=21.5, humidity_percent=48.0, pressure_hpa=None)
    """
    found = _SENTENCE.fullmatch(line.strip())
    if found is None:
        raise LineRefused(
            f"no whole NMEA 0183 sentence with a checksum: {line.strip()[:60]!r}",
            "if the thermometer sends none, read it with dialect=csv&column=2",
            line,
        )
    if checksum(found["body"]) != int(found["sum"], 16):
        raise LineRefused(
            f"checksum {found['sum']} where {checksum(found['body']):02X} is right",
            "characters were lost on the way; check the cable if this goes on",
            line,
        )
    if line.strip().startswith("!"):
        return None  # an encapsulated message; none of them carries a temperature
    kind, *fields = found["body"].split(",")
    if kind[-3:] in {"MTA", "MTW"} and len(kind) == 5:
        return measured(_celsius(fields, line), line)
    return _transducers(fields, line, key) if kind[-3:] == "XDR" and len(kind) == 5 else None


def _celsius(fields: list[str], line: str) -> float:
    """Return °C from a value and the letter of its unit."""
    value, unit = (*fields, "", "")[:2]
    if not _NUMBER.fullmatch(value) or unit not in {"C", "F", "K"}:
        raise LineRefused(
            f"no temperature in the sentence: value {value!r}, unit {unit!r}",
            "check that the thermometer's probe is plugged in",
            line,
        )
    return celsius_of(float(value), unit)


def _transducers(fields: list[str], line: str, key: str) -> Measured | None:
    """Read the groups (type, value, unit, name) of an XDR sentence."""
    groups = [tuple(fields[at : at + 4]) for at in range(0, len(fields) - 3, 4)]
    warmth = [group for group in groups if group[0] == "C" and key in ("", group[3])]
    if not warmth:
        return None
    if len(warmth) > 1:
        raise LineRefused(
            f"more than one temperature: {', '.join(group[3] for group in warmth)}",
            "choose one with key= in the thermometer's address",
            line,
        )
    celsius = _celsius(list(warmth[0][1:3]), line)
    humidity = [_value(group) for group in groups if group[0] == "H"]
    pressure = [_hectopascal(group) for group in groups if group[0] == "P"]
    return measured(
        celsius,
        line,
        humidity_of(humidity[0]) if len(humidity) == 1 else None,
        pressure_of(pressure[0]) if len(pressure) == 1 else None,
    )


def _value(group: tuple[str, ...]) -> float | None:
    return float(group[1]) if _NUMBER.fullmatch(group[1]) else None


def _hectopascal(group: tuple[str, ...]) -> float | None:
    """Return a pressure [hPa] given in bar (``B``) or pascal (``P``)."""
    value = _value(group)
    factor = {"B": 1000.0, "P": 0.01}.get(group[2])
    return None if value is None or factor is None else value * factor
