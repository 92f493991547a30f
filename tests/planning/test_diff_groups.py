"""Changes by cause: what is told first, what each cause is about, what only moved along with it.

No outside source: plans by hand, so that every group is known beforehand.
"""

from __future__ import annotations

from scheduler.crew.changes_text import changes_text
from scheduler.events.news import News
from scheduler.planning.diff import Changes, compare
from scheduler.planning.diff_groups import BESIDE, OTHERS, grouped
from tests.planning import builders as make
from tests.planning.test_causes import EVENING, RAIN, after
from tests.planning.test_diff import block, plan

AWAY = News("e3", "Bob is away on Tuesday", things=frozenset({"bob"}), span=(make.at(1), make.at(2)))


def a_wet_evening() -> Changes:
    """Two passes nobody reported, rain, somebody away, and one block that moved along with another."""
    old = plan(
        block("f1/plant/1", 0, "06:00"), block("f2/plant/1", 0, "10:00"), block("f3/plant/1", 1, "08:00", chance=0.8),
        block("f4/band/1", 1, "06:00", "bob", "large+bar"), block("f5/band/1", 3, "06:00", "bob", "large+bar"),
    )  # fmt: skip
    new = plan(
        block("f1/plant/1", 1, "06:00"), block("f2/plant/1", 1, "10:00"), block("f3/plant/1", 4, "08:00"),
        block("f4/band/1", 2, "06:00", "bob", "large+bar"), block("f5/band/1", 3, "14:00", "bob", "large+bar"),
        made=EVENING,
    )  # fmt: skip
    chances = {"f3/plant/1": 0.3, "f5/band/1": 1.0, "f4/band/1": 1.0}
    return compare(old, after(old, new, chances), [RAIN, AWAY], make.farm(5))


def test_each_change_stands_under_its_cause_once() -> None:
    changes = a_wet_evening()
    found = {group.cause: group for group in grouped(changes)}
    assert [row.field for row in found["Nobody has reported it done"].own] == ["f1", "f2"]
    (wet,) = found["0.40 in of rain on the whole farm"].own
    assert (wet.field, wet.detail) == ("f3", "the odds of fit ground then fell from 80% to 30%")
    away = found["Bob is away on Tuesday"]
    assert [row.field for row in away.own] == ["f4"] and [row.field for row in away.beside] == ["f5"]
    shown = [row.block for group in grouped(changes) for row in group.rows]
    assert sorted(shown) == sorted(row.block for row in changes.rows)


def test_what_was_told_comes_before_the_forecast_and_the_earliest_first() -> None:
    changes = a_wet_evening()
    causes = [group.cause for group in grouped(changes)]
    assert causes == [
        "Nobody has reported it done",
        "Bob is away on Tuesday",
        "0.40 in of rain on the whole farm",
    ]
    old, new = plan(block("f1/plant/1", 1, "08:00")), plan(block("f1/plant/1", 2, "08:00"))
    (search,) = grouped(compare(old, new))
    assert search.cause == "A better plan was found" and len(search.own) == 1 and not search.told


def test_news_that_nothing_is_about_itself_is_no_cause_of_its_own() -> None:
    """Ann was away yesterday; her block of Thursday has no cause of its own: it is shown beside the news, not under it."""
    away = News(
        "e5", "Ann is away on Monday", things=frozenset({"ann"}), span=(make.at(0), make.at(0, "23:00"))
    )
    old, new = plan(block("f1/plant/1", 3, "08:00")), plan(block("f1/plant/1", 4, "08:00"))
    (group,) = grouped(compare(old, new, [away], make.farm(1)))
    assert group.own == () and [heading for heading, _ in group.lines()] == [BESIDE]


def test_a_forecast_that_some_blocks_are_put_on_heads_the_others_apart() -> None:
    old = plan(
        block("f1/plant/1", 1, "08:00", chance=0.8), block("f2/band/1", 1, "08:00", "bob", "large+bar")
    )
    new = plan(
        block("f1/plant/1", 2, "08:00"), block("f2/band/1", 3, "08:00", "bob", "large+bar")
    ).model_copy(update={"forecast_issued_at": make.at(0, "04:00")})
    changes = compare(old, after(old, new, {"f1/plant/1": 0.2, "f2/band/1": 1.0}), (), make.farm(2))
    (group,) = grouped(changes)
    assert [heading for heading, _ in group.lines()] == ["", OTHERS]


def test_the_text_counts_what_it_does_not_show() -> None:
    changes = a_wet_evening()
    text = "\n".join(changes_text(changes, 100))
    assert text.startswith("  Nobody has reported it done\n    - plant in f1: from Mon 10 May 06:00 to")
    assert f"    {BESIDE}:\n    - band in f5" in text
    assert all(len(line) <= 60 for line in changes_text(changes, 60))
    short = changes_text(changes, 100, most=1)
    assert "      ... and 1 more (fitground changes shows all)" in short and not any(
        "f2" in line for line in short
    )


def test_no_plan_before_has_no_groups() -> None:
    assert grouped(None) == () and grouped(compare(plan(), plan())) == ()
    assert changes_text(compare(plan(), plan()), 80) == []


def test_two_rains_of_the_same_depth_are_two_causes() -> None:
    again = News("e9", RAIN.sentence, ground=frozenset({"f2"}))
    first = News("e1", RAIN.sentence, ground=frozenset({"f1"}))
    old = plan(block("f1/plant/1", 1, "08:00", chance=0.8), block("f2/plant/1", 2, "08:00", chance=0.8))
    new = plan(block("f1/plant/1", 3, "08:00"), block("f2/plant/1", 4, "08:00"))
    changes = compare(
        old, after(old, new, {"f1/plant/1": 0.2, "f2/plant/1": 0.2}), [first, again], make.farm(2)
    )
    assert [[row.field for row in group.own] for group in grouped(changes)] == [["f1"], ["f2"]]
