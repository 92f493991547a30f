"""The words of common speech that news is told in: what each means, whatever the farm (common speech, no source).

The names of a farm's own things, quantities and times are found by `phrases`.
"""

from __future__ import annotations

from shared.vocabulary import Crop, Fitness

VERB, VERDICT, CROP, STAGE, AMOUNT, DAY, CLOCK, FROM, UNTIL = "verb", "verdict", "crop", "stage", "amount", "day", "clock", "from", "until"  # fmt: skip
FIELD, MACHINE, OPERATOR, PRODUCT, DELIVERY = "field", "machine", "operator", "product", "delivery"
PASS, WORKED, HALF, LEFT, IDLE, NIGHT = "pass", "worked", "half", "left", "idle", "night"
HOUR, PART, LONG, REST, LAB, MANY = "hour", "part of a day", "how long", "rest", "result", "many"
NONE, INSTEAD, NUMBER, SHARE = "none", "instead of", "number", "part of an area"
PHRASES: dict[str, tuple[str, str]] = {
    **dict.fromkeys(("rain", "rained", "raining", "rainfall"), (VERB, "rain")),
    **dict.fromkeys(
        ("down", "broke", "broke down", "broken", "broken down", "breakdown", "out of order", "failed", "in the shop", "being fixed",
         "a flat", "flat tire", "has a flat", "has a flat tire", "blew a tire", "won't start", "will not start", "quit", "leaks", "leaking", "plugged",
         "plugged up", "died", "dead",
         "jammed", "overheated", "needs repair", "needs fixing", "needs a part", "at the dealer"), (VERB, "down")
    ),
    **dict.fromkeys(
        ("back", "fixed", "repaired", "runs", "runs again", "running", "running again", "works again", "going again", "back up",
         "up again", "up and running", "runs fine"), (VERB, "back")
    ),
    **dict.fromkeys(("away", "sick", "ill", "off", "absent", "out", "gone", "not in", "not here", "not coming", "not working",
                     "can't come", "cannot come", "won't come", "won't be in", "not available", "day off", "called in sick", "home sick",
                     "sick at home", "at home",
                     "at the doctor", "at the dentist", "on vacation"), (VERB, "away")),
    **dict.fromkeys(("leaves", "leaving", "goes home", "has to leave", "only until", "only till", "here until"), (VERB, "leaves")),
    **dict.fromkeys(
        ("works", "work", "can work", "will work", "works late", "can work late", "stays", "can stay", "will stay", "starts", "starts late",
         "comes in", "comes in late"), (VERB, "hours")
    ),
    **dict.fromkeys(("no rain", "rain gauge dry", "gauge dry"), (VERB, "no rain")),
    **dict.fromkeys(("done", "did", "finished", "finish", "complete", "completed"), (VERB, "done")),
    **dict.fromkeys(("started", "start", "starting", "begun", "began"), (VERB, "started")),
    **dict.fromkeys(("paused", "pause", "stopped", "stop"), (VERB, "paused")),
    **dict.fromkeys(("cancel", "cancelled", "canceled", "called off", "skip", "skipped"), (VERB, "cancel")),
    **dict.fromkeys(("delivered", "delivery", "arrived", "came", "received", "dropped off", "unloaded", "is here",
                     "are here"), (VERB, "delivered")),
    **dict.fromkeys(("counted", "in stock", "in the shed", "in the tank", "on hand"), (VERB, "counted")),
    **dict.fromkeys(
        ("gets", "get", "switch", "switched", "switched to", "switch to", "change to", "changed to", "sow", "instead"), (VERB, "seed")
    ),
    **dict.fromkeys(
        ("replant", "needs replanting", "has to be replanted", "must be replanted", "needs to be replanted", "plant again"), (VERB, "replant")
    ),
    **dict.fromkeys(("out of", "ran out of", "run out of", "no more"), (NONE, "")),
    **dict.fromkeys(("late", "delayed", "comes", "come", "coming", "will come", "pushed back", "moved"), (VERB, "late")),
    **dict.fromkeys(("instead of", "rather than"), (INSTEAD, "")),
    **dict.fromkeys(
        ("hired", "rented", "borrowed", "bought", "lends us", "lent us", "neighbour lends us", "neighbor lends us", "neighbour lent us",
         "neighbor lent us"), (VERB, "hire")
    ),
    **dict.fromkeys(("stage",), (VERB, "stage")),
    **dict.fromkeys(("height", "tall", "high"), (VERB, "height")),
    **dict.fromkeys(("ground", "soil"), (VERB, "ground")),
    **dict.fromkeys(("pin", "pinned"), (VERB, "pin")),
    **dict.fromkeys(("tissue", "tissue result", "tissue test", "lab result"), (LAB, "")),
    **dict.fromkeys(
        ("unfit", "not fit", "too wet", "wet", "muddy", "mud", "soft", "too soft", "soggy", "sticky", "under water", "standing water",
         "ponding", "ponded", "not ready",
         "too wet to run", "too wet to work", "too wet to go", "too wet to drive on", "won't carry", "will not carry", "does not carry",
         "not dry", "not dry enough", "not good"), (VERDICT, Fitness.UNFIT.value)
    ),
    **dict.fromkeys(("fit", "dry", "dry enough", "good", "good to go", "ok to run", "ready", "ready to go", "ready to run", "carries"),
                    (VERDICT, Fitness.FIT.value)),
    **dict.fromkeys(("marginal",), (VERDICT, Fitness.MARGINAL.value)),
    **dict.fromkeys(("corn", "maize"), (CROP, Crop.CORN.value)),
    **dict.fromkeys(("soybean", "soybeans", "beans"), (CROP, Crop.SOYBEAN.value)),
    **dict.fromkeys(("on", "at", "by"), (FROM, "on")),
    "from": (FROM, "from"),
    "since": (FROM, "since"),
    **dict.fromkeys(("until", "till", "til"), (UNTIL, "until")),
    **dict.fromkeys(("to", "through", "thru"), (UNTIL, "through")),
    **dict.fromkeys(("morning", "in the morning"), (PART, "morning")),
    **dict.fromkeys(("afternoon", "in the afternoon"), (PART, "afternoon")),
    **dict.fromkeys(("evening", "in the evening", "tonight"), (PART, "evening")),
    **dict.fromkeys(("rest of the day", "rest of today", "for the day", "for today"), (REST, "day")),
    **dict.fromkeys(("rest of the week", "this week", "all week"), (REST, "week")),
    **dict.fromkeys(("emerged", "corn is up", "corn up", "beans are up", "beans up"), (STAGE, "VE")),
    "next week": (REST, "next week"),
    **dict.fromkeys(("half", "half of it", "half of"), (HALF, "")),
    **dict.fromkeys(("left", "to go", "remaining", "still to do"), (LEFT, "")),
    **dict.fromkeys(("last night", "overnight", "during the night", "in the night"), (NIGHT, "")),
    **dict.fromkeys(
        ("the", "a", "an", "is", "are", "was", "were", "has", "have", "had", "been", "in", "of", "we", "got", "with", "today's", "for", "takes", "taking",
         "should be", "will be", "all", "all of it", "whole", "everything", "completely", "it", "this", "again", "now", "too", "as well",
         "both", "in the gauge", "gauge", "still", "just", "about", "already", "very", "pretty", "really", "looks", "feels", "i", "my",
         "spade says", "by the spade", "with the spade", "there", "off the truck", "another", "a second", "one more", "extra",
         "the rest", "rest of", "other half", "second half", "last of", "farm", "everywhere", "all over", "nozzle", "nozzles", "monitor", "hose", "pump", "belt", "bearing", "starter",
         "battery", "engine", "boom"), (IDLE, "")
    ),
}  # fmt: skip
"""Words for kinds of news and what belongs to them (common speech, no source)."""
REASONS = (
    "rain", "rained", "wind", "windy", "storm", "lightning", "thunder", "dew", "heat", "hot", "dark", "lunch", "dinner", "supper",
)  # fmt: skip
"""What work stops for, said in a word behind it."""
