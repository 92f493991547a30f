"""What is said of all people of the farm, said of each: `everybody works sunday`, `nobody works sunday`, `we start at 6 tomorrow`.

Question answered: *which sentences does this one stand for?*
"""

from __future__ import annotations

import re

from scheduler.farm.farm import Farm

WE = re.compile(r"\bwe (start|work)\b", re.IGNORECASE)
NO_WORK = re.compile(r"\b(nobody|no one) (works|is in|comes|is here)\b|^no work\b", re.IGNORECASE)
CREW = re.compile(r"\b(everybody|everyone|all of us|(whole )?crew)\b", re.IGNORECASE)
"""Words for all people of the farm (common speech, no source)."""


def in_plain(text: str) -> str:
    """Return a sentence with one word for all people, whichever was said: `no work sunday` is `everybody off sunday`."""
    return WE.sub(r"everybody \1s", NO_WORK.sub("everybody off", text))


def of_each(text: str, farm: Farm) -> list[str]:
    """Return a sentence for each person where it is said of all of them; else none."""
    return [CREW.sub(one.id, text) for one in farm.operators] if CREW.search(text) else []
