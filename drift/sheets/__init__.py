"""Paper and pictures: the plan on a clipboard, the card of positions, the drawing of a horn."""
