"""A sheet of paper for one person: words only, in reading order."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SheetJob:
    """One job: a heading with its time, and lines beneath it."""

    clock: str
    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """One person's day.

    Attributes
    ----------
    head, sub : str
        Name and day; farm and plan.
    cautions : tuple of str
        Stand first.
    ticks : tuple of (title, lines)
        Lists with a box to tick before each line.
    jobs : tuple of SheetJob
    empty : str
        What stands there when there is no job.
    notes_title, foot : str
    link : str
        Address for the square code; none when empty.
    news_title, news : str, tuple of str
        What is different from the sheet before; above all but the cautions.
    watch : tuple of str
        What to watch in these fields; below the jobs.
    """

    head: str
    sub: str
    cautions_title: str
    cautions: tuple[str, ...]
    ticks: tuple[tuple[str, tuple[str, ...]], ...]
    jobs: tuple[SheetJob, ...]
    empty: str
    notes_title: str
    foot: str
    link: str = ""
    watch: tuple[str, ...] = ()
    news_title: str = ""
    news: tuple[str, ...] = ()
