"""Records that a farm must keep, filled from what was reported: nothing is typed twice, and what is missing is said."""
