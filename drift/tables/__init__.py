"""Tables of rehearsals from any source, by one vectorised path and one set of rules."""
