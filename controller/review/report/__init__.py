"""The batch record as one page of HTML that can be read, printed and filed: no script, no network, nothing beside it.

It says what was measured, the limit, and who decides. No line of it says that meat may be eaten.
"""

from controller.review.report.page import report

__all__ = ["report"]
