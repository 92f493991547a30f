"""One job on a person's list."""

from __future__ import annotations

from datetime import datetime

from scheduler.crew.load_sheet import CrewRecord, LoadLine
from scheduler.crew.second import Second

DRIVE, SUPPORT, WALK = "drive", "support", "walk"


class Stop(CrewRecord):
    """One block on a person's list.

    Attributes
    ----------
    role : str
        ``drive``, ``support`` (driving the tender) or ``walk``.
    told : str
        What was reported of the pass in this field.
    waits_for, waited_for_by, handed : tuple of str
        Sentences: whom the block waits for, who waits for it, and with whom its machine changes hands.
    clean_out : str
        What has to come out of the machine first.
    second : Second or None
        What to do where the field is not fit after all.
    """

    block: str
    role: str
    start: datetime
    end: datetime
    field: str
    field_name: str
    pass_id: str
    job: str
    rig: str = ""
    hitch: tuple[str, ...] = ()
    area_ha: float
    area_text: str
    loads: tuple[LoadLine, ...] = ()
    told: str = ""
    guidance_line: str = ""
    hazards: tuple[str, ...] = ()
    field_note: str = ""
    with_whom: str = ""
    waits_for: tuple[str, ...] = ()
    waited_for_by: tuple[str, ...] = ()
    handed: tuple[str, ...] = ()
    clean_out: str = ""
    chance: float = 1.0
    second: Second | None = None
