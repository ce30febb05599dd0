"""Learn the priors of the forecasts from a maker's own finished batches, and say whether that helps.

`shrinking` has the sums, `ferments` and `dryings` what one batch shows, `count` which batches count, `left_one_out` the
scores, `kept` the file that forecasts read once the maker has taken it over.
"""
