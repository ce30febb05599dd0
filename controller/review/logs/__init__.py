"""Read climate logs of any size by Polars, in pieces that fit into a small memory, and say what could not be read."""
