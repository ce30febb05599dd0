"""Print one picture of a batch's report as a file of its own, as the README shows it.

Usage: python -m tests.bench.report_picture FOLDER climate|acid|core|drying|duties > .pictures/batch.svg
"""

import re
import sys
from pathlib import Path

from controller.cli.local import in_local_words
from controller.review.report import report

WHITE = "<rect width='100%' height='100%' fill='white'/>"


def picture(folder: Path, key: str) -> str:
    """Return the wide drawing of this name, on white."""
    page = report(folder, made_s=0.0, version="", say=in_local_words)
    found = re.search(rf"<svg (?:(?!</svg>).)*?aria-labelledby='{key}-wide-t.*?</svg>", page, re.DOTALL)
    if found is None:
        raise SystemExit(f"{folder}: its report has no picture {key}")
    return found[0].replace("<title", f"{WHITE}\n<title", 1) + "\n"


if __name__ == "__main__":
    print(picture(Path(sys.argv[1]), sys.argv[2]), end="")
