"""Ties the temperature of a rehearsal to the drift of pitch, and answers in millimetres of slide."""
