"""The page for the music stand: the rehearsal as it happens, looking back, and slides."""

from drift.page.app import create_app
from drift.page.room import Room

__all__ = ["Room", "create_app"]
