"""News that changes the farm itself: hired machines, more people, other hours, keys that read otherwise."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from adapters.storage.memory_log import MemoryEventLog
from scheduler.events.decide import decide
from scheduler.events.derive import situation
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.events.words import report_from_words
from scheduler.farm.farm import Farm
from scheduler.wiring.workspace import open_farm
from shared.errors import ReportRefused

WET_WEEK = Path(__file__).resolve().parents[2] / "scenarios" / "wet-week"


@pytest.fixture(scope="module")
def farm() -> Farm:
    return open_farm(WET_WEEK, quiet_log=True).farm


@pytest.fixture
def now(farm: Farm) -> datetime:
    return datetime.fromisoformat("2027-05-10T05:00:00-05:00")


def told(farm: Farm, now: datetime, *news: tuple[list[str], dict[str, str]]) -> Situation:
    """Return the situation at `now` after the news, through the same door as the command line."""
    log = MemoryEventLog()
    for words, options in news:
        state = fold(State(), log.read())
        before = situation(farm, state, now)
        log.append([decide(report_from_words(words, options, before.farm, now), state, before).record])
    return situation(farm, fold(State(), log.read()), now)


def test_a_hired_machine_is_there_from_and_until(farm: Farm, now: datetime) -> None:
    span = {"at": "2027-05-12 06:00", "until": "2027-05-15 20:00"}
    after = told(farm, now, (["hire", "Lent planter", "like", "planter"], span))
    lent, own = after.farm.machine_by_id["lent-planter"], after.farm.machine_by_id["planter"]
    assert lent.model_copy(update={"id": own.id, "name": own.name}) == own
    away = after.machine_down["lent-planter"]
    comes, goes = (datetime.fromisoformat(f"{at}-05:00") for at in ("2027-05-12T06:00", "2027-05-15T20:00"))
    assert [(span.start, span.end) for span in away] == [(now, comes), (goes, None)]


def test_a_second_tractor_pulls_what_the_first_pulls(farm: Farm, now: datetime) -> None:
    after = told(farm, now, (["hire", "Row two", "like", "row"], {}))
    for machine in after.farm.machines:
        assert ("row" in machine.pulled_by) == ("row-two" in machine.pulled_by), machine.id


def test_somebody_joins(farm: Farm, now: datetime) -> None:
    after = told(farm, now, (["join", "Otto", "like", "Ilse"], {}))
    assert after.farm.operator_by_id["otto"].skills == farm.operator_by_id["ilse"].skills
    assert "otto" not in after.operator_away or after.operator_away["otto"] == ()


def test_keys_read_otherwise_in_written_units(farm: Farm, now: datetime) -> None:
    after = told(
        farm, now,
        (["change", "machine", "planter", "speed", "6.5 mph", "tracks", "yes"], {}),
        (["change", "field", "alder-bottom", "tiled", "yes"], {}),
        (["change", "pass", "beans/plant", "daylight_only", "yes"], {}),
        (["change", "plan", "seconds", "7"], {}),
    )  # fmt: skip
    # 1 mph = 1.609344 km/h exactly (NIST SP 811)
    assert after.farm.machine_by_id["planter"].speed_km_h == pytest.approx(6.5 * 1.609344)
    assert after.farm.machine_by_id["planter"].tracks
    assert after.farm.field_by_id["alder-bottom"].tiled
    spec = after.farm.spec("heron", "plant")
    assert spec is not None and spec.daylight_only
    assert after.farm.plan.seconds == 7
    untouched = {one.id for one in farm.machines} - {"planter"}
    assert all(after.farm.machine_by_id[name] == farm.machine_by_id[name] for name in untouched)


def week_of(farm: Farm, person: str) -> dict[str, str]:
    """Return the hours of somebody by days as they are written."""
    shifts = farm.operator_by_id[person].shifts
    return {day: f"{one.start:%H:%M}-{one.end:%H:%M}" for one in shifts for day in one.days}


def test_other_hours_on_some_days_leave_the_others(farm: Farm, now: datetime) -> None:
    before = week_of(farm, "oskari")
    after = told(farm, now, (["hours", "oskari", "05:00-22:00", "mon,sun"], {}))
    assert week_of(after.farm, "oskari") == before | {"mon": "05:00-22:00", "sun": "05:00-22:00"}
    all_days = told(farm, now, (["hours", "oskari", "05:00-22:00"], {}))
    assert week_of(all_days.farm, "oskari") == dict.fromkeys(before, "05:00-22:00"), "no day more than before"


def test_hours_of_one_day_hold_once_and_go_before_days_off(farm: Farm, now: datetime) -> None:
    after = told(
        farm, now, (["hours", "tove", "08:00-12:00", "2027-05-15"], {}), (["hours", "tove", "07:00-20:00", "tomorrow"], {})
    )  # fmt: skip
    tove, before = after.farm.operator_by_id["tove"], farm.operator_by_id["tove"]
    assert date(2027, 5, 15) in before.days_off
    shift = tove.shift_on(date(2027, 5, 15))
    assert shift is not None and (shift.start, shift.end) == (time(8), time(12))
    tomorrow = now.astimezone(ZoneInfo(farm.time_zone)).date() + timedelta(days=1)
    once = tove.shift_on(tomorrow)
    assert once is not None and once.end == time(20)
    assert tove.shift_on(tomorrow + timedelta(days=7)) == before.shift_on(tomorrow + timedelta(days=7))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["change", "machine", "planter", "width", "60"], "no unit"),
        (["change", "machine", "planter", "width", "60 ft"], "rows x row_spacing"),
        (["change", "machine", "planter", "wdth", "60 ft"], "did you mean 'width'"),
        (["change", "machine", "plantre", "width", "60 ft"], "did you mean"),
        (["change", "pass", "bens/plant", "on_foot", "yes"], "did you mean 'beans'"),
        (["change", "barn", "x", "y", "z"], "allowed: machine, operator"),
        (["change", "field", "heron", "tiled"], "pairs of key and value"),
        (["hire", "Planter", "like", "planter"], "on the farm already"),
        (["hire", "Two", "as", "planter"], "hire NEW like MACHINE"),
        (["hours", "ilse", "dawn-dusk"], "a span such as 06:00-21:00"),
        (["hours", "ilse", "06:00-21:00", "someday"], "the day 'someday' cannot be read"),
        (["hours", "ilse", "06:00-21:00", "2027-05-01"], "Sat 01 May 2027 is over"),
        (["counted", "corn-seed", "20 gal"], "amount '20 gal'"),
        (["change", "plan", "issue_at", "06:00"], "is read when the service starts"),
    ],
)  # fmt: skip
def test_nonsense_is_one_sentence(farm: Farm, now: datetime, words: list[str], said: str) -> None:
    with pytest.raises(ReportRefused) as refusal:
        told(farm, now, (words, {}))
    text = str(refusal.value)
    assert said in text and "\n" not in text and text.endswith(".") and ": :" not in text


def test_a_change_taken_back_changes_nothing(farm: Farm, now: datetime) -> None:
    log = MemoryEventLog()
    for words in (["change", "machine", "planter", "speed", "6.5 mph"], None):
        state = fold(State(), log.read())
        before = situation(farm, state, now)
        words = words or ["correct", log.read()[0].id, "nothing"]
        log.append([decide(report_from_words(words, {}, before.farm, now), state, before).record])
    later = now + timedelta(hours=1)
    assert situation(farm, fold(State(), log.read()), later).farm.machines == farm.machines
