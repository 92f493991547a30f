"""Rules of pass windows that cannot be meant are refused in one sentence."""

from __future__ import annotations

import pytest

from scheduler.stages import SettingRefused, StageNameUnknown, default_timing, timing_variants


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"stage_from": "V9"}, "after it closes at V7"),
        ({"date_from": (6, 1), "date_to": (5, 1)}, "later than"),
        ({"date_from": (13, 1)}, "not a day of the year"),
        ({"max_height_m": -1.0}, "above 0"),
        ({"days_after_planting_min": 5, "days_after_planting_max": 1}, "more than"),
        ({"colour": 1}, "not part of a timing"),
    ],
)
def test_a_bad_rule_is_refused_in_one_sentence(change: dict, says: str) -> None:
    with pytest.raises(SettingRefused, match=says):
        default_timing("side-dress", "corn").with_changes(**change)


def test_unknown_stage_and_variant_list_what_is_allowed() -> None:
    with pytest.raises(StageNameUnknown, match="allowed"):
        default_timing("side-dress", "corn").with_changes(stage_to="V77")
    with pytest.raises(SettingRefused, match="'zone 4'"):
        default_timing("terminate", "corn", "zone 9")
    assert "atrazine" in timing_variants("spray", "corn")
