"""Several hands at once: one chain, and nothing typed is lost between draft and record."""

import threading

import pytest
from django.db import connection

from inspections.models import (
    Torque,
)
from inspections.selectors.verification import verify
from inspections.services.drafts import save_entry
from plant.models import Person
from plant.recording import recording
from plant.refusals import Refused
from tests.factories import NOW
from tests.inspections.test_signing import sign
from tests.inspections.visits import begin, fasteners, save


def at_once(*acts):
    """Run each act on a thread and a connection of its own; what each gave or raised."""
    start, given = threading.Barrier(len(acts)), [None] * len(acts)

    def run(number):
        try:
            start.wait(timeout=30)
            given[number] = acts[number]()
        except Refused as refused:
            given[number] = refused
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(number,)) for number in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    return given


def visits_of_one_coupling_signed_at_once(fit, order, mechanic, wrench):
    visits = [begin(fit, order, mechanic, kind="torque") for _ in range(4)]
    for visit in visits:
        save(visit, "fasteners", fasteners(wrench), mechanic)

    def signing(visit):
        return lambda: sign(visit, Person.objects.get(pk=mechanic.pk))

    records = at_once(*[signing(visit) for visit in visits])

    assert sorted(record.number for record in records) == [1, 2, 3, 4]
    assert verify().findings == []


def one_signs_while_another_types(fit, order, mechanic, wrench):
    """Either the text comes first and is signed, or the signature does and the text is refused; never neither."""
    for turn in range(4):
        visit = begin(fit, order, mechanic, kind="torque")
        save(visit, "fasteners", fasteners(wrench), mechanic)

        def type_more(visit=visit, turn=turn):
            with recording(by=Person.objects.get(pk=mechanic.pk), at=NOW):
                return save_entry(visit=visit, step="fasteners", fields={"joint0.position2": str(40 + turn)}, seen=1)

        def sign_it(visit=visit):
            return sign(visit, Person.objects.get(pk=mechanic.pk))

        typed, record = at_once(type_more, sign_it)

        positions = set(Torque.objects.filter(record=record).values_list("position", flat=True))
        if isinstance(typed, Refused):
            assert "is not written in any more" in typed.sentence
            assert positions == {None}
        else:
            assert positions == {None, 2}
    assert verify().findings == []


@pytest.mark.django_db(transaction=True)
def test_visits_of_one_coupling_signed_at_once_make_one_chain(fit, order, mechanic, wrench):
    visits_of_one_coupling_signed_at_once(fit, order, mechanic, wrench)


@pytest.mark.django_db(transaction=True)
def test_what_is_typed_while_somebody_signs_is_signed_or_refused(fit, order, mechanic, wrench):
    one_signs_while_another_types(fit, order, mechanic, wrench)


@pytest.mark.engine
@pytest.mark.django_db(transaction=True)
def test_visits_signed_at_once_make_one_chain_on_the_server_database(fit, order, mechanic, wrench):
    visits_of_one_coupling_signed_at_once(fit, order, mechanic, wrench)


@pytest.mark.engine
@pytest.mark.django_db(transaction=True)
def test_typing_while_somebody_signs_on_the_server_database(fit, order, mechanic, wrench):
    one_signs_while_another_types(fit, order, mechanic, wrench)
