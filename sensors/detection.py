"""Which dialect a thermometer speaks: by name, or found out from its first lines."""

from __future__ import annotations

from sensors.dialects import Csv, Dialect, Named, json_line, key_value, pattern, plain
from sensors.errors import AddressError, LineRefused
from sensors.nmea import sentence
from sensors.quantities import Measured

__all__ = ["DIALECTS", "Auto", "choose"]

DIALECTS = ("auto", "plain", "key=value", "csv", "json", "nmea", "pattern")

LINES_TO_SETTLE = 3


def choose(
    name: str = "auto", *, column: str = "", key: str = "", expression: str = "", unit: str = "C"
) -> Dialect:
    """Return a dialect by its name.

    Parameters
    ----------
    name : str
        One of `DIALECTS` (``keyvalue`` stands for ``key=value`` where the sign is in the way).
    column : str
        For ``csv``: number from 1, or name in the header.
    key : str
        For ``key=value``, ``json`` and ``nmea``: which value is the temperature.
    expression : str
        For ``pattern``: the regular expression.
    unit : str
        ``C``, ``F`` or ``K``, where the lines do not say.

    Raises
    ------
    AddressError
        If there is no such dialect.

    Examples
    --------
    >>> choose("csv", column="2")("noon,21.5").celsius
    21.5
    """
    if name == "auto" and expression:
        name = "pattern"
    if name == "auto" and column:
        name = "csv"
    if name == "auto":
        return Auto(key=key, unit=unit)
    if name == "csv":
        return Csv(column, unit)
    if name == "pattern":
        return pattern(expression, unit)
    if name in {"key=value", "keyvalue"}:
        return Named("key=value", lambda line: key_value(line, key, unit))
    if name == "json":
        return Named("json", lambda line: json_line(line, key, unit))
    if name == "nmea":
        return Named("nmea", lambda line: sentence(line, key))
    if name == "plain":
        return Named("plain", lambda line: plain(line, unit))
    raise AddressError(f"no dialect is called {name!r}", f"the dialects are {', '.join(DIALECTS)}")


class Auto:
    """Finds out which dialect a thermometer speaks.

    Each line is tried in every dialect from the strictest to the loosest; when the same one
    has read three lines that carried a temperature, it is kept for good.

    Parameters
    ----------
    key, unit : str
        As for `choose`.

    Examples
    --------
    >>> read = Auto()
    >>> [read(f"T={celsius}").celsius for celsius in (21.5, 21.6, 21.7)]
    [21.5, 21.6, 21.7]
    >>> read.name, read.settled
    ('key=value', True)
    """

    def __init__(self, *, key: str = "", unit: str = "C") -> None:
        self._candidates: list[Dialect] = [
            *(choose(name, key=key, unit=unit) for name in ("nmea", "json", "key=value", "csv")),
            Named("plain", lambda line: _plain_without_doubt(line, unit)),
        ]
        self._read = {dialect.name: 0 for dialect in self._candidates}
        self._chosen: Dialect | None = None

    @property
    def settled(self) -> bool:
        """Whether one dialect has been kept."""
        return self._chosen is not None

    @property
    def name(self) -> str:
        """The dialect kept, or ``auto`` until then."""
        return self._chosen.name if self._chosen else "auto"

    def __call__(self, line: str) -> Measured | None:
        """Read one line in the dialect kept, or in the first that can."""
        if self._chosen:
            return self._chosen(line)
        carried_none = False
        reasons: list[LineRefused] = []
        for dialect in self._candidates:
            try:
                found = dialect(line)
            except LineRefused as refusal:
                reasons.append(refusal)
                continue
            if found is not None:
                self._count(dialect)
                return found
            carried_none = True
        if carried_none:
            return None
        raise _likeliest(line, dict(zip(self._read, reasons, strict=True)))

    def _count(self, dialect: Dialect) -> None:
        self._read[dialect.name] += 1
        if self._read[dialect.name] == LINES_TO_SETTLE:
            self._chosen = dialect


def _plain_without_doubt(line: str, unit: str) -> Measured:
    """Refuse ``21,5``: a decimal comma, or two columns."""
    if "," in line and line.strip()[-1:].isdecimal():
        raise LineRefused(
            f"a decimal comma or two columns: {line.strip()[:60]!r}",
            "say which: dialect=plain, or dialect=csv&column=1, in the thermometer's address",
            line,
        )
    return plain(line, unit)


def _likeliest(line: str, reasons: dict[str, LineRefused]) -> LineRefused:
    """Return the reason of the dialect that the line looks like."""
    start = line.strip()[:1]
    if start and start in "$!":
        return reasons["nmea"]
    if start == "{":
        return reasons["json"]
    if "=" in line or ":" in line:
        return reasons["key=value"]
    return reasons["csv"] if any(sign in line for sign in ";\t") else reasons["plain"]
