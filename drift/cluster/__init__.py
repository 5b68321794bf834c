"""A fit of a data set that no single memory holds: paired by rehearsal, fitted by player."""
