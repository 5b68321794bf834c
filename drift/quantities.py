"""Numbers with units as people write them: ``21,5``, ``−4``, ``70F``, ``12%``, ``15 mm``.

One rule for what is typed, posted, given as an option or written in a file by hand. Only the
standard library is imported, so that the start of a log does not wait.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import NamedTuple

from drift.errors import InputError

__all__ = [
    "CENTS",
    "FAHRENHEIT",
    "HERTZ",
    "LENGTH",
    "METRIC",
    "MINUTES",
    "NUMBER",
    "PERCENT",
    "TEMPERATURE",
    "Quantity",
    "Unit",
    "Units",
    "degrees_in",
    "in_inches",
    "parse_degrees",
    "parse_quantity",
    "parse_units",
    "read_quantity",
    "with_units",
]


class Unit(NamedTuple):
    """How a number in a unit becomes one in the base unit: ``(number + shift) times / over``."""

    shift: float = 0.0
    times: float = 1.0
    over: float = 1.0


class Quantity(NamedTuple):
    """What a text is expected to be.

    Attributes
    ----------
    called : str
        With its article, for the refusal: ``a temperature``.
    units : mapping of str to Unit
        By the spelling of the unit in small letters; ``""`` where a unit may be left out.
    remedy : str
        How to write it.
    base : str
        Sign of the base unit, for limits.
    """

    called: str
    units: Mapping[str, Unit]
    remedy: str
    base: str = ""


_BASE, _FAHRENHEIT = Unit(), Unit(-32.0, 5.0, 9.0)
MM_PER_INCH = 25.4  # by definition (1959)
_INCH = Unit(times=MM_PER_INCH)

NUMBER = Quantity("a number", {"": _BASE}, "write it in digits, such as 12 or 12.5")
TEMPERATURE = Quantity(
    "a temperature",
    {
        **dict.fromkeys(("", "c", "°c", "º c", "° c", "ºc", "℃"), _BASE),
        **dict.fromkeys(("f", "°f", "º f", "° f", "ºf", "℉"), _FAHRENHEIT),
        "°": _BASE,
    },
    "write a number of °C, or of °F as in 50F",
    " °C",
)
_IN_CELSIUS = [spelt for spelt in TEMPERATURE.units if "c" in spelt or "℃" in spelt]
_IN_FAHRENHEIT = ["", "°", *(s for s in TEMPERATURE.units if TEMPERATURE.units[s] is _FAHRENHEIT)]
FAHRENHEIT = Quantity(
    "a temperature",
    {
        **dict.fromkeys(_IN_FAHRENHEIT, _BASE),
        **dict.fromkeys(_IN_CELSIUS, Unit(160.0 / 9.0, 9.0, 5.0)),
    },
    "write a number of °F, or of °C as in 21C",
    " °F",
)
"""Of a column that is in °F by its heading; the base unit is °F."""
PERCENT = Quantity("a percentage", dict.fromkeys(("", "%"), _BASE), "write it as 45 or 45%", " %")
LENGTH = Quantity(
    "a length",
    {
        **dict.fromkeys(("", "mm"), _BASE),
        "cm": Unit(times=10.0),
        **dict.fromkeys(("in", "inch", "inches", '"', "″"), _INCH),
    },
    "write it in millimetres, such as 14, or in inches, such as 0.5 in",
    " mm",
)
CENTS = Quantity(
    "cents", dict.fromkeys(("", "c", "cent", "cents"), _BASE), "write it as +6 or -12", " cents"
)
HERTZ = Quantity(
    "a frequency", dict.fromkeys(("", "hz"), _BASE), "write it as 440 or 351.2Hz", " Hz"
)
MINUTES = Quantity(
    "a number of minutes",
    {
        **dict.fromkeys(("", "min", "minute", "minutes"), _BASE),
        **dict.fromkeys(("h", "hour", "hours"), Unit(times=60.0)),
        "s": Unit(over=60.0),
    },
    "write it in minutes, such as 30",
    " minutes",
)

# A point or a comma for decimals, a minus of typography too; no grouping of thousands, whose
# comma could not be told from a decimal one.
_NUMBER_WITH_UNIT = (
    r"\s*([+\-−]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+\-−]?[0-9]{1,3})?)\s*([^\d\s].*?|)\s*"
)


class Units(NamedTuple):
    """What numbers without a unit are typed in, and what answers are shown in.

    Attributes
    ----------
    fahrenheit : bool
        °F in place of °C.
    inches : bool
        Inches in place of millimetres.
    """

    fahrenheit: bool = False
    inches: bool = False

    @property
    def spelling(self) -> str:
        """How they are typed and logged, such as ``C mm``."""
        return f"{'F' if self.fahrenheit else 'C'} {'inch' if self.inches else 'mm'}"

    @property
    def degrees(self) -> str:
        """Sign of the temperature: °C or °F."""
        return "°F" if self.fahrenheit else "°C"


METRIC = Units()

_SPELLINGS = {
    "fahrenheit": {**dict.fromkeys(("c", "°c", "celsius"), False),
                   **dict.fromkeys(("f", "°f", "fahrenheit"), True)},
    "inches": {**dict.fromkeys(("mm", "millimetres", "millimeters"), False),
               **dict.fromkeys(("in", "inch", "inches"), True)},
}  # fmt: skip


def parse_units(text: str, before: Units | None = None) -> Units | None:
    """Return the units that a text names, one or both; None where it names something else.

    Parameters
    ----------
    text : str
        Such as ``F inch``; one that is not named stays as it was.
    before : Units, optional
        As they were (default: °C and millimetres).

    Examples
    --------
    >>> parse_units("°F, inch"), parse_units("mm", Units(True, True)), parse_units("kelvin")
    (Units(fahrenheit=True, inches=True), Units(fahrenheit=True, inches=False), None)
    """
    found: dict[str, bool] = {}
    for word in text.casefold().replace(",", " ").split():
        name = next((name for name, spelt in _SPELLINGS.items() if word in spelt), "")
        if not name or name in found:
            return None
        found[name] = _SPELLINGS[name][word]
    return (before or Units())._replace(**found) if found else None


def degrees_in(celsius: float, units: Units) -> float:
    """Return a temperature as a number of the units chosen.

    Examples
    --------
    >>> degrees_in(20.0, Units(fahrenheit=True))
    68.0
    """
    return celsius * 1.8 + 32.0 if units.fahrenheit else celsius


def with_units(quantity: Quantity, units: Units) -> Quantity:
    """Return a temperature or a length whose numbers without a unit are in the units chosen.

    Examples
    --------
    >>> read_quantity("68", with_units(TEMPERATURE, Units(fahrenheit=True)))
    20.0
    >>> read_quantity("0.5", with_units(LENGTH, Units(inches=True)))
    12.7
    """
    if quantity is TEMPERATURE and units.fahrenheit:
        remedy = "write a number of °F, or of °C as in 21C"
        return quantity._replace(units={**quantity.units, "": _FAHRENHEIT}, remedy=remedy)
    if quantity is LENGTH and units.inches:
        remedy = "write it in inches, such as 0.5, or in millimetres, such as 14 mm"
        return quantity._replace(units={**quantity.units, "": _INCH}, remedy=remedy)
    return quantity


def read_quantity(text: str, quantity: Quantity, *, difference: bool = False) -> float | None:
    """Return the number that a text gives, in the base unit, or None where it gives none.

    Parameters
    ----------
    text : str
        A number with a point or a comma for decimals, and perhaps a unit.
    quantity : Quantity
        What it is expected to be. The base units are °C, %, mm, cents, Hz and minutes.
    difference : bool
        Whether it is a difference, in which 9 °F are 5 °C.

    Returns
    -------
    float or None
        A finite number.

    Examples
    --------
    >>> read_quantity("−3,5 mm", LENGTH), read_quantity("0.5 in", LENGTH)
    (-3.5, 12.7)
    >>> read_quantity("12%", PERCENT), read_quantity("12%", LENGTH)
    (12.0, None)
    >>> read_quantity("1 1/4 inches", LENGTH)
    31.75
    """
    found = re.fullmatch(_NUMBER_WITH_UNIT, _decimal(text) if quantity.base == " mm" else text)
    unit = quantity.units.get(found[2].lower()) if found else None
    if found is None or unit is None:
        return None
    number = float(found[1].replace("−", "-").replace(",", "."))
    value = (number + (0.0 if difference else unit.shift)) * unit.times / unit.over
    return value if math.isfinite(value) else None


def _decimal(text: str) -> str:
    """Return a length with its fraction of an inch in decimals: ``1 3/16`` is 1.1875."""
    found = re.match(r"\s*(?:(\d{1,2})\s+)?(\d{1,2})/(2|4|8|16|32|64)(?!\d)", text)
    if not found:
        return text
    return f"{int(found[1] or 0) + int(found[2]) / int(found[3])}{text[found.end() :]}"


def parse_quantity(
    text: str,
    quantity: Quantity,
    *,
    what: str = "",
    lowest: float = -math.inf,
    highest: float = math.inf,
    difference: bool = False,
) -> float:
    """Return the number that a text gives, in the base unit and within limits.

    Parameters
    ----------
    text : str
        A number with a point or a comma for decimals, and perhaps a unit.
    quantity : Quantity
        What it is expected to be.
    what : str
        Named in the refusal, such as ``--minutes``.
    lowest, highest : float
        Limits in the base unit, both included.
    difference : bool
        Whether it is a difference, in which 9 °F are 5 °C.

    Raises
    ------
    InputError
        When it is not such a number, or lies outside the limits.

    Examples
    --------
    >>> parse_quantity("70F", TEMPERATURE).__round__(2)
    21.11
    """
    value = read_quantity(text, quantity, difference=difference)
    named = f"{what} {_shown(text)}" if what else _shown(text)
    if value is None:
        raise InputError(f"{named} is not {quantity.called}", quantity.remedy)
    if not lowest <= value <= highest:
        raise InputError(
            f"{named} is outside {lowest:g} to {highest:g}{quantity.base}", "check the value"
        )
    return value


def parse_degrees(text: str, difference: bool = False) -> float:
    """Return a typed temperature, or a difference of temperatures, in °C.

    Examples
    --------
    >>> parse_degrees("50F"), parse_degrees("9 °F", difference=True), parse_degrees("−4,5")
    (10.0, 5.0, -4.5)
    """
    return parse_quantity(text, TEMPERATURE, difference=difference)


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else f"{text[:40]}...")


def in_inches(length_mm: float, parts: int = 16) -> str:
    """Return a length in inches as a rule is read.

    Parameters
    ----------
    length_mm : float
        Length [mm].
    parts : int
        Marks to the inch, to the nearest of which it is rounded.

    Returns
    -------
    str
        Such as ``1 3/16``.

    Examples
    --------
    >>> in_inches(30.2), in_inches(-6.35), in_inches(0.5), in_inches(4.0, 32)
    ('1 3/16', '-1/4', '0', '5/32')
    """
    marks = round(abs(length_mm) / MM_PER_INCH * parts)
    whole, part = divmod(marks, parts)
    words = [str(whole)] if whole or not part else []
    if part:
        below = parts
        while part % 2 == 0:
            part, below = part // 2, below // 2
        words.append(f"{part}/{below}")
    sign = "-" if length_mm < 0 and marks else ""
    return f"{sign}{' '.join(words)}"
