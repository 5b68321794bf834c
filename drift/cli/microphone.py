"""Choose the microphone that listens, and measure how late it hears.

for example:
  drift microphone
  drift microphone "USB audio" --test-tone

Without arguments the inputs of this computer are listed. The one that is chosen is remembered for
drift log --microphone and drift page --microphone.

Good to know:
  DEVICE is a part of a name in the list, or default for the default of the system.
  --test-tone plays three soft tones of two seconds on the loudspeaker and measures how late the
  microphone hears them; readings then get times that are right by as much. Turn the loudspeaker
  down before the first try, and keep ears away from it.
  Both are kept in a small file in your folder of settings, for this computer alone.
"""

from __future__ import annotations

import argparse
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

from drift.cli.options import add_json, print_json

if TYPE_CHECKING:
    from drift.cli.chosen_microphone import ChosenMicrophone
    from sensors.delay import Delay
    from sensors.microphone import Input

__all__ = ["add_arguments", "run"]

_DEFAULT = "default"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of the command."""
    parser.add_argument(
        "device", metavar="DEVICE", nargs="?", help="the microphone to listen with from now on"
    )
    parser.add_argument(
        "--test-tone",
        action="store_true",
        help="play a test tone, and measure how late it is heard",
    )
    add_json(parser)


def run(options: argparse.Namespace) -> int:
    """List the inputs, or choose one and measure its delay."""
    from drift.cli.chosen_microphone import ChosenMicrophone, chosen_microphone, remember
    from sensors.microphone import Microphone, inputs

    found = inputs()
    chosen = chosen_microphone() if options.device is None else ChosenMicrophone()
    if options.device not in (None, _DEFAULT):
        chosen = replace(chosen, device=options.device)
        with Microphone(chosen.device):
            pass  # what cannot be opened is not remembered
    delay = _measured(chosen.device) if options.test_tone else None
    if delay is not None:
        chosen = replace(chosen, delay_s=round(delay.seconds, 4))
    kept = remember(chosen) if options.device is not None or delay is not None else None
    if options.json:
        print_json(_answer(found, chosen, delay))
        return 0
    _show(found, chosen, delay)
    if kept is not None:
        print(f"remembered in {kept}")
    return 0


def _measured(device: str) -> Delay:
    from sensors.clocks import SystemClock
    from sensors.delay import measure_delay
    from sensors.loudspeaker import Loudspeaker
    from sensors.microphone import Microphone

    return measure_delay(lambda: Microphone(device or None), Loudspeaker(), SystemClock())


def _show(found: list[Input], chosen: ChosenMicrophone, delay: Delay | None) -> None:
    from drift.words.microphone import describe_delay, describe_inputs

    print("\n".join(describe_inputs(found, chosen.device)))
    if delay is not None:
        print("\n".join(describe_delay(delay)))
    elif chosen.delay_s:
        print(f"times of readings are corrected by {1000 * chosen.delay_s:.0f} ms")


def _answer(found: list[Input], chosen: ChosenMicrophone, delay: Delay | None) -> dict[str, object]:
    measured = None if delay is None else asdict(delay)
    return {"inputs": [asdict(one) for one in found], **asdict(chosen), "measured": measured}
