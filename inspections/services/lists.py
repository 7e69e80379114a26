"""Lists that people keep for themselves."""

from urllib.parse import parse_qsl, urlencode

from inspections.models import SavedList
from inspections.selectors.due import KEYS
from plant.models import Person
from plant.recording import current
from plant.refusals import Missing, NotAllowed, Refused

MOST = 30
KEPT_KEYS = {SavedList.Page.DUE: KEYS, SavedList.Page.FLAGS: ("site", "area", "kind", "owner", "age")}


def keep_list(*, page: str, name: str, asked: str) -> SavedList:
    """Keep what the reader asked for under a name; the same name again replaces it."""
    person = _person()
    if page not in SavedList.Page.values:
        raise Missing()
    name = " ".join(name.replace("\x00", "").split())
    if not name:
        raise Refused({"name": "Give the list a name."})
    if len(name) > 60:
        raise Refused({"name": "At most 60 characters."})
    known = KEPT_KEYS[SavedList.Page(page)]
    asked = urlencode([(key, value) for key, value in parse_qsl(asked[:2000]) if key in known and len(value) <= 60])
    standing = SavedList.objects.filter(person=person, page=page)
    if not standing.filter(name=name).exists() and standing.count() >= MOST:
        raise Refused({"name": f"You keep {MOST} lists already: forget one of them first."})
    kept, _made = SavedList.objects.update_or_create(person=person, page=page, name=name, defaults={"asked": asked})
    return kept


def forget_list(*, kept: SavedList) -> None:
    if kept.person_id != _person().pk:
        raise Missing()
    kept.delete()


def _person() -> Person:
    person = current().by
    if person is None:
        raise NotAllowed("Lists are kept by people.")
    return person
