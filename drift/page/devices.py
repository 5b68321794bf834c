"""Which devices may open the page when it is open to the network."""

from __future__ import annotations

import hashlib
import hmac
import os
import re
import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from drift.errors import LogbookError
from drift.times import parse_time, shown_time

__all__ = ["COOKIE", "Devices"]

COOKIE = "drift_device"
#: How long a device stays let in: a day of rehearsals, not a season.
LASTS = timedelta(hours=16)


class Devices:
    """The devices let in, each by a secret that works once.

    Parameters
    ----------
    path : Path
        Where the devices are remembered, so that a restart in mid-rehearsal does not lock them
        out. The file holds only hashes and times, and only its owner may read it.
    now : callable
        The time of day.
    told : callable
        Called with each new secret; the one before has been used.
    """

    def __init__(
        self, path: Path, now: Callable[[], datetime], told: Callable[[str], None]
    ) -> None:
        self._path, self._now, self._told = path, now, told
        self._until = {key: until for key, until in _read(path) if until > now()}
        self._secret = ""
        self._renew()

    def admit(self, secret: str) -> str | None:
        """Return the token for a device that knows the secret, which is then used up."""
        if not hmac.compare_digest(secret.encode(), self._secret.encode()):
            return None
        token = secrets.token_urlsafe(32)
        until = self._now() + LASTS
        self._until[_hash(token)] = until
        _write(self._path, self._until)
        self._renew()
        return token

    def knows(self, token: str) -> bool:
        """Return whether a token was given to a device, not too long ago."""
        until = self._until.get(_hash(token))
        return until is not None and self._now() < until

    def _renew(self) -> None:
        self._secret = secrets.token_urlsafe(24)
        self._told(self._secret)


def _hash(token: str) -> str:
    # Tokens are long and random: a plain hash cannot be turned back.
    return hashlib.sha256(token.encode()).hexdigest()


def _read(path: Path) -> list[tuple[str, datetime]]:
    try:
        lines = path.read_text(encoding="ascii").splitlines()
    except (OSError, UnicodeDecodeError):
        return []
    matches = (re.fullmatch(r"([0-9a-f]{64}) (\S+)", line) for line in lines)
    return [(match[1], parse_time(match[2])) for match in matches if match]


def _write(path: Path, until: dict[str, datetime]) -> None:
    text = "".join(f"{key} {shown_time(time)}\n" for key, time in until.items())
    new = path.with_name(path.name + ".new")
    try:
        descriptor = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w", encoding="ascii") as file:
            file.write(text)
        new.replace(path)
    except OSError as error:
        raise LogbookError(
            f"{path} cannot be written: {error}",
            "check that you may write beside the logbook",
        ) from None
