"""Whatever is refused comes as problem details, in one shape."""

import pytest
from django.db import IntegrityError
from django.test import Client
from rest_framework.test import APIClient

from plant.services import register

pytestmark = pytest.mark.django_db


def problem(answer, status, code):
    assert answer.status_code == status, answer.content
    assert answer["Content-Type"] == "application/problem+json"
    body = answer.json()
    assert (body["type"], body["status"]) == (f"/problems/{code}", status)
    assert body["title"]
    return body


def test_nobody_signed_in_is_asked_for_a_token():
    answer = APIClient().get("/api/v1/trains/")
    problem(answer, 401, "not-signed-in")
    assert answer["WWW-Authenticate"] == 'Bearer realm="Asleft"'


def test_a_body_that_is_no_json_is_malformed(as_person, keeper):
    for text in ['{"tag": ', '{"tag": NaN}', "\x00"]:
        answer = as_person(keeper).post("/api/v1/trains/", text, content_type="application/json")
        problem(answer, 400, "malformed")


def test_a_body_of_the_wrong_shape_is_refused(as_person, keeper):
    for body in [[], "text", 5, None]:
        problem(as_person(keeper).post("/api/v1/trains/", body, format="json"), 422, "invalid")


def test_another_media_type_is_refused(as_person, keeper):
    answer = as_person(keeper).post("/api/v1/trains/", "tag=x", content_type="application/x-www-form-urlencoded")
    problem(answer, 415, "unsupported-media-type")
    problem(as_person(keeper).get("/api/v1/trains/", headers={"Accept": "text/csv"}), 406, "not-acceptable")


def test_a_method_an_address_does_not_take(as_person, keeper):
    problem(as_person(keeper).delete("/api/v1/trains/"), 405, "method-not-allowed")


def test_an_address_that_is_not_there_is_a_problem_and_a_page_elsewhere(client):
    problem(client.get("/api/v1/nothing/"), 404, "missing")
    assert client.get("/nothing/")["Content-Type"].startswith("text/html")


def test_a_parameter_nobody_knows_is_refused(as_person, mechanic, train):
    body = problem(as_person(mechanic).get("/api/v1/trains/?tagg=BF-21"), 400, "unknown-parameter")
    assert body["errors"] == [
        {"parameter": "tagg", "detail": "This parameter is not known here.", "code": "unknown-parameter"}
    ]


def test_a_filter_that_cannot_be_meant_is_refused(as_person, mechanic, train):
    body = problem(as_person(mechanic).get("/api/v1/trains/?area=pumps"), 400, "bad-query")
    assert [error["parameter"] for error in body["errors"]] == ["area"]
    problem(as_person(mechanic).get("/api/v1/trains/?external_ref=4711"), 400, "bad-query")
    problem(as_person(mechanic).get("/api/v1/trains/?criticality=Z"), 400, "bad-query")


def test_an_unforeseen_error_says_nothing_of_its_inside(keeper, monkeypatch):
    def broken(**given):
        raise RuntimeError("a secret of the inside")

    monkeypatch.setattr(register, "register_site", broken)
    client = Client(raise_request_exception=False)
    client.force_login(keeper)
    answer = client.post("/api/v1/sites/", {"name": "New"}, content_type="application/json")
    problem(answer, 500, "error")
    assert b"secret" not in answer.content


def test_two_at_the_same_moment_are_a_conflict(as_person, keeper, monkeypatch):
    def late(**given):
        raise IntegrityError("UNIQUE constraint failed")

    monkeypatch.setattr(register, "register_site", late)
    body = problem(as_person(keeper).post("/api/v1/sites/", {"name": "New"}, format="json"), 409, "conflict")
    assert body["detail"] == "Nothing was saved. Read again what stands now, then repeat."


def test_a_form_from_another_site_in_the_browser_is_refused(keeper, site, area):
    client = Client(enforce_csrf_checks=True)
    client.force_login(keeper)
    answer = client.post("/api/v1/areas/", {"site": str(site.uuid), "name": "x"}, content_type="application/json")
    problem(answer, 403, "not-allowed")


def test_a_text_with_nul_is_refused_where_it_stands(as_person, keeper, site, area):
    body = {
        "site": str(site.uuid),
        "area": str(area.uuid),
        "tag": "A\x00",
        "external_ref": {"erp": "\x00", "\x00": "1"},
    }
    answer = as_person(keeper).post("/api/v1/trains/", body, format="json")
    pointers = {error["pointer"] for error in problem(answer, 422, "invalid")["errors"]}
    assert pointers == {"/tag", "/external_ref/erp", "/external_ref"}
    # Six plain characters, of which the first is a backslash, are a text like any other.
    plain = as_person(keeper).post("/api/v1/areas/", {"site": str(site.uuid), "name": "\\u0000"}, format="json")
    assert plain.status_code == 201
