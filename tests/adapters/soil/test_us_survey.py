"""The US soil survey over a local server: which unit, which component, which numbers, every fault one sentence."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from adapters.http.polite import PoliteClient
from adapters.soil import UsSurvey
from shared.errors import SoilUnavailable
from tests.adapters.boundaries.files import square
from tests.adapters.soil.survey import PATH, SILTY, answers, broken, rectangle
from tests.adapters.weather.fault_server import Answer, Service, served

SAMPLES = Path(__file__).resolve().parents[4] / "shared" / "samples"
FIELD = {"type": "Polygon", "coordinates": [square(-93.61, 41.90, 0.01)]}
TOP = ("9990011", "0", "20", "31.5", "17.2", "32", "30", "5", "Clay loam")
BELOW = ("9990011", "20", "95", "29.8", "16.9", "34", "30", "1.5", "Clay loam")
MOSTLY_CLAY_LOAM = [
    ("999001", rectangle(-93.61, 41.90, -93.603, 41.91)),
    ("999002", rectangle(-93.603, 41.90, -93.60, 41.91)),
]


def asked(service: Service, tmp_path: Path | None = None) -> UsSurvey:
    client = PoliteClient(
        None if tmp_path is None else tmp_path / "cache.sqlite", "me@example.org", sleep=lambda _: None
    )
    return UsSurvey(client, service.url + PATH)


def soil(survey: UsSurvey, geometry: Any = FIELD) -> Any:
    return survey.soil_of(geometry, 41.905, -93.605)


def test_the_largest_unit_by_area_and_the_top_30_cm_by_thickness() -> None:
    """By hand: 20 cm at 31.5 % and 10 cm at 29.8 % are 30.93 %; the first unit covers 70 % of the ground."""
    with served() as service:
        questions = answers(service, MOSTLY_CLAY_LOAM, horizons=(TOP, BELOW))
        found = soil(asked(service))
    assert found.texture == "clay loam" and found.group == "C/D" and found.slope_share == 0.02
    assert found.field_capacity_share == pytest.approx((20 * 31.5 + 10 * 29.8) / 3000)
    assert found.wilting_point_share == pytest.approx((20 * 17.2 + 10 * 16.9) / 3000)
    assert found.sand_share == pytest.approx((20 * 32 + 10 * 34) / 3000)
    assert (
        "Exampleville clay loam (70% of it; Samplefield silty clay loam 30%), somewhat poorly drained"
        in found.said
    )
    assert "POLYGON" in questions[0] and "IN (999001, 999002)" in questions[1] and len(questions) == 3


def test_units_in_several_pieces_are_added_and_ponding_is_said() -> None:
    pieces = [("999002", rectangle(-93.61, 41.90, -93.607, 41.91)), ("999001", rectangle(-93.607, 41.90, -93.603, 41.91)), ("999002", rectangle(-93.603, 41.90, -93.60, 41.91))]  # fmt: skip
    with served() as service:
        answers(service, pieces, horizons=(("9990021", "0", "25", None, None, "12", "32", None, None),))
        found = soil(asked(service))
    assert "60% of it" in found.said and "ponds on 94 % of it" in found.said
    assert found.texture == "" and found.sand_share == 0.12 and found.field_capacity_share is None


def test_a_field_without_outline_asks_around_its_point() -> None:
    with served() as service:
        questions = answers(service, MOSTLY_CLAY_LOAM[:1], horizons=(TOP,))
        assert soil(asked(service), None).texture == "clay loam"
    assert "-93.6055" in questions[0] and "41.9045" in questions[0]


def test_the_same_question_is_asked_once_even_by_a_new_program(tmp_path: Path) -> None:
    with served() as service:
        questions = answers(service, MOSTLY_CLAY_LOAM, horizons=(TOP, BELOW))
        for _ in range(2):
            soil(asked(service, tmp_path))
    assert len(questions) == 3


def test_an_outline_of_thousands_of_corners_is_asked_with_few() -> None:
    from math import cos, pi, sin

    ring = [
        (-93.6 + 0.01 * cos(k * 2 * pi / 5000), 41.9 + 0.01 * sin(k * 2 * pi / 5000)) for k in range(5000)
    ]
    with served() as service:
        questions = answers(service, MOSTLY_CLAY_LOAM, horizons=(TOP,))
        soil(asked(service), {"type": "Polygon", "coordinates": [[*ring, ring[0]]]})
    assert questions[0].count(",") < 1700, "two texts of at most 800 corners"


FAULTS = [
    ("nothing there", broken({}), "no map unit there"), ("maintenance", broken(b"<html><body>Site is under daily maintenance</body></html>"), "something else than JSON"),
    ("bad question", broken(b"<?xml version='1.0'?><ServiceExceptionReport/>", 400), "answered 400"), ("down", broken({}, 503), "answered 503"),
    ("odd shape", broken({"Table": "x"}), "published shape"), ("odd rows", broken({"Table": [["mukey", "wkt"], ["1"]]}), "published shape"),
    ("odd polygon", broken({"Table": [["mukey", "wkt"], ["1", "CIRCLE (1)"]]}), "cannot be read"),
    ("a key that is none", broken({"Table": [["mukey", "wkt"], ["1; DROP TABLE x", rectangle(0, 0, 1, 1)]]}), "no number"),
]  # fmt: skip


@pytest.mark.parametrize(("answer", "part"), [case[1:] for case in FAULTS], ids=[case[0] for case in FAULTS])
def test_every_fault_is_one_sentence(answer: Any, part: str) -> None:
    with served() as service:
        service.answers[PATH] = answer
        with pytest.raises(SoilUnavailable, match=part) as caught:
            soil(asked(service))
    assert "\n" not in str(caught.value)


def test_water_alone_is_no_soil() -> None:
    with served() as service:
        answers(service, MOSTLY_CLAY_LOAM, components=())
        with pytest.raises(SoilUnavailable, match="only water or built-up ground"):
            soil(asked(service))


@pytest.mark.skipif(not SAMPLES.exists(), reason="the shared samples are not beside this clone")
def test_the_shared_samples_are_read_with_their_metadata_row() -> None:
    """Shapes as the service sends them (with METADATA), as read in its documentation; numbers invented."""
    read = {
        name: json.loads((SAMPLES / f"sda_{name}.json").read_text())
        for name in ("mukey_area", "components", "horizons")
    }
    with served() as service:
        service.answers[PATH] = lambda query: Answer(
            read[
                "mukey_area"
                if "mupolygongeo" in query["query"][0]
                else "components"
                if "FROM mapunit" in query["query"][0]
                else "horizons"
            ]
        )
        found = soil(asked(service))
    assert "Exampleville clay loam, 1 to 3 percent slopes" in found.said and found.group == "C/D"
    assert SILTY[4] in found.said
