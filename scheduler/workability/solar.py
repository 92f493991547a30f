"""Sunrise and sunset, as the workability room offers them; the geometry lives in `shared.sun`."""

from shared.sun import day_length_h, sun_times

__all__ = ["day_length_h", "sun_times"]
