"""The page for the music stand: the rehearsal as it happens, looking back, and slides."""

from drift.page.app import create_app
from drift.page.room import Room
from drift.page.state import State

__all__ = ["Room", "State", "create_app"]
