"""Drafts: kept as typed, merged field by field, several hands at once."""

import threading
from datetime import timedelta

import pytest
from django.db import connection

from inspections.models import Entry, Survey, Visit
from inspections.selectors.visits import draft_result, steps_of, visit_for
from inspections.services.drafts import begin_visit, drop_visit, save_entry
from inspections.steps import STEPS
from plant.recording import recording
from plant.refusals import Missing, NotAllowed, Refused, Stale
from tests.factories import NOW, TODAY, CouplingFactory, FitFactory, TrainFactory, WorkOrderFactory
from tests.inspections.visits import PRINTED, begin, save

WRITERS = 8


def test_a_value_that_cannot_be_taken_stays_as_it_was_typed(visit, mechanic):
    entry = save(visit, "placement", {"dbse": "14o.2", "driver_engagement": "78"}, mechanic)

    assert entry.typed == {"dbse": "14o.2", "driver_engagement": "78"}
    assert set(entry.errors) == {"dbse"}
    mended = save(visit, "placement", {"dbse": "140.2"}, mechanic, seen=entry.version)
    assert (mended.errors, mended.version) == ({}, 2)


def test_what_is_blank_is_missing_and_never_zero(visit, mechanic):
    half = {name: text for name, text in PRINTED.items() if not name.startswith("set1.")}
    entry = save(visit, "alignment", half, mechanic, number=1)

    assert entry.errors == {}, "nothing typed yet is no error"
    assert draft_result(visit, "alignment", 1) is None
    state = next(one for one in steps_of(visit) if one.key == "alignment")
    assert state.state == "begun"
    assert state.reads[1].missing


def test_two_hands_on_different_fields_are_merged(visit, mechanic, engineer):
    first = save(visit, "placement", {"dbse": "140"}, mechanic)
    save(visit, "placement", {"driver_engagement": "78"}, engineer, seen=None)
    merged = save(visit, "placement", {"driven_engagement": "80"}, mechanic, seen=first.version)

    assert merged.typed == {"dbse": "140", "driver_engagement": "78", "driven_engagement": "80"}
    assert merged.version == 3


def test_the_same_field_asks_and_shows_both(visit, mechanic, engineer):
    seen = save(visit, "placement", {"dbse": "140"}, mechanic).version
    save(visit, "placement", {"dbse": "141"}, engineer, seen=seen)

    with pytest.raises(Stale) as stale:
        save(visit, "placement", {"dbse": "142", "driver_engagement": "78"}, mechanic, seen=seen)

    assert stale.value.current == {"dbse": {"yours": "142", "theirs": "141", "by": "Ana", "at": NOW.isoformat()}}
    entry = Entry.objects.get()
    assert entry.typed == {"dbse": "141"}, "a refused save changes nothing; the form still holds what was typed"


def test_the_same_text_twice_is_no_conflict(visit, mechanic, engineer):
    save(visit, "placement", {"dbse": "140"}, mechanic)
    again = save(visit, "placement", {"dbse": "140"}, engineer, seen=None)

    assert again.version == 1


def test_typing_does_not_raise_the_visits_version(visit, mechanic):
    before = Visit.objects.get().version
    save(visit, "placement", {"dbse": "140"}, mechanic)

    assert Visit.objects.get().version == before


def test_steps_wait_for_the_isolation_and_say_where_to_go(fit, mechanic):
    order = WorkOrderFactory(train=fit.coupling.train)
    visit = begin(fit, order, mechanic)

    for step in ("as-found", "placement", "set-screws", "as-left", "element", "fasteners"):
        assert STEPS[step].needs_isolation
    with pytest.raises(Refused) as refused:
        save(visit, "placement", {"dbse": "140"}, mechanic)
    assert refused.value.code == "isolation-not-verified"
    assert "go to the step Isolation" in refused.value.sentence
    assert not Entry.objects.exists()


def test_a_draft_reaches_no_measurement_column(filled):
    assert Entry.objects.filter(visit=filled).count() == 4
    assert not Survey.objects.exists()


def test_a_phones_ids_make_a_replay_harmless(fit, order, mechanic, visit):
    with pytest.raises(Refused) as refused:
        begin(fit, order, mechanic, uuid=visit.uuid)
    assert refused.value.as_dict() == {"id": "A visit with this id already exists."}


def test_a_dropped_visit_is_not_written_in_any_more(visit, mechanic):
    with recording(by=mechanic, at=NOW):
        drop_visit(visit=visit)
    with pytest.raises(Refused, match="This visit is dropped and is not written in any more"):
        save(visit, "placement", {"dbse": "140"}, mechanic)


def test_who_may_not_fill_is_told(visit, planner, stranger):
    with pytest.raises(NotAllowed, match="does not let you fill visits"):
        save(visit, "placement", {"dbse": "140"}, planner)
    with pytest.raises(Missing):
        save(visit, "placement", {"dbse": "140"}, stranger)
    with pytest.raises(Missing):
        visit_for(stranger, visit.uuid)


@pytest.mark.parametrize(
    "changes, field, message",
    [
        ({"kind": "holiday"}, "kind", "Not a kind of visit"),
        ({"on": TODAY + timedelta(days=1)}, "on", "lies in the future"),
        ({"on": TODAY - timedelta(days=60)}, "on", "when this fit was made"),
        ({"taken_at": NOW + timedelta(hours=1)}, "taken_at", "lies in the future"),
        ({"work_order": None}, "work_order", "needs its work order"),
    ],
)
def test_a_visit_is_not_begun_on(fit, order, mechanic, changes, field, message):
    given = {"coupling": fit.coupling, "kind": "periodic", "on": TODAY, "work_order": order} | changes
    with recording(by=mechanic, at=NOW), pytest.raises(Refused) as refused:
        begin_visit(**given)
    assert message in refused.value.as_dict()[field]
    assert not Visit.objects.exists()


def test_a_visit_hangs_on_an_order_of_its_own_train(fit, mechanic, site):
    elsewhere = WorkOrderFactory(train=TrainFactory(site=site, tag="CW-04"))
    with pytest.raises(Refused, match="is not for the train of"):
        begin(fit, elsewhere, mechanic)


def test_a_coupling_without_a_fit_takes_no_visit(site, mechanic):
    coupling = CouplingFactory(train__site=site, train__tag="CW-05")
    order = WorkOrderFactory(train=coupling.train)
    with recording(by=mechanic, at=NOW), pytest.raises(Refused, match="enter the fit with its data sheet first"):
        begin_visit(coupling=coupling, kind="periodic", on=TODAY, work_order=order)


def test_the_day_is_the_sites_own(other_site, stranger):
    """At 04:00 UTC it is still the day before in Chicago."""
    fit = FitFactory(coupling=CouplingFactory(train__site=other_site))
    order = WorkOrderFactory(train=fit.coupling.train, isolated=True)
    early = NOW.replace(hour=4)
    with pytest.raises(Refused, match="lies in the future"):
        begin(fit, order, stranger, on=TODAY, at=early, taken_at=early)
    assert begin(fit, order, stranger, on=TODAY - timedelta(days=1), at=early, taken_at=early).zone == "America/Chicago"


def _write_at_once(visit, people, fields_of):
    """Everybody saves at the same moment on a connection of their own; what each was told."""
    start = threading.Barrier(len(people))
    told = [None] * len(people)

    def one(number):
        try:
            start.wait(timeout=30)
            with recording(by=people[number], at=NOW):
                save_entry(visit=visit, step="fasteners", fields=fields_of(number), seen=None)
            told[number] = "kept"
        except Stale as stale:
            told[number] = stale
        finally:
            connection.close()

    threads = [threading.Thread(target=one, args=(number,)) for number in range(len(people))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return told


def _one_of_eight_wins(visit, mechanic):
    told = _write_at_once(visit, [mechanic] * WRITERS, lambda number: {"joint0.torque": str(40 + number)})

    winners = [number for number, what in enumerate(told) if what == "kept"]
    assert len(winners) == 1
    entry = Entry.objects.get()
    assert (entry.version, entry.typed) == (1, {"joint0.torque": str(40 + winners[0])})
    for number, what in enumerate(told):
        if number != winners[0]:
            assert what.current["joint0.torque"]["yours"] == str(40 + number)
            assert what.current["joint0.torque"]["theirs"] == entry.typed["joint0.torque"]


def _eight_different_fields_are_all_kept(visit, mechanic):
    told = _write_at_once(
        visit, [mechanic] * WRITERS, lambda number: {f"joint0.position{number + 1}": str(40 + number)}
    )

    assert told == ["kept"] * WRITERS
    entry = Entry.objects.get()
    assert entry.version == WRITERS
    assert entry.typed == {f"joint0.position{number + 1}": str(40 + number) for number in range(WRITERS)}


@pytest.mark.django_db(transaction=True)
def test_of_eight_writers_on_one_field_one_wins_and_seven_are_told(visit, mechanic):
    _one_of_eight_wins(visit, mechanic)


@pytest.mark.django_db(transaction=True)
def test_of_eight_writers_on_different_fields_all_are_kept(visit, mechanic):
    _eight_different_fields_are_all_kept(visit, mechanic)


@pytest.mark.engine
@pytest.mark.django_db(transaction=True)
def test_eight_writers_on_one_field_on_the_server_database(visit, mechanic):
    _one_of_eight_wins(visit, mechanic)


@pytest.mark.engine
@pytest.mark.django_db(transaction=True)
def test_eight_writers_on_different_fields_on_the_server_database(visit, mechanic):
    _eight_different_fields_are_all_kept(visit, mechanic)
