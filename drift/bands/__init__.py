"""What many bands' rehearsals taught, without names: a band's summary, and priors from many."""
