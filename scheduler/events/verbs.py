"""The kinds of news that have a word of their own: how each is written, and with how many words."""

from __future__ import annotations

import re

VERBS: dict[str, tuple[str, int, int]] = {
    "rain": ('rain [FIELD] "0.8 in"', 1, 2),
    "started": ("started FIELD PASS [--operator NAME] [--rig RIG]", 2, 2),
    "paused": ("paused FIELD PASS [--why WHY]", 2, 2),
    "done": ('done FIELD PASS "40 ac", or done FIELD PASS for all of it', 2, 3),
    "finished": ("finished FIELD PASS", 2, 2),
    "cancel": ("cancel FIELD PASS", 2, 2),
    "down": ("down MACHINE [--until TIME]", 1, 1),
    "back": ("back MACHINE|OPERATOR", 1, 1),
    "away": ("away OPERATOR [--until TIME]", 1, 1),
    "hire": ("hire NEW like MACHINE [--at START] [--until TIME]", 3, 3),
    "join": ("join NEW like OPERATOR [--at START] [--until TIME]", 3, 3),
    "again": ("again FIELD PASS NEW", 3, 3),
    "hours": ('hours OPERATOR "06:00-21:00" [mon,tue | today | 2027-05-16]', 2, 3),
    "change": ("change machine|operator|field|product|pass|plan NAME KEY VALUE", 3, 99),
    "delivered": ('delivered PRODUCT "5000 gal" [DELIVERY]', 2, 3),
    "counted": ('counted PRODUCT "20 bags"', 2, 2),
    "late": ("late PRODUCT DELIVERY DATE", 3, 3),
    "ground": ("ground FIELD fit|marginal|unfit [PASS]", 2, 3),
    "stage": ("stage FIELD V4", 2, 2),
    "height": ('height FIELD "10 in"', 2, 2),
    "tissue": ('tissue FIELD "3.4 %"', 2, 2),
    "pin": ("pin FIELD PASS --at TIME", 2, 2),
    "unpin": ("unpin PIN", 1, 1),
    "correct": ("correct EVENT WORDS... | correct EVENT nothing", 2, 99),
}
"""Verb -> how it is written, fewest and most words behind it."""

KNOWN_AHEAD = ("away", "down", "hire", "join")
"""What may be told before it begins."""

WRONG = ("undo", "wrong", "mistake", "delete", "remove", "withdraw")
"""What people say when a report was none."""

SPOKEN_USAGE = {
    "leaves": VERBS["away"][0],
    "no rain": VERBS["rain"][0],
    "seed": "change field FIELD seed PRODUCT",
    "replant": VERBS["again"][0],
}
"""Kinds of news that only speech has, and how the report that they stand for is written."""


def _topic(words: str) -> re.Pattern[str]:
    return re.compile(rf"\b({words})\b", re.IGNORECASE)


ELSEWHERE: tuple[tuple[re.Pattern[str], str], ...] = (
    (_topic("winds?|windy|gusts?|gusty"), "wind is known from the forecast; where work stopped for it say: paused FIELD PASS --why wind"),
    (_topic("hail|frost|washed out|crusted|replant(ed|ing)?"), "say what is to be done once more: again FIELD PASS NEW; or what will not be done: cancel FIELD PASS"),
    (_topic("roads?|bridges?"), "roads that are closed, or longer than the map says, stand in roads.csv of the farm folder"),
    (_topic("licen[cs]es?"), 'say: change operator NAME licences "applicator until 2027-05-18"'),
    (_topic("stuck"), "say which machine is out of order (down MACHINE --until TIME) and that the ground is not fit (ground FIELD unfit)"),
    (_topic("hired|rent(ed|s)?|borrow(ed|s)?|len(t|ds)"), f"say: {VERBS['hire'][0]}"),
    (_topic("joins|joined|helps"), f"say: {VERBS['join'][0]}"),
    (_topic("don't|do not|can't|cannot"), "say what is so: cancel FIELD PASS, ground FIELD unfit, away OPERATOR, or change operator NAME skills plant,scout"),
)  # fmt: skip
"""What people tell that is no kind of news of its own, or needs more words: how it is said."""
