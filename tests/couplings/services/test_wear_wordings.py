"""A wear code in a site's own words: copied when it is begun, refused where it would lose what stops a machine."""

import pytest

from couplings.models import WearCode, WearWording
from couplings.selectors.wear import site_wear_limits, wear_codes_for
from couplings.services.tables import change_table_row, remove_table_row, write_table_row
from plant.recording import recording
from plant.refusals import NotAllowed, Refused
from tests.factories import NOW
from tests.inspections.worn import starters

SOURCE = "our procedure 9"


@pytest.fixture(autouse=True)
def _starters(site):
    starters()


def worded(site, by, code="dust", **fields):
    with recording(by=by, at=NOW):
        return write_table_row(model=WearWording, site=site, code=code, **{"source": SOURCE} | fields)


def common(code):
    return WearCode.objects.get(code=code)


def looked_for(site, code):
    found = {row.code: row for row in wear_codes_for(common(code).families.first(), site)}
    return found[code]


def test_what_is_left_out_begins_as_the_program_words_it_and_the_programs_row_stays(site, engineer):
    row = worded(site, engineer, grade_3="heaps of it")
    assert (row.title, row.grade_1, row.grade_3) == ("Rubber dust under the coupling", "a trace", "heaps of it")
    assert (row.mark, row.history.get().history_user) == ("site", engineer)
    assert common("dust").grade_3 == "heaps, or crumbs among the dust"


def test_the_words_hold_at_their_own_site_only(site, other_site, engineer):
    worded(site, engineer, title="Crumbs under the guard")
    assert looked_for(site, "dust").title == "Crumbs under the guard"
    assert looked_for(site, "dust").source == SOURCE
    assert looked_for(other_site, "dust").title == "Rubber dust under the coupling"
    assert looked_for(site, "crack").title == "Cracks in the rubber"


def test_a_wording_that_is_removed_leaves_the_programs_words_and_its_history(site, engineer):
    row = worded(site, engineer, title="Crumbs")
    with recording(by=engineer, at=NOW):
        change_table_row(row=row, title="Crumbs and dust")
        remove_table_row(row=row)
    assert looked_for(site, "dust").title == "Rubber dust under the coupling"
    titles = WearWording.history.filter(code="dust").order_by("history_id").values_list("title", "history_type")
    assert list(titles) == [("Crumbs", "+"), ("Crumbs and dust", "~"), ("Crumbs and dust", "-")]


@pytest.mark.parametrize(
    ("code", "fields", "errors"),
    [
        ("nothing", {}, {"title": "This field cannot be blank.", "grade_0": "This field cannot be blank."}),
        ("nothing", {"title": "x", "grade_0": "x"}, {
            "code": "No wear code is called that: choose one of those the program looks for."}),
        ("dust", {"source": " "}, {"source": "Name the source of this row: published ones do not agree."}),
        ("dust", {"limit": 1.0}, {
            "limit": "“Rubber dust under the coupling” has grades only: no number can be limited."}),
        ("play", {"limit": float("nan")}, {"limit": "It must lie between 1e-06 and 10000."}),
        ("play", {"limit": -1.0}, {"limit": "It must lie between 1e-06 and 10000."}),
        ("debonding", {"limit": 3.0}, {"limit": "A share is not more than the whole: give at most 100 %."}),
        ("dust", {"title": "x" * 81}, {"title": "Ensure this value has at most 80 characters (it has 81)."}),
    ],
)  # fmt: skip
def test_a_wording_that_cannot_be_is_refused_by_field(site, engineer, code, fields, errors):
    with pytest.raises(Refused) as refused:
        worded(site, engineer, code, **fields)
    assert refused.value.as_dict() == errors
    assert not WearWording.objects.exists()


def test_grades_that_flag_or_stop_cannot_be_left_out(site, engineer):
    row = worded(site, engineer)
    with pytest.raises(Refused) as refused, recording(by=engineer, at=NOW):
        change_table_row(row=row, grade_1="", grade_3="", grade_4=" ")
    assert refused.value.as_dict() == {
        "grade_3": "Grade 3 cannot be left out, since it raises a flag: word it.",
        "grade_4": "Grade 4 cannot be left out, since it says do not run: word it.",
    }
    fracture = worded(site, engineer, "blade-fracture", grade_4="a blade broke")
    assert fracture.grade_3 == "", "a code has the grades that the program gives it"


def test_a_code_is_worded_once_per_site_and_only_by_who_sets_policies(site, engineer, mechanic):
    worded(site, engineer)
    with pytest.raises(Refused) as refused:
        worded(site, engineer)
    assert refused.value.as_dict() == {"code": "This site words dust already: change that one."}
    with pytest.raises(NotAllowed):
        worded(site, mechanic, "crack")


def test_limits_of_a_site_are_its_own(site, other_site, engineer):
    worded(site, engineer, "play", limit=3.0)
    worded(site, engineer, "crack")
    assert (site_wear_limits(site), site_wear_limits(other_site)) == ({"play": 3.0}, {})
