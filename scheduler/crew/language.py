"""Words for the crew in their own language: one gettext catalogue a language, read at run time.

The English sentence is the key (msgid), so a missing translation shows English rather than nothing. Another
language is one more file ``translations/<code>.po``.
"""

from __future__ import annotations

from datetime import date, datetime
from functools import lru_cache
from importlib.resources import files

from babel.dates import format_date
from babel.messages.pofile import read_po
from babel.numbers import format_decimal

LOCALES = {"en": "en_US", "es": "es_US"}
DAYS = {"en": "EEEE d MMMM", "es": "EEEE d 'de' MMMM"}


@lru_cache(maxsize=8)
def catalogue(language: str) -> dict[str, str]:
    """Return msgid -> translation of a language; empty for English."""
    if language == "en":
        return {}
    path = files("scheduler.crew").joinpath("translations", f"{language}.po")
    with path.open("rb") as stream:
        messages = read_po(stream, locale=language)
    return {str(message.id): str(message.string) for message in messages if message.id and message.string}


class Words:
    """Sentences, dates and numbers in one language.

    Parameters
    ----------
    language : str
        ``en`` or ``es``.
    """

    def __init__(self, language: str = "en") -> None:
        self.language = language if language in LOCALES else "en"
        self.locale = LOCALES[self.language]
        self._catalogue = catalogue(self.language)

    def __call__(self, text: str, **values: object) -> str:
        """Return the sentence in this language with its values filled in."""
        found = self._catalogue.get(text, text)
        return found.format(**values) if values else found

    def day(self, day: date, opening: bool = False) -> str:
        """Return a day such as ``Tuesday 11 May`` in this language; with a capital where it is `opening` a line."""
        text = format_date(day, DAYS[self.language], locale=self.locale)
        return text[:1].upper() + text[1:] if opening else text

    def short_day(self, day: date) -> str:
        """Return a day such as ``Tue 11 May`` in this language."""
        text = format_date(day, "EEE d MMM", locale=self.locale)
        return text[:1].upper() + text[1:]

    def clock(self, moment: datetime) -> str:
        """Return a wall-clock time, 24 hours."""
        return moment.strftime("%H:%M")

    def number(self, value: float, digits: int = 0) -> str:
        """Return a number with this language's separators."""
        pattern = "#,##0" + ("." + "0" * digits if digits else "")
        return format_decimal(value, format=pattern, locale=self.locale)
