"""Forecast when a batch will be where its maker wants it: pH in the ferment, weight loss in drying.

A forecast is reckoned apart from the daemon, from what stands in the batch folder, and kept as a row of a file that
people read. Nothing that decides reads it: no stage moves and no alarm is silent because of a forecast.
"""
