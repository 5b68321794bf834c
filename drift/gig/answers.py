"""Answers of people to the six questions: a day, stretches of time, temperatures, sections."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

from drift.errors import InputError, InstrumentError
from drift.gig.days import MONTHS, WEEKDAYS, over_midnight
from drift.gig.guided import Stretch
from drift.gig.unpitched import has_no_pitch
from drift.instruments import Catalogue, Instrument, find
from drift.quantities import TEMPERATURE, Units, parse_quantity, with_units
from drift.tables.problems import Problem, parts_of
from drift.tables.spelled_times import clock_of

__all__ = ["Answered", "Playing", "beside_times", "day_in", "sections_in", "stretches_in",
           "temperature_in", "temperatures_in"]  # fmt: skip

#: What the band calls a section, what it plays, how many.
Playing = tuple[str, Instrument, int]

_TIME = r"(\d{1,2}(?:[:.]\d{2})?)\s*([ap]\.?m\.?)?"
_STRETCH = re.compile(rf"{_TIME}\s*(?:-|–|to)\s*{_TIME}", re.IGNORECASE)
_HALF_A_DAY = timedelta(hours=12)
#: A first time before this hour is more often one of the afternoon, written without PM.
MORNING_HOUR = 8
#: A plain number of the other unit looks like this: 39 may be a cold evening in °F.
PERHAPS_FAHRENHEIT, PERHAPS_CELSIUS = 35.0, 25.0


def day_in(text: str, today: datetime) -> datetime:
    """Return midnight of the day in an answer, in the zone of the present one.

    Parameters
    ----------
    text : str
        Such as ``2026-10-09``, ``tomorrow``, ``Saturday`` (the next one), ``Oct 9`` or ``10/29``;
        without a year the nearest such day.
    today : datetime
        Midnight of today, aware.

    Raises
    ------
    InputError
        When it is not a day, or could be two.

    Examples
    --------
    >>> from datetime import UTC
    >>> thursday = datetime(2026, 11, 26, tzinfo=UTC)
    >>> [f"{day_in(text, thursday):%Y-%m-%d}" for text in ("Saturday", "Nov 28", "11/28", "3.1.")]
    ['2026-11-28', '2026-11-28', '2026-11-28', '2027-01-03']
    """
    plain = " ".join(text.casefold().replace(",", " ").split())
    if plain in ("", "today", "tonight"):
        return today
    if plain == "tomorrow":
        return today + timedelta(days=1)
    ahead = [n for n, name in enumerate(WEEKDAYS) if _begins(name, plain)]
    if ahead:
        return today + timedelta(days=(ahead[0] - today.weekday()) % 7)
    found = _dates_in(plain, today)
    if not found:
        raise InputError(
            f"{text!r} is not a day", "write it such as 2026-10-09, Oct 9, Saturday or tomorrow"
        )
    if len(found) > 1:
        both = " or ".join(f"{day:%Y-%m-%d}" for day in sorted(found))
        raise InputError(f"{text!r} could be two days", f"write {both}")
    return found.pop()


def _dates_in(plain: str, today: datetime) -> set[datetime]:
    """Return the days that a date may mean."""
    if found := re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", plain):
        return _midnights([(int(found[2]), int(found[3]))], found[1], today)
    if found := re.fullmatch(r"(\d{1,2})([/.-])(\d{1,2})(?:\2(\d{4})?)?", plain):
        first, second = int(found[1]), int(found[3])
        day_first = [(second, first)]
        ways = day_first if found[2] == "." else [(first, second), *day_first]
        return _midnights(ways, found[4], today)
    words = plain.replace(".", "").split()
    month = [n for n, name in enumerate(MONTHS, 1) for word in words
             if _begins(name, word)]  # fmt: skip
    numbers = [int(found[1]) for word in words
               if (found := re.fullmatch(r"(\d{1,4})(?:st|nd|rd|th)?", word))]  # fmt: skip
    if len(month) != 1 or len(words) != 1 + len(numbers) or not 1 <= len(numbers) <= 2:
        return set()
    return _midnights([(month[0], numbers[0])], "".join(map(str, numbers[1:])), today)


def _begins(name: str, word: str) -> bool:
    """Return whether a word stands for a day of the week or a month: three letters or more."""
    return len(word) > 2 and name.casefold().startswith(word)


def _midnights(ways: Sequence[tuple[int, int]], year: str | None, today: datetime) -> set[datetime]:
    """Return midnight of each month and day that exists; without a year, of the nearest."""
    found = set()
    for month, day in ways:
        years = [int(year)] if year else [today.year + away for away in (-1, 0, 1)]
        there: list[datetime] = []
        for one in years:
            with suppress(ValueError):  # there is no such day that year
                there.append(datetime(one, month, day).replace(tzinfo=today.tzinfo))  # noqa: DTZ001
        if there:
            found.add(min(there, key=lambda one: abs(one - today)))
    return found


def stretches_in(text: str, midnight: datetime, until: datetime | None = None) -> list[Stretch]:
    """Return the stretches of time in an answer.

    Parameters
    ----------
    text : str
        Such as ``18:40-19:10, 20:00-20:30`` or ``6:40-7:10 PM, 8:20-8:30``.
    midnight : datetime
        The beginning of the day, aware.
    until : datetime, optional
        The end of the playing: a time without AM or PM is the latest that is not after it.

    Raises
    ------
    InputError
        If there is none, one runs backwards, or could be in the morning or in the evening.

    Notes
    -----
    A time without AM or PM runs on from the one before it: 8:20 after 6:55 PM is in the evening.

    Examples
    --------
    >>> from datetime import UTC
    >>> found = stretches_in("6:40-7:10 PM, 8:20-8:30", datetime(2026, 10, 9, tzinfo=UTC))
    >>> [f"{time:%d %H:%M}" for stretch in found for time in stretch]
    ['09 18:40', '09 19:10', '09 20:20', '09 20:30']
    """
    rest = _STRETCH.sub("", text)
    if re.search(r"\d", rest) or not _STRETCH.search(text):
        raise InputError(f"{text!r} is not from when to when", "write it such as 18:40-19:10")
    found: list[Stretch] = []
    for parts in _STRETCH.findall(text):
        found.append(_stretch(parts, midnight, found[-1] if found else None, until))
    return found


def beside_times(text: str) -> list[str]:
    """Return the words beside each stretch of time in an answer, empty where there are none.

    Examples
    --------
    >>> beside_times("6:15-6:40 PM band room, 8:18-8:22")
    ['band room', '']
    """
    return [
        _STRETCH.sub("", part).strip()
        for part in re.split(r"[,;]|\band\b", text)
        for _ in _STRETCH.findall(part)
    ]


def _stretch(
    parts: Sequence[str], midnight: datetime, before: Stretch | None, until: datetime | None
) -> Stretch:
    first, half, last, last_half = parts
    start = _clock(f"{first} {half or last_half}", midnight)
    open_start = not half and not last_half and _could_be_either(first)
    if open_start:
        start = _half_of_the_day(start, first, before, until)
    own_day = start.replace(hour=0, minute=0)
    end = _clock(f"{last} {last_half}", own_day)
    if last_half and not half and start > end:  # 11:30-1:00 PM
        start -= _HALF_A_DAY
    open_end = not last_half and (open_start or bool(half)) and _could_be_either(last)
    early = end.replace(hour=end.hour % 12) if open_end else end
    ends = [early, *([early + _HALF_A_DAY] if open_end else [])]
    if over_midnight(start, early):
        ends.append(early + timedelta(days=1))
    end = next((one for one in ends if one > start), end)
    if end <= start:
        raise InputError(f"{last} is not after {first}", "write from when to when")
    return start, end


def _could_be_either(clock: str) -> bool:
    """Return whether a time without AM or PM may be in either half of the day."""
    hour = re.split("[:.]", clock)[0]
    return 1 <= int(hour) <= 12 and not hour.startswith("0")


def _half_of_the_day(
    start: datetime, written: str, before: Stretch | None, until: datetime | None
) -> datetime:
    """Return a beginning that has no AM or PM: it runs on, or is the last before an end."""
    later = start.replace(hour=start.hour % 12) + _HALF_A_DAY
    if until is not None:
        return max((one for one in (start, later) if one < until), default=start)
    if before is None:
        if start.hour < MORNING_HOUR:
            raise InputError(
                f"{written} may be in the morning or in the evening",
                f"write {written} AM or {written} PM",
            )
        return start
    tomorrow = start.replace(hour=start.hour % 12) + timedelta(days=1)
    ways = [start, later]
    if over_midnight(before[0], tomorrow):
        ways.append(tomorrow)
    if fits := [one for one in ways if one >= before[1]]:
        return fits[0]
    raise InputError(f"{written} is before {before[1]:%H:%M}", "write AM or PM with each time")


def _clock(text: str, midnight: datetime) -> datetime:
    clock = clock_of(text)
    if clock is None:
        raise InputError(
            f"{text.strip()} is not a time of day", "write it such as 18:40 or 6:40 PM"
        )
    return midnight.replace(hour=clock.hour, minute=clock.minute)


def temperatures_in(text: str, *, fahrenheit: bool = False) -> tuple[float, float]:
    """Return the temperatures at the beginning and at the end [°C] in an answer.

    Parameters
    ----------
    text : str
        Such as ``12 to 8`` or ``54F to 46F``.
    fahrenheit : bool
        Whether numbers without a unit are °F.

    Raises
    ------
    InputError
        When they are not one or two, or a number without its unit may well be in the other one.

    Examples
    --------
    >>> temperatures_in("12 to 8"), temperatures_in("50F")
    ((12.0, 8.0), (10.0, 10.0))
    """
    such = "54 to 46, or 12C to 8C" if fahrenheit else "12 to 8, or 54F to 46F"
    parts = [part for part in re.split(r"\s+to\s+|\s*;\s*|\s*\.\.\s*", text.strip()) if part]
    if not 1 <= len(parts) <= 2:
        raise InputError(f"{text!r} is not one or two temperatures", f"write it such as {such}")
    quantity = with_units(TEMPERATURE, Units(fahrenheit=fahrenheit))
    found = [parse_quantity(part, quantity) for part in parts]
    for part in parts:
        _check_unit(part.replace("°", "").strip(), fahrenheit)
    return found[0], found[-1]


def temperature_in(text: str, *, fahrenheit: bool = False) -> float:
    """Return the one temperature [°C] in an answer, as in `temperatures_in`."""
    first, last = temperatures_in(text, fahrenheit=fahrenheit)
    if first != last:
        raise InputError(f"{text!r} is not one temperature", "write the one of the room")
    return first


def _check_unit(text: str, fahrenheit: bool) -> None:
    """Refuse a number without a unit that is more usual in the other one."""
    try:
        number = float(text.replace(",", ".").replace("−", "-"))
    except ValueError:  # it has a unit
        return
    if number < PERHAPS_CELSIUS if fahrenheit else number > PERHAPS_FAHRENHEIT:
        raise InputError(f"{text} may be in °F or in °C", f"write {text}F or {text}C")


@dataclass(frozen=True)
class Answered:
    """Who plays, as far as it was answered.

    Attributes
    ----------
    sections : tuple of (str, Instrument, int)
        What the band calls it, what it plays, how many.
    not_planned : tuple of (str, int)
        Drums and cymbals, which have no pitch to tune, and how many.
    problems : tuple of Problem
        Every instrument that is not known, means several or is named twice in one answer; that
        none is named.
    """

    sections: tuple[Playing, ...]
    not_planned: tuple[tuple[str, int], ...] = ()
    problems: tuple[Problem, ...] = ()


def sections_in(
    text: str, catalogue: Catalogue | None = None, before: Answered | None = None
) -> Answered:
    """Return the sections in an answer beside those that were named before.

    Parameters
    ----------
    text : str
        Such as ``6 trumpets, 4 horns, sousas``; empty where those named before are all.
    catalogue : Catalogue, optional
        The instruments that are known.
    before : Answered, optional
        What was answered already; a section that is named again gets its new number.

    Examples
    --------
    >>> found = sections_in("6 trumpets, 2 bones, 5 snares, kazoos")
    >>> [(name, kind.name, count) for name, kind, count in found.sections]
    [('trumpets', 'Bb trumpet', 6), ('bones', 'tenor trombone', 2)]
    >>> found.not_planned, len(found.problems)
    ((('snares', 5),), 1)
    >>> [count for _, _, count in sections_in("7 trumpets", before=found).sections]
    [7, 2]
    """
    taken = {one[0]: one for one in before.sections} if before else {}
    drums = dict(before.not_planned) if before else {}
    problems: list[Problem] = []
    new: set[str] = set()
    for name, players in _named_in(text):
        try:
            if name in new:
                raise InputError(f"{name}: named twice", "name each once")
            if has_no_pitch(name):
                drums[name] = players
            else:
                taken[name] = (name, find(name, catalogue), players)
            new.add(name)
        except (InputError, InstrumentError) as refusal:
            problems += parts_of(refusal)
    if not taken and not problems:
        nobody = InputError("no section is named", "write such as 6 trumpets, 4 horns, 3 sousas")
        problems += parts_of(nobody)
    return Answered(tuple(taken.values()), tuple(drums.items()), tuple(problems))


def _named_in(text: str) -> Iterator[tuple[str, int]]:
    """Yield each name of an answer, and how many of it: one where no number is written."""
    for part in filter(None, (part.strip() for part in re.split("[,;]", text))):
        count = re.search(r"^(\d{1,3})\s*[x×]?\s+|\s+(\d{1,3})$", part)
        name = part.replace(count[0], "", 1).strip() if count else part
        yield name, int(count[1] or count[2]) if count else 1
