"""Cents, lengths and degrees as players say them: 9 sharp, out 4 mm, 70 °F."""

from __future__ import annotations

from drift.notes import shown
from drift.quantities import METRIC, Units, degrees_in, in_inches
from drift.regression.results import Estimate
from drift.tonight.decision import round_mm

__all__ = [
    "a4",
    "air",
    "degrees",
    "deviation",
    "deviations",
    "interval",
    "length",
    "making_up",
    "millimetres",
    "order",
    "position",
    "signed",
    "slide_name",
    "slide_noun",
]

MINUS = "\N{MINUS SIGN}"
TUNING_SLIDE = "tuning slide"
THIRTY_SECONDS = 32
"""The marks of a rule in inches that lie nearest to half a millimetre."""


def signed(cents: float) -> str:
    """Return whole cents with their sign.

    Examples
    --------
    >>> signed(6.2), signed(-3.4), signed(0.3)
    ('+6', '−3', '0')
    """
    whole = round(cents)
    return f"{'+' if whole > 0 else MINUS if whole < 0 else ''}{abs(whole)}"


def deviation(cents: float) -> str:
    """Return a deviation as players say it.

    Examples
    --------
    >>> deviation(9.4), deviation(-2.0), deviation(0.4)
    ('9 sharp', '2 flat', 'in tune')
    """
    whole = round(cents)
    if not whole:
        return "in tune"
    return f"{abs(whole)} {'sharp' if whole > 0 else 'flat'}"


def deviations(low: float, high: float) -> str:
    """Return between which deviations something lies, one where both are alike.

    Examples
    --------
    >>> deviations(-26.4, -8.2), deviations(2.0, 9.3), deviations(-8.0, 9.0)
    ('8 to 26 flat', '2 to 9 sharp', '8 flat to 9 sharp')
    >>> deviations(-8.0, 0.3), deviations(-8.2, -7.9)
    ('up to 8 flat', '8 flat')
    """
    if round(low) == round(high):
        return deviation(low)
    if round(low) * round(high) < 0:
        return f"{deviation(low)} to {deviation(high)}"
    near, far = sorted((low, high), key=abs)
    return f"{abs(round(near))} to {deviation(far)}" if round(near) else f"up to {deviation(far)}"


def interval(found: Estimate) -> str:
    """Return an interval beside a deviation, each end with its sign, as a tuner shows it.

    Examples
    --------
    >>> interval(Estimate(9.0, 6.0, 12.0)), interval(Estimate(2.0, -3.0, 6.0))
    ('+6 to +12', '−3 to +6')
    >>> interval(Estimate(-9.0, -12.0, -6.0))
    '−12 to −6'
    """
    return f"{signed(found.low)} to {signed(found.high)}"


def millimetres(length_mm: float, step_mm: float = 0.5) -> str:
    """Return a length as it is set, without its sign.

    Parameters
    ----------
    length_mm : float
        Length [mm].
    step_mm : float
        Step it is rounded to [mm].

    Examples
    --------
    >>> millimetres(-4.1), millimetres(4.3), millimetres(4.4, 1.0)
    ('4 mm', '4.5 mm', '4 mm')
    """
    return f"{abs(round_mm(length_mm, step_mm)):g} mm"


def a4(hertz: float) -> str:
    """Return the pitch of a band.

    Examples
    --------
    >>> a4(440.0), a4(437.46)
    ('A4 = 440 Hz', 'A4 = 437.5 Hz')
    """
    return f"A4 = {round(hertz, 1):g} Hz"


def order(name: str, move_mm: float, far: str, to: str = "") -> str:
    """Return a move as an order, wherever it is shown.

    Parameters
    ----------
    name : str
        What the slide is called.
    move_mm : float
        The move, out positive [mm].
    far, to : str
        How far, and up to where if that is known, as the units of the player have it.

    Examples
    --------
    >>> order("main slide", 19.0, "19 mm", "31 mm"), order("barrel", -2.0, "2 mm")
    ('Pull the main slide out 19 mm, to 31 mm', 'Push the barrel in 2 mm')
    """
    verb, way = ("Pull", "out") if move_mm > 0 else ("Push", "in")
    return f"{verb} the {name} {way} {far}{f', to {to}' if to else ''}"


def making_up(name: str, move_mm: float) -> str:
    """Return why a slide moves that only makes up for another one.

    Parameters
    ----------
    name : str
        What the other slide is called.
    move_mm : float
        Which way that one goes, out positive [mm].

    Examples
    --------
    >>> making_up("main slide", -4.0)
    'this makes up for the main slide going in'
    """
    return f"this makes up for the {name} going {'out' if move_mm > 0 else 'in'}"


def length(
    length_mm: float,
    units: Units = METRIC,
    step_mm: float = 0.5,
    parts: int = THIRTY_SECONDS,
) -> str:
    """Return a length as it is set, without its sign, with its unit.

    Parameters
    ----------
    length_mm : float
        Length [mm].
    units : Units
        Of the player.
    step_mm : float
        Step it is rounded to [mm].
    parts : int
        Parts of an inch that inches are rounded to.

    Examples
    --------
    >>> length(-4.1), length(4.1, Units(inches=True)), length(30.2, Units(inches=True))
    ('4 mm', '5/32 inch', '1 3/16 inches')
    """
    if not units.inches:
        return millimetres(length_mm, step_mm)
    text = in_inches(abs(length_mm), parts)
    return f"{text} {'inch' if text == '1' or '/' in text.split()[0] else 'inches'}"


def position(position_mm: float, units: Units = METRIC, step_mm: float = 0.5) -> str:
    """Return where a slide is, from fully in, without a unit.

    Parameters
    ----------
    position_mm : float
        From fully in [mm].
    units : Units
        Of the player.
    step_mm : float
        Step it is rounded to [mm]; inches are rounded to 1/32.

    Examples
    --------
    >>> position(16.2), position(16.2, Units(inches=True))
    ('16', '5/8')
    """
    if units.inches:
        return in_inches(abs(position_mm), THIRTY_SECONDS)
    return f"{abs(round_mm(position_mm, step_mm)):g}"


def degrees(celsius: float, units: Units = METRIC, decimals: int = 1) -> str:
    """Return a temperature.

    Parameters
    ----------
    celsius : float
        Temperature [°C].
    units : Units
        Of the player.
    decimals : int
        Decimals.

    Examples
    --------
    >>> degrees(21.0), degrees(21.0, Units(fahrenheit=True), 0)
    ('21.0 °C', '70 °F')
    """
    return f"{degrees_in(celsius, units):z.{decimals}f} {units.degrees}".replace("-", MINUS)


def air(celsius: float, *, both: bool = True) -> str:
    """Return a temperature in °C, and in °F beside it where both are wanted.

    Examples
    --------
    >>> air(7.77), air(20.0, both=False)
    ('7.8 °C (46 °F)', '20 °C')
    """
    beside = f" ({degrees_in(celsius, Units(fahrenheit=True)):z.0f} °F)" if both else ""
    return f"{round(celsius, 1):zg} °C{beside}"


def slide_name(slide: str, instrument: str = "") -> str:
    """Return how a slide is named beside its position: as in the catalogue, but on a trombone.

    Examples
    --------
    >>> slide_name("main", "double horn"), slide_name("Bb"), slide_name("main", "bass trombone")
    ('main', 'B♭', 'tuning slide')
    """
    noun = slide_noun(slide, instrument)
    return noun if noun == TUNING_SLIDE else shown(slide)


def slide_noun(slide: str, instrument: str = "") -> str:
    """Return what players call a slide; on a trombone the main one is the tuning slide.

    Parameters
    ----------
    slide, instrument : str
        Names in the catalogue.

    Examples
    --------
    >>> slide_noun("main"), slide_noun("Bb"), slide_noun("barrel"), slide_noun("head")
    ('main slide', 'B♭ slide', 'barrel', 'head joint')
    >>> slide_noun("main", "tenor trombone")
    'tuning slide'
    """
    if slide == "main" and "trombone" in instrument:
        return TUNING_SLIDE
    name = "head joint" if slide == "head" else shown(slide)
    return f"{name} slide" if slide == "main" or name[:1].isupper() else name
