"""News in as few lines as it takes: alike sentences name all their fields, others stand alone, nothing is lost."""

from __future__ import annotations

from scheduler.events.news import News
from scheduler.planning.told_news import news_lines
from tests.planning import builders as make

FARM = make.farm(4)


def done(field: str, what: str = "scout") -> News:
    return News(f"r-{field}-{what}", f"{what} finished on {field}", work=frozenset({(field, what)}))


def test_alike_news_stand_in_one_line_where_the_first_stood():
    rain = News("r-1", "8 mm of rain on the whole farm", ground=frozenset({"all"}))
    lines = news_lines([done("f1"), rain, done("f3"), done("f2"), done("f2", "plant"), done("f1")], FARM)
    assert lines == [
        "Scout finished on f1, f3 and f2",
        "8 mm of rain on the whole farm",
        "Plant finished on f2",
    ]


def test_what_names_no_field_or_several_stays_as_it_is():
    two = News("r-2", "f1 and f2 change their crop", fields=frozenset({"f1", "f2"}))
    strange = News("r-3", "scout finished on the old place", work=frozenset({("gone", "scout")}))
    assert news_lines([two, strange], FARM) == [
        "F1 and f2 change their crop",
        "Scout finished on the old place",
    ]
