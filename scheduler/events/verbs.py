"""The kinds of news that have a word of their own: how each is written, and with how many words."""

from __future__ import annotations

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
    "hours": ('hours OPERATOR "06:00-21:00" [mon,tue,wed,thu,fri,sat,sun]', 2, 3),
    "change": ("change machine|operator|field|product|pass|plan NAME KEY VALUE", 3, 99),
    "delivered": ('delivered PRODUCT "5000 gal" [DELIVERY]', 2, 3),
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

USAGE_OF = {"leaves": "away", "no rain": "rain"}
"""Kinds of news that only speech has, and the verb whose usage helps."""
