"""What one field takes in place of its programme: its own seed, its own rates. Common practice, no source.

The base is the starter farm as written; seeds and rates are put into single fields.
"""

from __future__ import annotations

from typing import Any

import pytest

from adapters.storage.farm_files import RawFarm
from scheduler.events.lookups import as_written
from scheduler.farm.altered import Part, new_faults, with_change
from scheduler.farm.build import build_farm
from scheduler.farm.farm import Farm
from scheduler.farm.rig import pace, rigs_of
from shared.errors import FarmFileError
from shared.units import parse
from tests.farm.written import changed_farm, sentences, starter_as_written

RAW = starter_as_written()
CORN = next(k for k, row in enumerate(RAW.values["fields"]) if row["crop"] == "corn")
FIELD = RAW.values["fields"][CORN]["id"]
EARLY = {"id": "early", "name": "Early hybrid", "form": "seed", "package": "80000 seeds", "stock": "40 bags"}
STARTER = {"id": "starter", "form": "liquid", "stock": "900 gal"}
PRODUCTS = [*RAW.values["product"], EARLY, STARTER]
USUAL_SEED = next(one["id"] for one in PRODUCTS if one["form"] == "seed")


def written(**own: Any) -> RawFarm:
    """Return the starter farm with two more products and keys of its first corn field."""
    changes: list[Any] = [("product",), PRODUCTS]
    for key, value in own.items():
        changes += [("fields", CORN, key), value]
    return changed_farm(*changes)


def farm(**own: Any) -> Farm:
    """Return the farm built from it."""
    return build_farm(written(**own))[0]


def applied(of: Farm, pass_id: str, field: str = FIELD) -> dict[str, float]:
    """Return product -> rate per hectare of a pass in a field."""
    spec = of.spec(field, pass_id)
    assert spec is not None
    return of.taken_by(spec)


def test_a_seed_of_its_own_is_sown_in_that_field_only() -> None:
    usual, own = farm(), farm(seed="early")
    rate = applied(usual, "plant")[USUAL_SEED]
    assert applied(own, "plant") == {"early": rate}
    others = [f.id for f in own.fields if f.id != FIELD and f.crop == "corn"]
    assert others and all(applied(own, "plant", name) == {USUAL_SEED: rate} for name in others)
    assert applied(own, "band") == applied(usual, "band")


def test_rates_of_its_own_reach_pace_and_loads() -> None:
    own = farm(
        seed="early", rates=["plant 40,000 seeds/ac", "band nitrogen-32 30 gal/ac", "plant starter 5 gal/ac"]
    )
    assert applied(own, "plant") == {
        "early": pytest.approx(parse("40000 seeds/ac", "rate_seeds_per_ha")),
        "starter": pytest.approx(parse("5 gal/ac", "rate_l_per_ha")),
    }
    assert applied(own, "band")["nitrogen-32"] == pytest.approx(parse("30 gal/ac", "rate_l_per_ha"))
    rig = next(rig for rig in rigs_of(own) if rig.worker.capacity_seeds)
    per_load = [
        pace(one, rig, one.spec(FIELD, "plant"), one.field_by_id[FIELD]).hectares_per_load
        for one in (own, farm())
    ]  # type: ignore[arg-type]
    usual = parse("34000 seeds/ac", "rate_seeds_per_ha")
    assert per_load[0] == pytest.approx(per_load[1] * usual / parse("40000 seeds/ac", "rate_seeds_per_ha"))


@pytest.mark.parametrize(
    ("own", "parts"),
    [
        ({"seed": "erly"}, ("seed", "'erly'", "did you mean 'early'")),
        ({"seed": "nitrogen-32"}, ("seed", "'nitrogen-32'", "is no seed", "early")),
        ({"rates": ["plant"]}, ("rates", "'plant'", "names no rate")),
        ({"rates": ["plnt 30000 seeds/ac"]}, ("rates", "'plnt'", "did you mean 'plant'")),
        (
            {"rates": ["plant erly 30000 seeds/ac"]},
            ("'erly'", "no product of this farm", "PASS PRODUCT RATE"),
        ),
        ({"rates": ["plant 30 gal/ac"]}, ("rates", "'30 gal/ac'", "does not fit the product")),
        ({"rates": ["plant 0 seeds/ac"]}, ("rates", "is not above 0")),
        ({"rates": ["plant 90000000 seeds/ac"]}, ("rates", "cannot be right")),
        ({"rates": ["scout 2 gal/ac"]}, ("names no product, and the pass has none",)),
        ({"rates": ["side-dress 20 gal/ac"]}, ("does not say which of", " and ")),
    ],
)
def test_what_is_wrong_is_one_sentence(own: dict[str, Any], parts: tuple[str, ...]) -> None:
    with pytest.raises(FarmFileError) as error:
        farm(**own)
    found = sentences(error.value)
    assert len([one for one in found if all(part in one for part in parts)]) == 1, found


def test_the_licence_of_a_product_that_one_field_takes_is_asked_for() -> None:
    with pytest.raises(FarmFileError) as error:
        build_farm(
            changed_farm(
                ("product",),
                [*PRODUCTS[:-1], STARTER | {"licence": "drone"}],
                ("fields", CORN, "rates"),
                ["plant starter 5 gal/ac"],
            )
        )
    assert any("'drone' is held by nobody who can do plant" in one for one in sentences(error.value))


def test_a_seed_where_nothing_is_sown() -> None:
    with pytest.raises(FarmFileError) as error:
        build_farm(changed_farm(("product",), PRODUCTS, ("fields", CORN, "seed"), "early", *_without_seed()))
    assert any("is sown by no pass of" in one for one in sentences(error.value))


def _without_seed() -> list[Any]:
    programme = RAW.values["fields"][CORN]["programme"]
    place = next(k for k, one in enumerate(RAW.values["programme"]) if one["id"] == programme)
    number = next(k for k, one in enumerate(RAW.values["programme"][place]["pass"]) if one["id"] == "plant")
    return [("programme", place, "pass", number, "product"), []]


def test_news_changes_the_seed_of_a_field_and_names_what_is_wrong() -> None:
    before = farm()
    after = with_change(
        before,
        Part.FIELD,
        FIELD,
        {"seed": "early", "rates": as_written("rates", "plant 33,000 seeds/ac, band 20 gal/ac")},
    )
    assert applied(after, "plant") == {"early": pytest.approx(parse("33000 seeds/ac", "rate_seeds_per_ha"))}
    assert applied(before, "plant") != applied(after, "plant")
    wrong = new_faults(before, with_change(before, Part.FIELD, FIELD, {"seed": "nitrogen-32"}))
    assert len(wrong) == 1 and "is no seed" in wrong[0]


def test_a_seed_of_another_crop_is_refused() -> None:
    beans = next(k for k, row in enumerate(RAW.values["fields"]) if row["crop"] == "soybean")
    with pytest.raises(FarmFileError) as error:
        build_farm(changed_farm(("fields", beans, "seed"), "corn-seed"))
    assert [
        one
        for one in sentences(error.value)
        if "is sown in fields of corn too; allowed: a seed of soybean" in one
    ]
