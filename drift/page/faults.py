"""Faults of the program while the page goes on: an answer that names them, and once a traceback."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager

from drift.errors import ProgramFault, faults_refused

__all__ = ["answered_anyway"]

_told: set[str] = set()


@contextmanager
def answered_anyway() -> Iterator[None]:
    """Turn a fault of the program into a refusal, and write each to the terminal once."""
    try:
        with faults_refused():
            yield
    except ProgramFault as fault:
        if fault.problem not in _told:
            _told.add(fault.problem)
            logging.getLogger(__name__).exception("an answer of the page failed")
        raise
