"""The trade's sums: pure functions, every published figure once, with its source."""
