"""A keeper in front of the register, and the form of a page as a browser would send it."""

from html.parser import HTMLParser

import pytest
from django.test import Client


class _Form(HTMLParser):
    """The fields of the last form of a page with what stands in them; buttons are pressed by name only."""

    def __init__(self):
        super().__init__()
        self.fields, self.select, self.area = {}, None, None

    def handle_starttag(self, tag, attrs):
        of = dict(attrs)
        if tag == "form":
            self.fields = {}
        if tag == "input" and of.get("name") and of.get("type") not in {"submit"}:
            if of.get("type") in {"radio", "checkbox"} and "checked" not in of:
                return
            self.fields[of["name"]] = of.get("value", "")
        if tag == "select":
            self.select = of.get("name")
        if tag == "option" and self.select and "selected" in of:
            self.fields[self.select] = of.get("value", "")
        if tag == "option" and self.select:
            self.fields.setdefault(self.select, of.get("value", ""))
        if tag == "textarea":
            self.area = of.get("name")
            self.fields[self.area] = ""

    def handle_data(self, data):
        if self.area:
            self.fields[self.area] += data

    def handle_endtag(self, tag):
        if tag == "select":
            self.select = None
        if tag == "textarea":
            self.area = None


@pytest.fixture
def form_of():
    """What the form with the most fields on this page would send."""

    def read(answer):
        page = answer.content.decode()
        found = []
        for part in page.split("<form")[1:]:
            parser = _Form()
            parser.feed("<form" + part.split("</form>")[0] + "</form>")
            found.append(parser.fields)
        return max(found, key=len)

    return read


def _signed_in(person):
    client = Client()
    client.force_login(person)
    return client


@pytest.fixture
def as_keeper(keeper):
    return _signed_in(keeper)


@pytest.fixture
def as_mechanic(mechanic):
    return _signed_in(mechanic)


@pytest.fixture
def as_engineer(engineer):
    return _signed_in(engineer)


@pytest.fixture
def as_person_on_pages():
    return _signed_in
