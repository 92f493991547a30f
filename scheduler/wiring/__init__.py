"""The one place that joins adapters to the core. Faces call this; nothing below knows it.

`workspace` opens a farm folder, `news` takes reports, `mornings` makes and issues plans. Time comes in as an argument
of every call; only the faces read a clock. Nothing is imported here: a command that only reads the log need not load the engine.
"""
