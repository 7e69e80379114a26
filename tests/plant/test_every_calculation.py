"""Every registered calculation, whatever is sent to it: an answer of finite figures, or a refusal beside its field."""

import copy
import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plant import calculations
from plant.refusals import Refused
from plant.units import SYSTEMS

EVERY = calculations.all_calculations()
NAMES = [one.name for one in EVERY]
FORMS = [one.name for one in EVERY if one.form is not None]
# What a careless program may put in the place of anything.
STRANGE = [
    None, "", "NaN", "nan mm", "seven", math.nan, math.inf, -math.inf, -1, 0, 1, 2.5, -0.0, 1e300, -1e300, 1e-300,
    5e-324, 10**400, True, False, [], {}, [None], [[]], [{}], {"value": 1}, {"unit": "mm"}, "\x00", "ä" * 300, {"": ""},
    {"value": math.nan, "unit": "mm"}, {"value": "NaN", "unit": "mm"}, {"value": True, "unit": "mm"},
]  # fmt: skip
UNITS = [
    "mm", "mil", "mm/m", "deg", "N*m", "lbf*in", "N", "MPa", "degC", "delta_degF", "rpm", "kW", "day", "hour", "%", "1",
    "furlong", "",
]  # fmt: skip
AT_MOST = 500
SIZES = [0, -1, 1e-300, 1e-9, 1e-3, 0.5, 1.0, 2, 7.25, 99, 1e3, 1e6, 1e11, 1e12, 1e15, 1e300, -1e12]


def places(value, path=()):
    """The path of everything inside a request, the request itself left out."""
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list | tuple) else ()
    for key, one in inside:
        yield (*path, key)
        yield from places(one, (*path, key))


def plain(value):
    """The example as a program would send it: lists and objects that can be changed."""
    if isinstance(value, dict):
        return {key: plain(one) for key, one in value.items()}
    return [plain(one) for one in value] if isinstance(value, list | tuple) else copy.copy(value)


def inside(request, path):
    for key in path:
        request = request[key]
    return request


@st.composite
def mutations(draw, one):
    """A calculation's own example with one to three things about it changed."""
    request = plain(dict(one.example))
    for _ in range(draw(st.integers(1, 3))):
        paths = list(places(request))
        if not paths:
            break
        path = draw(st.sampled_from(paths))
        *parents, last = path
        parent = inside(request, parents)
        here = parent[last]
        how = draw(st.sampled_from(["drop", "strange", "unit", "size", "extra", "twice"]))
        if how == "drop":
            del parent[last]
        elif how == "unit" and isinstance(here, dict) and "unit" in here:
            here["unit"] = draw(st.sampled_from(UNITS))
        elif how == "size" and isinstance(here, dict) and "value" in here:
            here["value"] = draw(st.sampled_from(SIZES))
        elif how == "extra" and isinstance(here, dict):
            here[draw(st.sampled_from(["surplus", "valeu", "a.b", "0", ""]))] = draw(st.sampled_from(STRANGE))
        elif how == "twice" and isinstance(here, list) and here:
            here.append(copy.deepcopy(here[0]))
        else:
            parent[last] = copy.deepcopy(draw(st.sampled_from(STRANGE)))
    return request


def assert_finite(value, where="answer"):
    """No NaN or infinity anywhere, and nothing that JSON cannot carry."""
    if isinstance(value, dict):
        for key, one in value.items():
            assert isinstance(key, str), where
            assert_finite(one, f"{where}.{key}")
    elif isinstance(value, list):
        for place, one in enumerate(value):
            assert_finite(one, f"{where}.{place}")
    elif isinstance(value, float):
        assert math.isfinite(value), f"{where} is {value}"
    else:
        assert value is None or isinstance(value, bool | int | str), f"{where} is a {type(value).__name__}"


def assert_named(refusal):
    """Every error names a field, or "" for the whole, and says something."""
    assert refusal.errors
    for error in refusal.errors:
        assert isinstance(error.field, str)
        assert error.message.strip(), f"{error.field} is refused without a word"


def assert_at(refusal, form, payload, known):
    """Every error stands beside a field of the form, or above it."""
    assert {form.field_of(error.field, payload) for error in refusal.errors} <= known


def answer(one, request, system="metric"):
    """The answer, or None where the request was refused as it should be."""
    try:
        found = calculations.run(one.name, request, system)
    except Refused as refusal:
        assert_named(refusal)
        return None
    assert_finite(found)
    json.dumps(found, allow_nan=False)
    return found


def filled(rows, typed, choice):
    """The same text in every field, and the first or last of every choice."""
    return {row.name: row.choices[choice][0] if row.kind == "choice" and row.choices else typed for row in rows}


def typed_in(one, variant, typed):
    """What the page does with typed fields, without the page: the answer, or None and every error at a field of it."""
    known = {row.name for row in one.form.fields(variant)} | {"", "method"}
    payload, errors = one.form.payload(variant, typed, "metric")
    assert set(errors) <= known
    try:
        found = calculations.run(one.name, payload, "metric")
    except Refused as refusal:
        assert_named(refusal)
        assert_at(refusal, one.form, payload, known)
        return None
    assert_finite(found)
    return None if errors else found


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("name", NAMES)
def test_the_printed_example_is_answered_in_both_systems(name, system):
    one = calculations.get(name)
    assert one.example, "a calculation begins with a request to try"
    assert answer(one, plain(dict(one.example)), system) is not None


@pytest.mark.parametrize("name", NAMES)
def test_nothing_in_the_place_of_a_request_is_refused(name):
    one = calculations.get(name)
    assert answer(one, {}) is None
    for strange in ("text", 5, [], None):
        with pytest.raises(Refused):
            calculations.run(name, strange, "metric")


@pytest.mark.parametrize("name", NAMES)
def test_a_field_nobody_knows_is_refused_by_its_name(name):
    one = calculations.get(name)
    with pytest.raises(Refused) as refused:
        calculations.run(name, plain(dict(one.example)) | {"surplus_field": 1}, "metric")
    assert "surplus_field" in refused.value.as_dict()


@pytest.mark.long
@pytest.mark.parametrize("name", NAMES)
def test_anything_in_any_place_of_the_example_is_answered_or_refused(name):
    """Place by place, where hypothesis below combines; of a long request evenly chosen pairs, to stay quick."""
    one = calculations.get(name)
    pairs = [(path, strange) for path in places(plain(dict(one.example))) for strange in STRANGE]
    step = max(1, len(pairs) // AT_MOST)
    while math.gcd(step, len(STRANGE)) > 1:
        step += 1
    for path, strange in pairs[::step]:
        request = plain(dict(one.example))
        inside(request, path[:-1])[path[-1]] = copy.deepcopy(strange)
        answer(one, request)


@pytest.mark.parametrize("name", NAMES)
@given(data=st.data())
def test_a_changed_example_is_answered_in_finite_figures_or_refused_beside_a_field(name, data):
    one = calculations.get(name)
    answer(one, data.draw(mutations(one)), data.draw(st.sampled_from(SYSTEMS)))


@pytest.mark.parametrize("name", NAMES)
def test_a_list_too_long_is_refused(name):
    one = calculations.get(name)
    for path in places(plain(dict(one.example))):
        request = plain(dict(one.example))
        here = inside(request, path)
        if isinstance(here, list):
            inside(request, path[:-1])[path[-1]] = here * 5000
            assert answer(one, request) is None, f"{path} took {len(here) * 5000} rows"


@pytest.mark.parametrize("name", FORMS)
def test_one_field_alone_is_answered_or_refused_at_a_field_of_the_form(name):
    one = calculations.get(name)
    for variant, _title in one.form.variants():
        for row in one.form.fields(variant):
            value = row.choices[-1][0] if row.kind == "choice" and row.choices else "2"
            typed_in(one, variant, {row.name: value})


@pytest.mark.long
@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("typed", ["NaN", "1e999", "-", "7 furlong", "<b>", "9" * 70, "1,000,0"])
def test_nonsense_in_every_field_is_never_answered(name, typed):
    one = calculations.get(name)
    for variant, _title in one.form.variants():
        assert typed_in(one, variant, filled(one.form.fields(variant), typed, 0)) is None, variant


@pytest.mark.long
@pytest.mark.parametrize("name", FORMS)
@pytest.mark.parametrize("typed", ["0", "-1", "1", "0,5", "1e11", "1e-300", "50 %"])
def test_one_number_in_every_field_is_answered_or_refused_at_a_field_of_the_form(name, typed):
    one = calculations.get(name)
    for variant, _title in one.form.variants():
        typed_in(one, variant, filled(one.form.fields(variant), typed, -1))


@pytest.mark.django_db
@pytest.mark.parametrize("name", FORMS)
def test_the_page_shows_a_form_for_each_way_to_ask(client, mechanic, name):
    client.force_login(mechanic)
    for variant, _title in calculations.get(name).form.variants():
        for system in SYSTEMS:
            page = client.get(f"/calculations/{name}/", {"method": variant, "units": system})
            assert page.status_code == 200
            assert "<form" in page.content.decode()


@pytest.mark.django_db
@pytest.mark.parametrize("name", FORMS)
def test_the_page_keeps_nonsense_beside_its_errors_and_takes_numbers(client, mechanic, name):
    client.force_login(mechanic)
    form = calculations.get(name).form
    for variant, _title in form.variants():
        rows = form.fields(variant)
        page = client.get(f"/calculations/{name}/", {"method": variant, **filled(rows, "7 furlong", 0)})
        # Every field is nonsense, so nothing may come out of it.
        assert page.status_code == 422, f"{variant} was answered"
        assert "Not worked out yet." in page.content.decode()
        page = client.get(f"/calculations/{name}/", {"method": variant, **filled(rows, "0,5", -1)})
        assert page.status_code in (200, 422), variant
