"""The chamber: what is believed of it, what is wanted of it, and what takes the heat away."""
