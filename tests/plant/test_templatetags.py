"""What the tags print: units of the site, words of the trade, and nothing unescaped."""

from datetime import UTC, date, datetime
from types import SimpleNamespace

import pytest
from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.template import Context, Template
from django.template.loader import render_to_string

from plant import words


def printed(source: str, **context: object) -> str:
    return Template("{% load asleft %}" + source).render(Context(context))


def test_quantity_is_printed_in_the_units_of_the_site():
    assert printed('{% q 0.0254 "gap" %}', system="us") == "1.0\u00a0thou"
    assert printed('{% q 0.0254 "gap" signed=True %}', system="metric") == "+0.03\u00a0mm"
    assert printed('{% q value "gap" %}', value=None) == "not known"
    assert printed('{% unit_of "torque" %}', system="us") == "lbf·ft"


def test_a_state_is_its_mark_and_its_word():
    html = printed('{% state "out of tolerance" extra %}', extra=", 236 % <b>")
    assert html.startswith('<span class="state"><svg')
    assert "<span>out of tolerance, 236 % &lt;b&gt;</span>" in html
    assert "<span>not known</span>" in printed("{% state verdict %}", verdict=None)


def test_a_limit_row_carries_name_value_limit_state_and_share():
    line = SimpleNamespace(
        quantity="flex-angle-b",
        value=0.42,
        u=0.06,
        limit=0.5,
        share=0.84,
        share_u=0.2,
        verdict="too close to call",
        family="grade",
        source="",
        plane="",
    )
    html = printed('{% limit_row line "metric" %}', line=line)
    assert "Angle at flex plane B" in html
    # Behind ± stands the whisker's reach, 0.2 of 0.50, not the standard uncertainty.
    assert "<b>0.42 ± 0.10</b> <span>of 0.50\u00a0mm/m, speed grade</span>" in html
    assert "84\u00a0% of the limit" in html
    assert html.count("too close to call") == 2  # in the label of the line and beside the mark
    inches = printed('{% limit_row line "us" %}', line=SimpleNamespace(**{**vars(line), "quantity": "offset"}))
    assert (
        "<b>16.5 ± 3.9</b> <span>of 19.7\u00a0thou, speed grade</span>" in inches
    )  # 0.42, 0.10 and 0.50 mm over 0.0254


def test_a_limit_row_names_its_plane_and_its_source_and_sums_shares_without_a_unit():
    line = SimpleNamespace(
        quantity="angularity",
        value=0.4,
        u=0.1,
        limit=1.0,
        share=0.4,
        share_u=0.2,
        verdict="in tolerance",
        family="sheet",
        source="data sheet A-1 <v2>",
        plane="vertical",
    )
    html = printed('{% limit_row line "metric" %}', line=line)
    assert "Angularity, vertical" in html
    assert "data sheet A-1 &lt;v2&gt;" in html
    total = SimpleNamespace(**{**vars(line), "quantity": "combined", "plane": "", "value": 0.8, "share": 0.8})
    assert "<b>80 ± 20</b> <span>of 100\u00a0%</span>" in printed('{% limit_row line "metric" %}', line=total)


def test_a_limit_row_without_a_value_says_so_and_why():
    line = SimpleNamespace(
        quantity="axial", value=None, u=None, limit=0.8, share=None, share_u=None, verdict="not known"
    )
    html = printed('{% limit_row line "metric" why="not measured" %}', line=line)
    assert "limit 0.80\u00a0mm" in html
    assert "not measured" in html
    assert "±" not in html
    assert "of the limit" not in html


def test_days_and_distances_are_written_out():
    on, today = date(2027, 3, 14), date(2026, 10, 12)
    assert printed("{{ on|day }}", on=on) == "Sunday 14 March 2027"
    assert printed('{{ on|day:"short" }}, {{ on|day:"near" }}', on=on) == "14 March 2027, 14 March"
    assert printed("{{ on|away:today }}", on=on, today=today) == "in 22\u00a0weeks"
    assert printed("{{ on|day }} {{ on|away:today }}", on=None, today=today) == "not known not known"
    assert printed("{% if on|overdue:today %}late{% endif %}", on=date(2026, 10, 11), today=today) == "late"
    assert printed("{% if on|overdue:today %}late{% endif %}", on=today, today=today) == ""


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (0, "today"),
        (1, "tomorrow"),
        (4, "in 4\u00a0days"),
        (14, "in 2\u00a0weeks"),
        (21, "in 3\u00a0weeks"),
        (-1, "1\u00a0day over"),
        (-10, "10\u00a0days over"),
        (-21, "3\u00a0weeks over"),
        (365, "in 12\u00a0months"),
        (800, "in 26\u00a0months"),
    ],
)
def test_distance_is_counted_in_days_weeks_or_months(days, said):
    today = date(2026, 10, 12)
    assert words.away(date.fromordinal(today.toordinal() + days), today) == said


def test_an_instant_is_not_taken_for_a_day():
    with pytest.raises(TypeError, match="which day"):
        words.day(datetime(2026, 10, 12, tzinfo=UTC))


@pytest.mark.parametrize(
    ("probability", "said"),
    [
        (0.02, "one chance in fifty"),
        (1 / 15, "one chance in fifteen"),
        (0.05, "one chance in twenty"),
        (0.004, "one chance in two hundred and fifty"),
        (0.0001, "less than one chance in a thousand"),
        (0.001, "one chance in a thousand"),
        (0.08, "eight chances in a hundred"),
        (0.5, "fifty in a hundred"),
        (0.94, "ninety-four in a hundred"),
        (0.999, "more than ninety-nine in a hundred"),
        (None, "not known"),
        (float("nan"), "not known"),
    ],
)
def test_chances_are_said_as_people_say_them(probability, said):
    assert printed("{{ p|chance }}", p=probability) == said


@pytest.mark.parametrize("probability", [-0.1, 1.2])
def test_what_is_no_probability_is_refused(probability):
    with pytest.raises(ValueError, match="not a probability"):
        words.chance(probability)


def test_a_reason_is_escaped_and_its_quantities_stand_out():
    html = printed("{{ said|sentence }}", said="CW-04: 0.42 mm/m where the grade allows 0.50 mm/m <script>")
    assert '<span class="tag">CW-04</span>' in html
    assert html.count("<b>") == 2
    assert "<b>0.42\u00a0mm/m</b>" in html
    assert "&lt;script&gt;" in html
    assert printed("{{ name|tag }}", name="A<1") == '<span class="tag">A&lt;1</span>'


class Distance(forms.Form):
    tag = forms.CharField(label="Tag", help_text="As on the guard.")
    distance = forms.FloatField(label="Distance to the dial", widget=forms.TextInput(attrs={"inputmode": "decimal"}))
    met = forms.ChoiceField(label="Isolation", choices=[("p", "permit"), ("r", "reason")], widget=forms.RadioSelect)


def test_a_refused_field_keeps_what_was_typed_and_points_to_its_error():
    form = Distance({"tag": "CW-04", "distance": "1,2 milx"})
    assert not form.is_valid()
    html = printed('{% form_field form.distance "mm" %}', form=form)
    assert 'value="1,2 milx"' in html
    assert 'aria-invalid="true"' in html
    assert 'aria-describedby="id_distance_error"' in html
    assert '<p class="error" id="id_distance_error">' in html
    assert '<span class="unit">mm</span>' in html
    assert '<label for="id_distance">Distance to the dial' in html
    described = printed("{% form_field form.tag %}", form=Distance({"tag": ""}))
    assert 'aria-describedby="id_tag_helptext id_tag_error"' in described
    assert 'id="id_tag_helptext">As on the guard.' in described


def test_a_choice_is_a_group_with_its_name_and_its_error():
    html = printed("{% form_field form.met %}", form=Distance({}))
    assert "<legend>Isolation</legend>" in html
    assert 'aria-describedby=" id_met_error"' in html
    assert html.count('class="opt"') == 2


def test_the_summary_of_a_refusal_links_every_field():
    form = Distance({"distance": "x"})
    html = render_to_string("plant/fragments/errors.html", {"form": form})
    assert 'role="alert"' in html
    assert 'href="#id_tag"' in html
    assert 'href="#id_distance"' in html
    assert "What you typed is still here" in html
    assert render_to_string("plant/fragments/errors.html", {"form": Distance()}).strip() == ""


def test_base_page_carries_nothing_inline():
    html = render_to_string("404.html", {"person": "Mia <b>", "nav": [("Due", "/due/", True)], "csrf_token": "x"})
    assert " style=" not in html
    assert "<script>" not in html
    assert "<style" not in html
    assert "&lt;b&gt;" in html
    assert 'aria-current="page"' in html
    assert "http://" not in html
    assert "https://" not in html


def test_sign_in_keeps_the_name_and_says_what_is_missing():
    form = AuthenticationForm(data={"username": "mia <b>", "password": ""})
    assert not form.is_valid()
    html = render_to_string("registration/login.html", {"form": form, "next": "/due/?a=1&b=2"})
    assert 'value="mia &lt;b&gt;"' in html
    assert "Not signed in." in html
    assert 'id="id_password_error"' in html
    assert 'name="next" value="/due/?a=1&amp;b=2"' in html


@pytest.mark.parametrize("page", ["400.html", "403.html", "403_csrf.html", "404.html", "500.html"])
def test_error_pages_need_nothing_of_the_site_and_say_what_to_do(page):
    html = render_to_string(page)
    assert "<h1>" in html
    assert 'class="btn main" href="/"' in html
