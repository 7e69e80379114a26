"""Couplings as places: neighbours only, retired with a successor, held to a grade, with a target in parts."""

from datetime import date

import pytest

from couplings.models import Coupling, Grade
from couplings.selectors import target_of
from couplings.services.couplings import (
    change_coupling,
    register_coupling,
    remove_target,
    retire_coupling,
    set_target,
)
from couplings.services.fits import remove_fit
from plant.models import Machine
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused, Stale
from tests.couplings.services.test_sheets import refusal
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory, TrainFactory


@pytest.fixture
def train(site):
    return TrainFactory(site=site, tag="BF-21")


def place(train):
    motor, pump = train.machines.order_by("position")
    return {"train": train, "driver_machine": motor, "driven_machine": pump}


def registered(by, train, **fields):
    with recording(by=by, at=NOW):
        return register_coupling(**place(train), **({"tag": "BF-21-C1", "rpm": 2980.0} | fields))


def test_a_coupling_is_registered_between_two_neighbours(keeper, train):
    coupling = registered(keeper, train, lowest_rpm=900.0, power_kw=315.0)
    coupling.refresh_from_db()
    assert (coupling.site, coupling.lowest_rpm, coupling.version) == (train.site, 900.0, 1)
    assert coupling.changed_no > 0
    assert coupling.history.get().history_user == keeper


def test_a_coupling_that_skips_a_machine_or_turns_round_is_refused(keeper, train):
    motor, pump = train.machines.order_by("position")
    fan = Machine.objects.create(train=train, position=3, name="fan")
    stranger = TrainFactory(site=train.site).machines.get(position=2)
    given = {"by": keeper, "train": train, "tag": "X", "rpm": 1500.0}
    neighbours = "A coupling joins two neighbours: the driven side is the next position after the driver side "
    assert refusal(register_coupling, driver_machine=motor, driven_machine=fan, **given) == {
        "driven_machine": neighbours + "(driver side is 1, this is 3)."
    }
    assert refusal(register_coupling, driver_machine=pump, driven_machine=motor, **given) == {
        "driven_machine": neighbours + "(driver side is 2, this is 1)."
    }
    assert refusal(register_coupling, driver_machine=motor, driven_machine=stranger, **given) == {
        "driven_machine": "This machine stands in another train."
    }


def test_speeds_and_tags_that_cannot_be_are_refused_together(keeper, train):
    registered(keeper, train)
    errors = refusal(
        register_coupling,
        by=keeper,
        **place(train),
        tag="BF-21-C1",
        rpm=900.0,
        lowest_rpm=1000.0,
        power_kw=float("inf"),
    )
    assert errors == {
        "lowest_rpm": "The lowest speed lies above the highest: exchange the two.",
        "power_kw": "It must lie between 0.001 and 1e+06.",
        "tag": "Another coupling of this site has this tag.",
        "driven_machine": "Coupling BF-21-C1 is registered between these machines: retire it first.",
    }
    assert Coupling.objects.count() == 1


def test_the_register_is_the_keepers(mechanic, stranger, train):
    with pytest.raises(NotAllowed):
        registered(mechanic, train)
    with pytest.raises(Missing):
        registered(stranger, train)


def test_a_chosen_grade_wants_its_reason_and_an_engineer(keeper, engineer, train):
    coupling = registered(keeper, train)
    grade = Grade.objects.create(site=train.site, name="Tight")
    with pytest.raises(NotAllowed), recording(by=keeper, at=NOW):
        change_coupling(coupling=coupling, grade=grade, grade_reason="hot pump")
    assert refusal(change_coupling, by=engineer, coupling=coupling, grade=grade) == {
        "grade_reason": "Say why this coupling is not held to the grade of its train's criticality."
    }
    with recording(by=engineer, at=NOW):
        change_coupling(coupling=coupling, grade=grade, grade_reason="hot pump")
    with pytest.raises(NotAllowed), recording(by=engineer, at=NOW):
        change_coupling(coupling=coupling, tag="other")


def test_a_grade_of_another_site_is_refused(engineer, keeper, train, other_site):
    coupling = registered(keeper, train)
    foreign = Grade.objects.create(site=other_site, name="Theirs")
    errors = refusal(change_coupling, by=engineer, coupling=coupling, grade=foreign, grade_reason="x")
    assert errors == {"grade": "This grade belongs to another site."}


def test_a_change_from_an_old_version_is_refused(keeper, train):
    coupling = registered(keeper, train)
    with recording(by=keeper, at=NOW):
        change_coupling(coupling=coupling, expected=1, name="first")
    with pytest.raises(Stale), recording(by=keeper, at=NOW):
        change_coupling(coupling=Coupling.objects.get(), expected=1, name="second")
    assert Coupling.objects.get().name == "first"


def test_a_coupling_is_retired_and_its_successor_registered_at_the_same_place(keeper, train):
    old = registered(keeper, train)
    with recording(by=keeper, at=NOW):
        retire_coupling(coupling=old, on=TODAY)
    new = registered(keeper, train, tag="BF-21-C2")
    with recording(by=keeper, at=NOW):
        retire_coupling(coupling=old, on=TODAY, successor=new)
    old.refresh_from_db()
    assert (old.retired_on, old.successor) == (TODAY, new)
    assert refusal(retire_coupling, by=keeper, coupling=old, on=TODAY, successor=new) == {
        "on": "This coupling was retired on 2026-10-12 already."
    }


def test_a_successor_stands_in_the_same_train_and_never_in_a_circle(keeper, train):
    one = registered(keeper, train)
    with recording(by=keeper, at=NOW):
        retire_coupling(coupling=one, on=TODAY)
    two = registered(keeper, train, tag="BF-21-C2")
    with recording(by=keeper, at=NOW):
        retire_coupling(coupling=one, on=TODAY, successor=two)
    elsewhere = CouplingFactory(train=TrainFactory(site=train.site))
    for successor, sentence in [
        (two, "A coupling cannot succeed itself."),
        (elsewhere, "The successor stands in another train."),
        (one, "BF-21-C1 was itself succeeded by BF-21-C2: that would go round in a circle."),
    ]:
        assert refusal(retire_coupling, by=keeper, coupling=two, on=TODAY, successor=successor) == {
            "successor": sentence
        }


def test_a_coupling_is_not_retired_in_the_future_nor_with_something_fitted(keeper, mechanic, train):
    coupling = CouplingFactory(train=train)
    assert refusal(retire_coupling, by=keeper, coupling=coupling, on=date(2026, 10, 13)) == {
        "on": "2026-10-13 is still to come: a coupling is retired once it is gone."
    }
    fit = FitFactory(coupling=coupling)
    assert refusal(retire_coupling, by=keeper, coupling=coupling, on=TODAY) == {
        "": "What was fitted on 2026-10-01 is still recorded as being here: remove that fit first."
    }
    with recording(by=mechanic, at=NOW):
        remove_fit(fit=fit, removed_on=date(2026, 10, 11))
    assert refusal(retire_coupling, by=keeper, coupling=coupling, on=date(2026, 10, 10)) == {
        "on": "A fit was here until 2026-10-11."
    }


def test_the_target_is_the_sum_of_its_parts(engineer, train):
    coupling = CouplingFactory(train=train)
    with recording(by=engineer, at=NOW):
        set_target(coupling=coupling, kind="thermal", offset_v_mm=-0.25, slope_v_mrad=0.125, note="from growth")
        set_target(coupling=coupling, kind="oil-film", offset_v_mm=0.5, offset_h_mm=0.0625)
        set_target(coupling=coupling, kind="thermal", offset_v_mm=-0.75)
    coupling.refresh_from_db()
    # The arithmetic, exact in binary: -0.75 + 0.5; the second setting of a part replaces it whole.
    assert target_of(coupling) == (-0.25, 0.0625, 0.0, 0.0)
    assert coupling.version == 2
    part = coupling.target_parts.get(kind="thermal")
    assert (part.by, part.on, part.note) == (engineer, TODAY, "")
    with recording(by=engineer, at=NOW):
        remove_target(coupling=coupling, kind="oil-film")
    assert target_of(Coupling.objects.get(pk=coupling.pk)) == (-0.75, 0.0, 0.0, 0.0)
    assert refusal(remove_target, by=engineer, coupling=coupling, kind="measured") == {
        "kind": "The target has no such part."
    }


def test_a_target_beyond_the_trade_or_of_no_kind_is_refused(engineer, keeper, train):
    coupling = CouplingFactory(train=train)
    errors = refusal(set_target, by=engineer, coupling=coupling, kind="wish", offset_v_mm=30.0)
    assert errors["offset_v_mm"] == "It must lie between -25 and 25."
    assert "kind" in errors
    with pytest.raises(NotAllowed), recording(by=keeper, at=NOW):
        set_target(coupling=coupling, offset_v_mm=0.1)


def test_two_keepers_at_once_are_told_which_field_was_taken(keeper, train, monkeypatch):
    """The database's own answer: the check beforehand is made blind, as it is for two at the same moment."""
    from couplings.services import couplings

    registered(keeper, train)
    real, asked = couplings._taken, []

    def blind_once(coupling):
        asked.append(coupling)
        return {} if len(asked) == 1 else real(coupling)

    monkeypatch.setattr(couplings, "_taken", blind_once)
    with pytest.raises(Refused) as refused:
        registered(keeper, train)
    assert refused.value.code == "taken"
    assert set(refused.value.as_dict()) == {"tag", "driven_machine"}
