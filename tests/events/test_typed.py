"""A typed line cut into words: double quotes keep words together, apostrophes and inch marks do not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.events.typed import typed_words
from shared.errors import ReportRefused


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('rain "North Bench" "0.8 in"', ["rain", "North Bench", "0.8 in"]),
        ("planter won't start", ["planter", "won't", "start"]),
        ('done "North 40" plant "40 ac"', ["done", "North 40", "plant", "40 ac"]),
        ('1.2" at "North 40"', ["1.2", "in", "at", "North 40"]),
        ('1.2" overnight', ["1.2", "in", "overnight"]),
        ("rain 0.8 # in", ["rain", "0.8", "#", "in"]),
        ("c:\\seed 3", ["c:\\seed", "3"]),
    ],
)
def test_a_line_is_cut_as_it_is_meant(line: str, words: list[str]) -> None:
    assert typed_words(line) == words


@pytest.mark.parametrize(
    ("line", "why"), [('rain all "half', "quotation mark is open"), ("  ", "nothing was said")]
)
def test_what_cannot_be_cut_is_refused(line: str, why: str) -> None:
    with pytest.raises(ReportRefused, match=why):
        typed_words(line)


@given(
    st.text(
        st.characters(codec="utf-8", exclude_characters='"', exclude_categories=["Z", "C"]),
        min_size=1,
        max_size=20,
    )
)
def test_a_word_without_a_quote_stays_a_word(word: str) -> None:
    assert typed_words(f"rain {word}") == ["rain", word]
