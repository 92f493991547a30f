"""Window rules of the farm files that no stage table or crop scale knows: said when the files are read, not when planning."""

from __future__ import annotations

from scheduler.farm.farm import Farm
from scheduler.stages.names import SettingRefused, StageNameUnknown
from scheduler.windows.timing import timings_of
from shared.errors import Fault


def rule_faults(farm: Farm) -> list[Fault]:
    """Return one fault for every pass whose window cannot be read for a crop that is grown with it.

    The key is a dotted path of the farm's model (``programme.0.pass.2.window``), the file is left empty.
    """
    found: dict[str, Fault] = {}
    for index, programme in enumerate(farm.programmes):
        crops = {field.crop: field for field in farm.fields if field.programme == programme.id}
        for number, spec in enumerate(programme.passes):
            key = f"programme.{index}.pass.{number}.window"
            for field in crops.values():
                try:
                    timings_of(field, spec)
                except (SettingRefused, StageNameUnknown) as error:
                    problem, _, allowed = str(error).rstrip(".").partition("; allowed: ")
                    found.setdefault(key, Fault("", key, "", f"cannot be used ({problem})", allowed))
    return list(found.values())
