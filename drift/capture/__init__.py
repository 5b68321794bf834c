"""What comes in during a rehearsal: typed entries, thermometers, tones heard."""
