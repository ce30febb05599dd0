"""Read what was recorded of a batch, and say what it shows.

Climate rows, readings and the batch card are believed; the diary of events only explains. Nothing here touches
hardware or a running daemon.
"""

from controller.review.batch import read_batch
from controller.review.figures import review
from controller.review.page import page

__all__ = ["page", "read_batch", "review"]
