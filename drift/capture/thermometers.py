"""The thermometers of a rehearsal, each under a name of its own."""

from __future__ import annotations

from collections.abc import Sequence

from drift.errors import InputError
from drift.texts import check_text
from sensors.addresses import open_source
from sensors.reading import Clock, Source

__all__ = ["thermometers"]


def thermometers(addresses: Sequence[str], clock: Clock) -> list[Source]:
    """Return the sources that some addresses name; they are opened when they are entered.

    Parameters
    ----------
    addresses : sequence of str
        Such as ``serial:/dev/ttyUSB0?name=stage``.
    clock : Clock
        Handed to the sources.

    Raises
    ------
    AddressError
        When an address names no source.
    InputError
        When two have the same name: their samples could not be told apart; or when a name
        cannot be printed.

    Examples
    --------
    >>> from sensors.clocks import SystemClock
    >>> found = thermometers(["simulated:", "simulated:?name=outdoors"], SystemClock())
    >>> [source.name for source in found]
    ['simulated', 'outdoors']
    """
    sources: dict[str, Source] = {}
    for address in addresses:
        source = open_source(address, clock=clock)
        check_text(source.name, "name of a thermometer")
        if source.name in sources:
            raise InputError(
                f"two thermometers are called {source.name!r}",
                "name them in their addresses, such as simulated:?name=stage",
            )
        sources[source.name] = source
    return list(sources.values())
