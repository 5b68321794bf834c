"""What a desk needs of a microphone that proposes readings."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Protocol

from drift.capture.entries import Decide

if TYPE_CHECKING:
    from drift.capture.answers import Dropped, Kept
    from drift.capture.lately import Trace

__all__ = ["Proposer"]


class Proposer(Protocol):
    """Something that listens to the player at a desk and proposes readings."""

    @property
    def trace(self) -> Trace:
        """The pitch of the last minutes, what was taken and what was refused."""

    @property
    def began(self) -> datetime:
        """When listening began: the times of `trace` count from it."""

    def follow(self) -> None:
        """Listen to the player and for the instrument that are chosen now."""

    def decide(
        self, entry: Decide, time: datetime, once: str | None, seat: Mapping[str, str]
    ) -> Kept | Dropped:
        """Keep or discard a proposal, and return what was done."""

    def __exit__(self, *error: object) -> None:
        """Stop listening."""
