"""Which microphone listens, and how late it hears, in words."""

from __future__ import annotations

from collections.abc import Sequence

from sensors.delay import TEST_HZ, Delay
from sensors.microphone import Input

__all__ = ["describe_delay", "describe_inputs"]

_SLOW_S = 1.0
_UNSTEADY_S = 0.1
_ASTRAY_CENTS = 0.5


def describe_inputs(found: Sequence[Input], chosen: str) -> list[str]:
    r"""Return the inputs of a computer, a line each, and which one is listened to.

    Examples
    --------
    >>> usual, other = Input("Built-in, Core", 48_000, True), Input("USB, Core", 44_100, False)
    >>> print("\n".join(describe_inputs([usual, other], "USB")))
      Built-in, Core  48000 Hz  the system's default
      USB, Core       44100 Hz  chosen
    """
    if not found:
        return ["no input for sound is connected"]
    width = max(len(one.name) for one in found)
    return [
        f"  {one.name:<{width}}  {one.rate:.0f} Hz  {_role(one, chosen)}".rstrip() for one in found
    ]


def describe_delay(delay: Delay) -> list[str]:
    """Return what a test tone showed, a line each.

    Examples
    --------
    >>> for line in describe_delay(Delay(0.134, 0.004, 0.012)): print(line)
    The test tone was heard 134 ms after it was sent, within 4 ms each time.
    Its note of 440 Hz was heard at +0.01 cents.
    """
    seconds = 1000 * delay.seconds
    lines = [
        f"The test tone was heard {seconds:.0f} ms after it was sent, "
        f"within {1000 * delay.spread_s:.0f} ms each time."
    ]
    if delay.seconds > _SLOW_S or delay.spread_s > _UNSTEADY_S:
        lines.append("That is much: close other programs that use sound, and measure again.")
    if delay.cents is None:
        lines.append(
            "Its note could not be measured: too much echo or noise. "
            "Put the microphone nearer to the loudspeaker, and measure again."
        )
        return lines
    lines.append(f"Its note of {TEST_HZ:g} Hz was heard at {delay.cents:+z.2f} cents.")
    if abs(delay.cents) > _ASTRAY_CENTS:
        lines.append(
            "Loudspeaker and microphone disagree about the sample rate. Correct it in the settings "
            "of the system: every reading would be off by as much."
        )
    return lines


def _role(one: Input, chosen: str) -> str:
    words = chosen.lower().split()  # as the system looks for a name
    if words and all(word in one.name.lower() for word in words):
        return "chosen"
    return "the system's default" if one.default else ""
