"""Pitch tonight: what a player's readings, slides, air and playing say now, and what to do."""

from __future__ import annotations

from drift.tonight.conditions import Conditions
from drift.tonight.course import Course
from drift.tonight.decision import Action, Decision, Reason, round_mm
from drift.tonight.evening import Evening, NotUsed, Reading, SlideSetting
from drift.tonight.knowledge import Knowledge, know
from drift.tonight.pitch_now import PitchNow, pitch_now
from drift.tonight.surprises import Surprise

__all__ = [
    "Action",
    "Conditions",
    "Course",
    "Decision",
    "Evening",
    "Knowledge",
    "NotUsed",
    "PitchNow",
    "Reading",
    "Reason",
    "SlideSetting",
    "Surprise",
    "know",
    "pitch_now",
    "round_mm",
]
