"""The release sheet: what was measured of a batch beside what is asked, criterion by criterion. It decides nothing.

It is made from the batch folder alone, while the batch runs or long after. What nobody measured is said to be not
measured, an estimate stands apart and is called one, and no verdict says that a sausage may be eaten.
"""

from controller.review.release.sheet import release, release_of

__all__ = ["release", "release_of"]
