"""The logbook: what is kept, the file it is kept in, and the folders it comes from and goes to."""
