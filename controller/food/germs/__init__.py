"""What keeps germs down: heat, cold, acid and dryness, each by published tables."""
