"""Read what was recorded of a batch, and say what it shows.

Climate rows, readings and the batch card are believed; the diary of events only explains. Nothing here touches
hardware or a running daemon.
"""

from controller.review.batch import read_batch
from controller.review.figures import review, review_of
from controller.review.page import page, page_of

__all__ = ["page", "page_of", "read_batch", "review", "review_of"]
