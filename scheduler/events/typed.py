"""A line that somebody typed -> its words; what stands in double quotes is one word, as in a shell.

Question answered: *what are the words of `rained 0.4" at "North Bench", planter won't start`?* An apostrophe belongs to its word, and
a double quote behind a digit that closes none is the mark of inches.
"""

from __future__ import annotations

import re
import shlex

from shared.errors import ReportRefused

QUOTED_OR_INCH = re.compile(r"(?<!\S)\"[^\"]*\"|(?<=\d)\"")


def typed_words(line: str) -> list[str]:
    """Return the words of a line.

    Raises
    ------
    ReportRefused
        A quotation mark is open, or nothing was said.
    """
    plain = QUOTED_OR_INCH.sub(lambda found: " in" if found[0] == '"' else found[0], line)
    reader = shlex.shlex(plain, posix=True)
    reader.whitespace_split, reader.quotes, reader.escape, reader.commenters = True, '"', "", ""
    try:
        words = list(reader)
    except ValueError as error:
        raise ReportRefused("a quotation mark is open; close it.") from error
    if not words:
        raise ReportRefused("nothing was said.")
    return words
