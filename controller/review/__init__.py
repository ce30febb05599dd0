"""Read what was recorded of a batch, and say what it shows.

Climate rows, readings and the batch card are believed; the diary of events only explains. Nothing here touches
hardware or a running daemon.
"""
