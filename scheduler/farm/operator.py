"""People: what they can do, may do, and when they work."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, time
from typing import Annotated, Any

from pydantic import Field as Key

from scheduler.farm.cell_texts import WEEKDAYS, FromLicenceText, FromShiftText
from scheduler.farm.quantities import Clock, Hours, IsoDate, MoneyPerH, Record


class Licence(Record):
    """A licence, its last valid day (None: does not expire) and its number, which stands in records."""

    name: str
    number: str = Key(default="", max_length=60)
    expires: IsoDate | None = None


class Shift(Record):
    """Working hours on some weekdays, or on single dates: what is said of a date goes before what holds each week."""

    days: tuple[str, ...] = ("mon", "tue", "wed", "thu", "fri", "sat")
    start: Clock
    end: Clock


class Operator(Record):
    """A person who drives, walks fields, or supports a rig.

    Attributes
    ----------
    email : str
        Where the day list goes when an outlet mails it.
    skills : tuple of str
        Operations or machine ids that the person handles; ``"tender"`` for driving support.
    shifts : tuple of Shift
        Working hours; days without a shift are off. At most one for each weekday and each date.
    normal_hours_per_day, most_hours_per_day, most_hours_per_week : float
        Paid at the wage up to the first; never above the others [h].
    wage_per_h : float
        Normal pay [money/h].
    overtime_factor : float
        Pay above the normal hours, as a multiple of the wage.
    """

    id: str
    name: str = ""
    language: str = Key(default="en", pattern="^(en|es)$")
    email: str = Key(default="", max_length=200, pattern=r"^$|^[^@\s]+@[^@\s]+$")
    yard: str | None = None
    skills: tuple[str, ...]
    licences: Annotated[tuple[Licence, ...], FromLicenceText] = ()
    shifts: Annotated[tuple[Shift, ...], FromShiftText] = Key(alias="shift")
    normal_hours_per_day: Hours = Key(default=10.0, alias="normal_hours")
    most_hours_per_day: Hours = Key(default=14.0, alias="most_hours")
    most_hours_per_week: Hours = Key(default=70.0, alias="most_hours_week")
    days_off: tuple[IsoDate, ...] = ()
    wage_per_h: MoneyPerH = Key(default=0.0, alias="wage")
    overtime_factor: float = Key(default=1.5, ge=1.0, le=5.0)

    @property
    def label(self) -> str:
        """Name shown to people."""
        return self.name or self.id

    def holds(self, licence: str, on: date) -> bool:
        """Return whether a licence is held and valid on a day."""
        return any(
            own.name == licence and (own.expires is None or own.expires >= on) for own in self.licences
        )

    def shift_on(self, day: date) -> Shift | None:
        """Return the shift of a local day, or None when the person is off."""
        dated = next((shift for shift in self.shifts if day.isoformat() in shift.days), None)
        if dated is not None or day in self.days_off:
            return dated
        return next((shift for shift in self.shifts if WEEKDAYS[day.weekday()] in shift.days), None)

    def with_hours(self, start: time, end: time, days: Iterable[str] = ()) -> list[dict[str, Any]]:
        """Return the shifts, as they are written, with other hours on some days; without days on all that are worked.

        Parameters
        ----------
        days : iterable of str
            Weekdays (mon) or dates (2027-05-16). Other days stay as they are.
        """
        changed = tuple(days) or tuple(dict.fromkeys(day for shift in self.shifts for day in shift.days))
        kept = [(tuple(d for d in one.days if d not in changed), one.start, one.end) for one in self.shifts]
        return [written_shift(*one) for one in [(changed, start, end), *kept] if one[0]]


def written_shift(days: Iterable[str], start: time, end: time) -> dict[str, Any]:
    """Return a shift as the farm files hold it."""
    return {"days": list(days), "start": f"{start:%H:%M}", "end": f"{end:%H:%M}"}
