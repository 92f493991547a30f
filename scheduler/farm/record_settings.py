"""What the manager enters for the records: dates of the crop policy. fitground only counts days against them."""

from __future__ import annotations

from pydantic import Field as Key

from scheduler.farm.quantities import IsoDate, Record


class RecordSettings(Record):
    """The ``[records]`` of the farm file.

    Attributes
    ----------
    final_planting : mapping of crop to date
        Last day of timely planting by the policy, as the manager enters it.
    late_planting_days : mapping of crop to days
        Length of the late-planting period after it.
    """

    final_planting: dict[str, IsoDate] = Key(default_factory=dict)
    late_planting_days: dict[str, int] = Key(default_factory=dict)
