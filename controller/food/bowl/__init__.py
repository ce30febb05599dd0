"""What goes into the bowl: curing agents and their limits, dextrose, and the grams the scale shows."""
