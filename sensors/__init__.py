"""Readings come in: thermometers and recordings. Nothing here knows what they are for."""
