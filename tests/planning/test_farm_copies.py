"""A changed copy of a farm must not answer from the look-ups of the old one.

Pydantic copies the instance dictionary, cached look-ups included: a tractor hired by an event was in the list of
machines and yet not found by id.
"""

from tests.planning import builders as make


def test_a_changed_copy_of_a_farm_finds_what_was_added():
    old = make.farm(1)
    assert "big" in old.machine_by_id
    hired = old.machines[0].model_copy(update={"id": "hired"})
    new = old.model_copy(update={"machines": (*old.machines, hired)})
    assert new.machine_by_id["hired"] == hired
    assert "hired" not in old.machine_by_id
