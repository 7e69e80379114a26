"""Moves tried on paper under a survey's result: the numbers, what is refused, and what the whole train would do."""

import re

import pytest
import time_machine

from couplings.engineering.alignment import to_record
from couplings.models import Coupling, Grade, GradeRow
from couplings.selectors import limits_of, limits_of_each
from inspections.models import Entry, SurveyResult
from inspections.services.signing import sign_visit
from plant.models import FootPlane, Machine
from plant.recording import recording
from tests.factories import NOW, CouplingFactory, FitFactory, WorkOrderFactory
from tests.inspections.visits import IN_LINE, MACHINE_STEPS, PRINTED, begin, fill_installation, save

pytestmark = pytest.mark.django_db
# A move that leaves everything where it is.
NONE = {"try-up0": "0", "try-right0": "0", "try-up1": "0", "try-right1": "0"}


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def phone(client, mechanic):
    client.force_login(mechanic)
    return client


@pytest.fixture
def surveyed(visit, mechanic):
    save(visit, "alignment", PRINTED, mechanic, number=1)
    return visit


@pytest.fixture
def third(visit, mechanic, wrench):
    """A gear unit behind the pump, its coupling left in line by a signed visit; all three may move."""
    train = visit.coupling.train
    gear = Machine.objects.create(train=train, position=3, name="gear unit", role="gear", shaft_length_mm=600)
    FootPlane.objects.create(machine=gear, name="input", distance_mm=100)
    FootPlane.objects.create(machine=gear, name="output", distance_mm=500)
    pump = train.machines.get(position=2)
    coupling = CouplingFactory(train=train, driver_machine=pump, driven_machine=gear, tag="GX-91")
    fit = FitFactory(coupling=coupling)
    other = begin(fit, WorkOrderFactory(train=train, isolated=True), mechanic)
    fill_installation(other, mechanic, wrench)
    return other


def sign(visit, by):
    with recording(by=by, at=NOW):
        sign_visit(visit=visit)


def ask(client, visit, step="alignment/1", **moves):
    return client.get(f"/visits/{visit.uuid}/steps/{step}/", {f"try-{name}": text for name, text in moves.items()})


def test_moves_that_undo_the_printed_answer_leave_the_machine_on_its_target(phone, surveyed):
    # Printed with the survey: 0.14 mm down, 0.4 mm/m. The motor's feet stand 270 and 770 mm from the centre (half of
    # 140 mm, and 1000 less 800 and 300), so by hand 0.14 + 0.4 x 0.27 = 0.248 and 0.14 + 0.4 x 0.77 = 0.448 upwards.
    # Sideways both dials read 0.06 mm between 3 and 9, in opposite senses: 0.03 mm to the left and level.
    answer = ask(phone, surveyed, up0="0.248", right0="0.03", up1="0,448 mm", right1="0.03")

    trial = answer.context["whatif"]["trial"]
    assert answer.status_code == 200
    assert trial.position.mean == pytest.approx((0, 0, 0, 0), abs=1e-9)
    assert trial.judgement.verdict == "in tolerance"
    page = answer.content.decode()
    assert "Expected after these moves, not measured" in page
    assert "expected after these moves" in page  # both captions of the picture


def test_lifting_both_ends_alike_takes_from_the_offset_alone_and_a_thou_is_a_thou(phone, surveyed):
    answer = ask(phone, surveyed, up0="4 thou", right0="0.05", up1="4 thou", right1="0.05")

    v, h, sv, sh = answer.context["whatif"]["trial"].position.mean
    assert v == pytest.approx(-0.14 + 4 * 0.0254, abs=1e-9)
    assert (h, sv, sh) == pytest.approx((0.05 - 0.03, -0.4, 0), abs=1e-9)


def test_a_move_the_wrong_way_is_judged_out_of_tolerance(phone, surveyed):
    answer = ask(phone, surveyed, up0="-0.5", right0="0", up1="-0.5", right1="0")

    assert answer.context["whatif"]["trial"].judgement.verdict == "out of tolerance"


def test_the_form_begins_with_the_advice_in_shims_of_the_site(phone, surveyed):
    page = ask(phone, surveyed).content.decode()
    advised = re.findall(r'name="try-up(\d)" value="([^"]+)"', page)

    # 0.248 and 0.448 by the site's step of 0.05 mm.
    assert advised == [("0", "0.25"), ("1", "0.45")]
    assert "Expected after these moves" not in page


@pytest.mark.parametrize(
    ("moves", "field", "said"),
    [
        ({"up0": "NaN"}, "up0", "not a number"),
        ({"up0": ""}, "up0", "0 where it stays"),
        ({"right1": "40"}, "right1", "is the unit right?"),
        ({"right1": "3 kg"}, "right1", "kg"),
        ({"up1": "1e400"}, "up1", "infinite"),
    ],
)
def test_a_move_that_cannot_be_is_refused_beside_its_field_and_kept_as_typed(phone, surveyed, moves, field, said):
    before = list(Entry.objects.values())
    typed = {"up0": "0.1", "right0": "0", "up1": "0.1", "right1": "0"} | moves
    answer = ask(phone, surveyed, **typed)

    page = answer.content.decode()
    assert answer.status_code == 422
    found = re.search(rf'id="f-{field}_error">([^<]+)<', page)
    assert found
    assert said in found[1]
    assert f'name="try-{field}" value="{typed[field]}"' in page
    assert answer.context["whatif"]["trial"] is None
    assert list(Entry.objects.values()) == before


def test_asking_what_if_keeps_nothing(phone, surveyed):
    before = list(Entry.objects.values())
    ask(phone, surveyed, up0="0.2", right0="0", up1="0.2", right1="0")

    assert list(Entry.objects.values()) == before
    assert not SurveyResult.objects.exists()


def test_it_is_asked_of_as_found_and_as_left_too_and_not_before_there_is_a_result(phone, visit, mechanic):
    assert "What if it moved so" not in ask(phone, visit, "as-found").content.decode()
    for step in ("as-found", "as-left"):
        save(visit, step, PRINTED, mechanic)
        assert "What if it moved so" in ask(phone, visit, step).content.decode()


def test_a_plane_that_was_not_measured_is_not_asked_and_stays_not_known(phone, visit, mechanic, third):
    sign(third, mechanic)
    upright = {name: text for name, text in PRINTED.items() if not name.endswith((".3", ".9"))}
    save(visit, "alignment", upright, mechanic, number=1)
    answer = ask(phone, visit, up0="0.1", up1="0.1")

    page, whatif = answer.content.decode(), answer.context["whatif"]
    assert "try-right0" not in page
    assert whatif["trial"].position.mean[0] == pytest.approx(-0.14 + 0.1, abs=1e-9)
    assert not whatif["trial"].position.has_horizontal
    assert f"The horizontal plane was not measured at {visit.coupling.tag}" in page
    assert "Train from the side" in page
    assert "Train from above" not in page


def test_no_more_comes_out_than_lies_under_a_foot(phone, surveyed, mechanic):
    # Under the outboard left foot 2.0 + 0.5 + 0.05 mm are written down; the foot plane is the second from the coupling.
    save(surveyed, "soft-foot", MACHINE_STEPS["soft-foot"], mechanic)
    enough = ask(phone, surveyed, up0="-2.5", right0="0", up1="-2.5", right1="0")
    lacking = ask(phone, surveyed, up0="-2.6", right0="0", up1="-2.6", right1="0")

    assert enough.context["whatif"]["trial"].lacking == ()
    assert lacking.context["whatif"]["trial"].lacking == (("outboard", pytest.approx(2.55)),)
    assert "only this much lies there to take out: 2.55\u00a0mm" in lacking.content.decode()


def test_moves_off_one_line_say_how_far_a_foot_may_stand_free(phone, surveyed):
    # A third foot plane midway: lifting it alone by 0.1, the nearest straight line lies at the mean, 0.0333 throughout.
    motor = surveyed.coupling.driver_machine
    FootPlane.objects.create(machine=motor, name="middle", distance_mm=550)
    still = {"right0": "0", "right1": "0", "right2": "0"}
    bent = ask(phone, surveyed, up0="0", up1="0.1", up2="0", **still)
    straight = ask(phone, surveyed, up0="0.1", up1="0.2", up2="0.3", **still)

    assert bent.context["whatif"]["trial"].bent_mm == pytest.approx(0.1 - 0.1 / 3)
    assert bent.context["whatif"]["trial"].position.mean[0] == pytest.approx(-0.14 + 0.1 / 3)
    assert "not on one straight line" in bent.content.decode()
    assert "not on one straight line" not in straight.content.decode()


def test_a_train_of_two_machines_has_no_picture_of_its_own(phone, surveyed):
    assert ask(phone, surveyed).context["whatif"]["train"] is None


def test_a_train_says_what_is_not_known_of_it(phone, surveyed, third):
    page = ask(phone, surveyed).content.decode()

    assert "GX-91: no as-left survey of it is signed yet." in page
    assert "Train from the side" not in page


def test_three_machines_are_drawn_from_the_signed_as_left_and_this_survey(phone, surveyed, third, mechanic):
    sign(third, mechanic)
    answer = ask(phone, surveyed)

    page, train = answer.content.decode(), answer.context["whatif"]["train"]
    assert "Train from the side" in page
    assert "as left on 12 October 2026" in page
    # Pump and gear unit may not move: the motor alone takes both couplings in, the other being in line already.
    least = train["said"].least.found
    assert least.feasible
    assert {move.machine for move in least.moves if move.moves} <= {0}
    assert max(left.used for left in least.after) <= 1 + 1e-6
    # Along the train: 1000 + 140 / 2, and past the pump 1140 + 900 + 140.2 / 2, the distance measured and signed there.
    couplings = train["said"].least.request.train.couplings
    assert [one.x_mm for one in couplings] == [1070, 2110.1]


def test_moving_the_middle_machine_moves_both_its_couplings_in_the_frame_of_the_train(phone, visit, third, mechanic):
    sign(third, mechanic)
    # Behind the pump, looking towards the motor: right of that observer is left for one at the driver end.
    save(visit, "alignment", IN_LINE | {"stationary": "driver"}, mechanic, number=1)
    answer = ask(phone, visit, up0="0.03", right0="0.1", up1="0.03", right1="0.1")

    whatif = answer.context["whatif"]
    found = whatif["train"]["said"].moved.found
    own, next_one = (
        [after - before for after, before in zip(a.misalignment, b.misalignment, strict=True)]
        for a, b in zip(found.after, found.before, strict=True)
    )
    # Driver side less driven side: with the pump 0.03 up and 0.1 to the train's left, the motor lies lower by 0.03 and
    # further right by 0.1 at the first coupling; at the second the pump itself is the driver side.
    assert own == pytest.approx([-0.03, 0.1, 0, 0], abs=1e-9)
    assert next_one == pytest.approx([0.03, -0.1, 0, 0], abs=1e-9)
    # The two ways to the first coupling agree: through the train, and by turning the crew's view into the record's.
    by_view = to_record(whatif["trial"].position, "driver").mean
    assert found.after[0].misalignment == pytest.approx(by_view, abs=1e-9)
    assert "after the moves you tried" in answer.content.decode()


def test_a_train_that_nothing_may_move_in_says_what_would_have_to_give(phone, surveyed, third, mechanic):
    sign(third, mechanic)
    save(surveyed, "alignment", {"set0.6": "1.5", "set1.6": "-1.4"}, mechanic, number=1, seen=1)
    Machine.objects.filter(train=surveyed.coupling.train).update(movable=False)
    page = ask(phone, surveyed).content.decode()

    assert "No set of moves within these bounds" in page
    assert "and the machine may not be moved" in page


@pytest.mark.parametrize("chosen", [True, False])
def test_limits_read_for_a_whole_train_at_once_are_those_of_each_coupling(visit, third, site, chosen):
    for name, criticalities, limit in (("coarse", "", 0.3), ("fine", "A", 0.1)):
        grade = Grade.objects.create(site=site, name=name, criticalities=criticalities)
        for over, up_to in ((0, 2980), (2980, 9000)):
            GradeRow.objects.create(
                grade=grade, kind="short", over_rpm=over, up_to_rpm=up_to, offset_mm=limit + over / 1e6, source="ours"
            )
    coarse = Grade.objects.get(name="coarse")
    Coupling.objects.filter(pk=third.coupling_id).update(grade=coarse if chosen else None, rpm=2981)
    both = [Coupling.objects.get(pk=one.coupling_id) for one in (visit, third)]
    held = list(zip(both, (visit.sheet_version, third.sheet_version), strict=True))
    at_once = limits_of_each(held)

    assert at_once == {coupling.pk: limits_of(coupling, version) for coupling, version in held}
    grades = [limit.value for one in at_once.values() for limit in one.limits if limit.family == "grade"]
    assert grades == pytest.approx([0.1, 0.30298 if chosen else 0.10298])


def test_what_if_asks_a_fixed_number_of_queries_whatever_the_rounds(
    phone, surveyed, third, mechanic, connection_queries
):
    sign(third, mechanic)

    def queries():
        with connection_queries() as asked:
            assert phone.get(f"/visits/{surveyed.uuid}/steps/alignment/1/", NONE).status_code == 200
        return len(asked)

    one = queries()
    for number in (2, 3, 4):
        save(surveyed, "alignment", IN_LINE, mechanic, number=number)
    assert queries() == one
