"""From cents to millimetres: how far to move which slide."""
