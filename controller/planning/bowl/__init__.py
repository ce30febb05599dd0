"""Judge what is to go into the bowl: refusals, what needs a word, warnings."""
