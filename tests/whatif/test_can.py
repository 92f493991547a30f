"""Can it be done by then: words, a yes with its price and odds, a no with what stands against it; nothing is stored.

No source: words are those of `whatif.demand`; plans are judged by the checker, times are read off the plan.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner

from scheduler.cli import can_command
from scheduler.cli.main import main
from scheduler.events.derive import situation as derive_situation
from scheduler.events.situation import Situation
from scheduler.events.state import State, fold
from scheduler.planning.checker import check_plan
from scheduler.whatif import tell_can
from scheduler.whatif.can import Answer, can, chance_of
from scheduler.whatif.demand import read_demands, within
from scheduler.whatif.imagine import imagine
from scheduler.whatif.run import Morning, look
from scheduler.whatif.study import Way
from scheduler.whatif.tell_can import can_text, helps, told
from scheduler.wiring.plans_known import latest_plan
from scheduler.wiring.whatif import run_ways, what_if_morning
from scheduler.wiring.workspace import open_farm
from shared.errors import ReportRefused
from tests.whatif.test_ways import NOW, WET_WEEK

EASY = "plant in sand-loop by 2027-05-15"
HARD = "plant in heron, far-west by 2027-05-11"


@pytest.fixture(scope="module")
def morning() -> Morning:
    return what_if_morning(open_farm(WET_WEEK, quiet_log=True), NOW, 0.4)


@pytest.fixture(scope="module")
def situation(morning: Morning) -> Situation:
    return derive_situation(morning.farm, fold(State(), morning.records), NOW)


@pytest.fixture(scope="module")
def yes(morning: Morning) -> Answer:
    return can(morning, [EASY])


@pytest.fixture(scope="module")
def no(morning: Morning) -> Answer:
    return can(morning, [HARD])


def test_words_of_demands(situation: Situation) -> None:
    (one,) = read_demands("plant in 'Sand Loop' by '2027-05-14 18:00'", situation, NOW)
    assert (one.field, one.pass_id) == ("sand-loop", "plant")
    assert one.until.isoformat() == "2027-05-14T18:00:00-05:00"
    several = read_demands("Plant in heron,far-west , kiln by Fri", situation, NOW)
    assert [d.field for d in several] == ["heron", "far-west", "kiln"]
    # The tenth is a Monday: "fri" is its end, "mon" is the end of today.
    assert {d.until.isoformat() for d in several} == {"2027-05-15T00:00:00-05:00"}
    joined = read_demands("plant in heron, far-west, and kiln by fri", situation, NOW)
    assert joined == several == read_demands("plant in heron and far-west and kiln by fri", situation, NOW)
    assert several == read_demands("plant in heron, far-west, kiln by Friday", situation, NOW)
    (today,) = read_demands("terminate in heron by mon", situation, NOW)
    assert today.until - NOW == timedelta(hours=19)
    (hour,) = read_demands("terminate in heron by tues 14:30", situation, NOW)
    assert hour.until - NOW == timedelta(hours=33, minutes=30), "an hour of a day is not its end"
    everywhere = read_demands("scout by 2027-05-20", situation, NOW)
    for said in (
        "scout in all by 2027-05-20",
        "scout everywhere by 2027-05-20",
        "scout in every field by 2027-05-20",
    ):
        assert read_demands(said, situation, NOW) == everywhere
    assert {d.field for d in everywhere} == {f for f, name in situation.passes if name == "scout"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("plant in heron", "does not say what is to be done by when"),
        ("plant in heron by", "does not say what is to be done by when"),
        ("by fri", "does not say what is to be done by when"),
        ("plant in 'heron by fri", "a quotation mark is not closed"),
        ("plant in herom by fri", "did you mean"),
        ("fly by fri", "the pass 'fly' is not known"),
        ("side-dress in heron by fri", "'side-dress' is no pass of Heron"),
        ("plant in heron by someday", "cannot be read"),
        ("plant in heron by monster", "cannot be read"),
        ("plant in heron by mo", "cannot be read"),
        ("plant in heron by 2027-05-09", "that is over"),
    ],
)
def test_nonsense_is_one_sentence(situation: Situation, text: str, said: str) -> None:
    with pytest.raises(ReportRefused, match=said) as refused:
        read_demands(text, situation, NOW)
    assert str(refused.value).count("\n") == 0


def test_behind_the_days_that_are_planned_is_refused(morning: Morning, situation: Situation) -> None:
    with pytest.raises(ReportRefused, match="allowed: up to 2027-05-23"):
        within(read_demands("plant in heron by 2027-05-24", situation, NOW), morning.horizon)
    last = read_demands("plant in heron by 2027-05-23", situation, NOW)
    assert within((*last, *last), morning.horizon) == last


def test_a_cancelled_pass_cannot_be_demanded(morning: Morning) -> None:
    there = imagine(morning.farm, fold(State(), morning.records), NOW, ["drop scout in heron"])
    with pytest.raises(ReportRefused, match="is cancelled"):
        read_demands("scout in heron by fri", there.situation, NOW)


def test_yes_has_a_checked_plan_that_keeps_it_and_its_price(yes: Answer, morning: Morning) -> None:
    (demand,) = yes.demands
    blocks = yes.blocks_of(demand)
    assert sum(b.area_ha for b in blocks) == pytest.approx(yes.situation.left_ha(*demand.key), abs=0.06)
    assert max(b.end for b in blocks) <= demand.until
    there = imagine(morning.farm, fold(State(), morning.records), NOW, [])
    assert check_plan(yes.plan, yes.situation, look(morning, there)[1]) == []
    assert yes.against is None and yes.chance is not None and 0.0 <= yes.chance <= 1.0
    assert yes.cost == pytest.approx(max(0.0, yes.plan.value.total - yes.without.value.total))
    said = can_text(yes, "Three Alders")
    assert "YES" in said and f"{yes.chance:.0%}" in said and " * " in said
    assert "fitground advises; people decide." in said


def test_no_names_what_stands_against_it_and_how_near_it_comes(no: Answer) -> None:
    assert no.against is not None and no.against.proved and no.against.lines
    assert no.late and no.chance is None
    said = told(no)
    assert said.verdict.startswith("NO. No plan does all of it by then: that is proved.")
    assert set(no.together) <= set(no.demands) and (
        "of 2" in said.together or "any of the 2" in said.together
    )
    assert len(said.near) == len(no.demands) and any("late" in line for line in said.near)
    # A rule that is named is a rule that counts: planted soybeans wait for their spraying.
    assert any("Terminate rye in" in line for line in said.against)


def test_many_demands_are_told_by_day_and_each_field_once(
    no: Answer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tell_can, "NAMED", 1)
    said = told(no)
    labels = [no.situation.farm.field_by_id[one.field].label for one in no.demands]
    assert "2 fields (" in said.asked[0] or len(said.asked) == 2
    text = " | ".join(said.near)
    assert all(text.count(label) >= 1 for label in labels)
    assert sum(int(line.partition("(")[2].partition(")")[0]) for line in said.near) == len(no.demands)
    assert not any("in time" in line for line in said.near) or len(no.late) < len(no.demands)


def test_what_might_help_can_be_asked(no: Answer, morning: Morning) -> None:
    for line in helps(no):
        there = imagine(morning.farm, fold(State(), morning.records), NOW, [line])
        assert there.invented[0].reports


def test_more_odds_of_a_later_time(morning: Morning, yes: Answer) -> None:
    """The same plan, looked at later, has done no less."""
    there = imagine(morning.farm, fold(State(), morning.records), NOW, [])
    _, outlook = look(morning, there)
    (demand,) = yes.demands
    moments = (NOW + timedelta(hours=1), demand.until, demand.until + timedelta(days=4))
    odds = [chance_of(yes.plan, yes.situation, outlook, (replace(demand, until=at),)) for at in moments]
    assert odds == sorted(odds) and odds[0] == 0.0


def test_must_in_a_what_if_is_planned_or_refused_with_its_reason(morning: Morning) -> None:
    ways = (
        Way(name="now"),
        Way(name="easy", changes=(f"must {EASY}",)),
        Way(name="hard", changes=(f"must {HARD}",)),
    )
    now, easy, hard = run_ways(morning, ways, 1)
    assert not easy.refused and easy.total >= now.bound - 0.01
    assert "cannot hold together" in hard.refused
    assert "Heron" in hard.refused or "Far West" in hard.refused


@pytest.mark.parametrize("demand", [EASY, HARD])
def test_the_line_of_progress_is_wiped_whatever_the_answer(
    demand: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """`Bar` wipes its line when all is done: a yes takes fewer steps than a no."""
    shown: list[tuple[int, int]] = []
    monkeypatch.setattr(
        can_command, "Bar", lambda what: lambda done, total, name="": shown.append((done, total))
    )
    shutil.copytree(WET_WEEK, tmp_path / "farm")
    asked = ["can", str(tmp_path / "farm"), demand, "--seconds", "0.2", "--now", "2027-05-10 05:00"]
    assert CliRunner().invoke(main, asked).exit_code == 0
    assert [done for done, total in shown[:-1] if done >= total] == []
    assert shown[-1][0] == shown[-1][1] and len(shown) >= 3


def test_the_command_stores_nothing(tmp_path: Path) -> None:
    farm = tmp_path / "farm"
    shutil.copytree(WET_WEEK, farm)
    run = CliRunner()
    arguments = ["can", str(farm), EASY, "--seconds", "0.3", "--now", "2027-05-10 05:00"]
    shown = run.invoke(main, arguments)
    assert shown.exit_code == 0 and "Plant soybeans in Sand Loop by the end of Sat 15 May?" in shown.output
    told_json = json.loads(run.invoke(main, [*arguments, "--json"]).output)
    assert told_json["can"] is True and told_json["demands"][0]["in_time"] is True
    ends = datetime.fromisoformat(told_json["demands"][0]["ends"])
    assert ends <= datetime.fromisoformat(told_json["demands"][0]["by"])
    refused = run.invoke(main, ["can", str(farm), "plant in moon by fri", "--now", "2027-05-10 05:00"])
    assert refused.exit_code == 3 and "the field 'moon' is not known" in refused.output
    with_change = run.invoke(main, [*arguments, "--with", "out the-moon"])
    assert with_change.exit_code == 3 and "the-moon" in with_change.output
    after = open_farm(farm, quiet_log=True)
    assert after.log.last_sequence() == 0 and latest_plan(after) is None


def test_what_is_done_by_its_hours_is_said_to_be_presumed(morning: Morning, yes: Answer) -> None:
    """When a field's only block of a pass is over, nobody has reported it."""
    block = next(
        b
        for b in sorted(yes.plan.blocks, key=lambda b: b.start)
        if b.area_ha > yes.situation.left_ha(b.field, b.pass_id) - 0.05 and not b.waits_for
    )
    asked = f"{block.pass_id} in {block.field} by 2027-05-20"
    later = replace(morning, now=block.end, known=yes.plan)
    first = replace(later, horizon=replace(later.horizon, first_day=block.end.date()))
    answer = can(first, [asked])
    assert [one.key for one in answer.done] == [(block.field, block.pass_id)]
    place = morning.farm.field_label(block.field)
    assert told(answer).done.endswith(f" in {place}.") and "nobody has reported yet" in told(answer).done
    assert can(replace(first, known=None), [asked]).done == ()
