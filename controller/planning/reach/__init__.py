"""What a chamber can do in its room, reckoned beforehand: how warm, how cold, how damp and how dry it gets."""
