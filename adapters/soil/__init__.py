"""What is known of the ground of a field: from the US soil survey, or from a table that somebody kept."""

from adapters.soil.found import FoundSoil
from adapters.soil.listed import read_soil_table
from adapters.soil.us_survey import UsSurvey

__all__ = ["FoundSoil", "UsSurvey", "read_soil_table"]
