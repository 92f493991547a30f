"""Short names out of names as people write them.

Question answered: *which id does a thing get that only has a name?*
"""

from __future__ import annotations

import re
import unicodedata

MOST = 40


def slug(text: str) -> str:
    """Return a name in small plain letters, digits and hyphens; nothing where it has none."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"-+", "-", re.sub(r"[^a-z0-9]+", "-", plain.lower())).strip("-")[:MOST]
