"""Limits change by two people; nobody is held to them before their day; adopting lists exactly whom it touches."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from couplings.models import Fit, LimitChange
from couplings.selectors.adoption import touched_by
from couplings.selectors.limit_changes import change_governing, not_adoptable
from couplings.services.adoption import adopt_version
from couplings.services.fits import change_fit, install_fit
from couplings.services.limit_changes import approve_limit_change, turn_down_limit_change
from couplings.services.sheets import begin_version, change_version
from plant.models import Event
from plant.recording import recording
from plant.refusals import NotAllowed, Refused, Stale
from tests.couplings.sheets_written import publish, write_full
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory, SheetVersionFactory, TrainFactory

WHY = {"reason": "The maker's new sheet", "change_number": "LC-7", "from_on": TODAY}
TIGHTER = [{"quantity": "offset", "stated_as": "length", "stated_value": 0.1}]


def acted(by, call, at=NOW, **fields):
    with recording(by=by, at=at):
        return call(**fields)


def refusal(by, call, **fields):
    with pytest.raises(Refused) as refused:
        acted(by, call, **fields)
    return refused.value.as_dict()


@pytest.fixture
def first(engineer, site):
    return publish(engineer, write_full(engineer, site))


@pytest.fixture
def tighter(engineer, first):
    """An unpublished second version with other limits."""
    with recording(by=engineer, at=NOW):
        return change_version(version=begin_version(sheet=first.sheet), limits=TIGHTER)


@pytest.fixture
def waiting(engineer, tighter):
    """The same, published, its limit change waiting for approval."""
    return publish(engineer, tighter, **WHY).limit_change


def fitted(version, tag):
    train = TrainFactory(site=version.sheet.site, tag=tag)
    return FitFactory(coupling=CouplingFactory(train=train), sheet_version=version)


def test_publishing_other_limits_asks_why_under_which_number_and_from_when(engineer, tighter):
    assert refusal(engineer, lambda: publish(engineer, tighter)) == {
        "reason": "Limits differ from those of version 1: say why they change.",
        "change_number": "Give the number under which your site keeps this change.",
        "from_on": "Say from which day the new limits hold.",
    }
    yesterday = TODAY - timedelta(days=1)
    assert refusal(engineer, lambda: publish(engineer, tighter, **WHY | {"from_on": yesterday})) == {
        "from_on": f"{yesterday} is past: new limits judge nothing that was done before."
    }
    tighter.refresh_from_db()
    assert tighter.published_at is None


@pytest.mark.parametrize("change", [{"note": "other"}, {"lubricant": "other"}, {"spacers": []}, {"hold_points": []}])
def test_publishing_what_nobody_is_held_to_takes_no_limit_change(engineer, first, change):
    with recording(by=engineer, at=NOW):
        second = change_version(version=begin_version(sheet=first.sheet), **change)
    assert refusal(engineer, lambda: publish(engineer, second, **WHY)) == {
        "reason": "No limit differs from the version before: there is no change to propose."
    }
    publish(engineer, second)
    assert not LimitChange.objects.exists()
    assert not_adoptable(second, TODAY) == ""


def test_the_proposer_does_not_decide_and_who_may_not_approve_is_refused(engineer, manager, mechanic, keeper, waiting):
    own = {"": "Who proposed a limit change does not decide on it: ask somebody else."}
    assert refusal(engineer, approve_limit_change, change=waiting) == own
    assert refusal(engineer, turn_down_limit_change, change=waiting, reason="x") == own
    for person in (mechanic, keeper):
        with pytest.raises(NotAllowed):
            acted(person, approve_limit_change, change=waiting)
    acted(manager, approve_limit_change, change=waiting)
    waiting.refresh_from_db()
    assert (waiting.decision, waiting.decided_by, waiting.decided_at) == ("approved", manager, NOW)
    assert refusal(manager, turn_down_limit_change, change=waiting, reason="x")[""].startswith(
        "Limit change LC-7 is approved already, by"
    )
    assert waiting.history.count() == 2


def test_whoever_writes_sheets_may_propose_and_somebody_else_approves(keeper, engineer, tighter):
    change = publish(keeper, tighter, **WHY).limit_change
    assert (change.proposed_by, change.before.number, change.reason) == (keeper, 1, "The maker's new sheet")
    acted(engineer, approve_limit_change, change=change)


def test_turning_down_takes_a_reason_and_the_version_is_never_gone_by(manager, waiting):
    assert refusal(manager, turn_down_limit_change, change=waiting) == {
        "reason": "Say why it is turned down: the proposer has to know what to change."
    }
    acted(manager, turn_down_limit_change, change=waiting, reason="too tight for the bearings")
    said = not_adoptable(waiting.sheet_version, TODAY + timedelta(days=900))
    assert said == "Limit change LC-7 was turned down: version 2 is not gone by."


def test_a_stale_decision_is_refused_and_a_number_stands_once(engineer, manager, waiting, site):
    with pytest.raises(Stale):
        acted(manager, approve_limit_change, change=waiting, expected=7)
    other = publish(engineer, write_full(engineer, site, "Full 90"))
    with recording(by=engineer, at=NOW):
        second = change_version(version=begin_version(sheet=other.sheet), limits=TIGHTER)
    assert refusal(engineer, lambda: publish(engineer, second, **WHY)) == {
        "change_number": "This site has a limit change of this number already."
    }


@pytest.mark.parametrize(
    "columns",
    [
        {"decision": "approved"},
        {"decided_at": NOW},
        {"change_number": ""},
        {"reason": ""},
        {"before": None},
    ],
)
def test_the_database_keeps_limit_changes_whole(waiting, columns):
    if "before" in columns:
        columns = {"before": waiting.sheet_version}
    with pytest.raises(IntegrityError), transaction.atomic():
        LimitChange.objects.filter(pk=waiting.pk).update(**columns)


def test_the_database_lets_nobody_decide_on_his_own(waiting, engineer):
    with pytest.raises(IntegrityError), transaction.atomic():
        LimitChange.objects.filter(pk=waiting.pk).update(decision="approved", decided_by=engineer, decided_at=NOW)


def test_a_later_version_with_the_same_limits_stands_on_the_same_change(engineer, manager, first, waiting):
    acted(manager, approve_limit_change, change=waiting)
    with recording(by=engineer, at=NOW):
        third = change_version(version=begin_version(sheet=first.sheet), note="wording only")
    publish(engineer, third)
    assert change_governing(third) == waiting


def test_limits_that_wait_are_not_the_ones_the_next_version_is_compared_with(engineer, first, waiting):
    with recording(by=engineer, at=NOW):
        third = begin_version(sheet=first.sheet)
    # Its limits are those that wait; against the ones in force they differ still.
    assert "reason" in refusal(engineer, lambda: publish(engineer, third))


def test_nobody_goes_by_a_version_before_approval_and_its_day(engineer, manager, first, tighter):
    fit = fitted(first, "BF-31")
    tomorrow = TODAY + timedelta(days=1)
    version = publish(engineer, tighter, **WHY | {"from_on": tomorrow})
    free = CouplingFactory(train=TrainFactory(site=first.sheet.site, tag="BF-32"))
    for said in (
        "Limit change LC-7 waits for approval: until then nothing is held to version 2.",
        f"Limit change LC-7 holds from {tomorrow}: nothing is held to version 2 before.",
    ):
        assert refusal(manager, adopt_version, version=version, fits=[fit]) == {"version": said}
        assert refusal(engineer, change_fit, fit=fit, sheet_version=version) == {"sheet_version": said}
        given = {"coupling": free, "sheet_version": version, "fitted_on": TODAY}
        assert refusal(engineer, install_fit, **given) == {"sheet_version": said}
        if "waits" in said:
            acted(manager, approve_limit_change, change=version.limit_change)
            version = type(version).objects.get(pk=version.pk)
    acted(manager, adopt_version, version=version, fits=[fit], at=NOW + timedelta(days=1))
    fit.refresh_from_db()
    assert fit.sheet_version == version


def test_adoption_touches_exactly_the_open_fits_on_older_versions(engineer, manager, first, waiting):
    acted(manager, approve_limit_change, change=waiting)
    second = waiting.sheet_version
    on_first = [fitted(first, tag) for tag in ("BF-42", "BF-41")]
    on_second = fitted(second, "BF-43")
    gone = fitted(first, "BF-44")
    Fit.objects.filter(pk=gone.pk).update(removed_on=date(2026, 10, 5))
    fitted(SheetVersionFactory(sheet__site=first.sheet.site), "BF-45")
    touched = touched_by(second, "metric")
    assert [one.fit.coupling.tag for one in touched] == ["BF-41", "BF-42"]
    assert {one.number for one in touched} == {1}
    assert "limits.offset.stated_value" in {one.field for one in touched[0].held_to}
    assert touched[0].preview is None

    acted(manager, adopt_version, version=second, fits=on_first[:1])
    on_first[0].refresh_from_db()
    assert (on_first[0].sheet_version, on_first[0].version) == (second, 2)
    assert [one.fit.coupling.tag for one in touched_by(second, "metric")] == ["BF-41"]
    event = Event.objects.get(kind="sheet.adopted")
    assert event.lane == on_first[0].coupling.uuid
    assert event.payload == {
        "fit": str(on_first[0].uuid),
        "data_sheet": str(first.sheet.uuid),
        "from_version": 1,
        "to_version": 2,
    }
    other = fitted(SheetVersionFactory(sheet__site=first.sheet.site), "BF-46")
    assert refusal(manager, adopt_version, version=second, fits=[on_second, other, gone, on_first[1], on_first[1]]) == {
        "fits.0": "BF-43 is held to version 2 already.",
        "fits.1": "BF-46 is fitted by another data sheet.",
        "fits.2": "This fit was removed from BF-44 on 2026-10-05.",
        "fits.4": "This fit is named twice.",
    }
    assert refusal(manager, adopt_version, version=second, fits=[]) == {
        "fits": "Choose at least one fit that adopts this version."
    }


def test_who_may_not_approve_limits_adopts_nothing(mechanic, keeper, first):
    for person in (mechanic, keeper):
        with pytest.raises(NotAllowed):
            acted(person, adopt_version, version=first, fits=[])
