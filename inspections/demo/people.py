"""The people of the invented plant and the one password made for them."""

from __future__ import annotations

import secrets
from datetime import datetime
from pathlib import Path

from plant.models import Membership, Person, Site
from plant.recording import bump, recording
from plant.services.people import give_role, register_person
from plant.sitetime import today_at

Role = Membership.Role
# Sign-in name, first name, role. First names alone, so that nobody is meant.
PEOPLE = (
    ("mia", "Mia", Role.MECHANIC),
    ("jon", "Jon", Role.MECHANIC),
    ("samir", "Samir", Role.PLANNER),
    ("ana", "Ana", Role.ENGINEER),
    ("ole", "Ole", Role.MANAGER),
    ("kim", "Kim", Role.KEEPER),
)
ADMINISTRATOR = "kim"
ONLY_AT_FIRST_SITE = ("mia",)
PASSWORD_FILE = "demo-password"


def new_password() -> str:
    """Made anew for every demo plant, so that no copy of the program knows one."""
    letters = "abcdefghjkmnpqrstuvwxyz23456789"
    return "-".join("".join(secrets.choice(letters) for _ in range(4)) for _ in range(3))


def keep_password(folder: Path, password: str) -> None:
    """Beside the secret key and as closed, so that `start --demo` can print it again."""
    path = folder / PASSWORD_FILE
    path.unlink(missing_ok=True)
    path.touch(mode=0o600, exist_ok=False)
    path.write_text(password + "\n", encoding="utf-8")


def kept_password(folder: Path) -> str | None:
    path = folder / PASSWORD_FILE
    return path.read_text(encoding="utf-8").strip() if path.exists() else None


def register_people(sites: list[Site], at: datetime, password: str) -> dict[str, Person]:
    """Everybody with their roles, fresh from the database."""
    for username, first_name, role in PEOPLE:
        with recording(by=None, at=at):
            person = register_person(username=username, first_name=first_name, last_name="", password=password)
            if username == ADMINISTRATOR:
                # Opening the admin is not a role at a site: whoever installs the program gives it, here the program.
                bump(person)
                person.is_staff = True
                person.save(update_fields=["is_staff"])
            for site in sites[:1] if username in ONLY_AT_FIRST_SITE else sites:
                give_role(person=person, site=site, role=role, from_on=today_at(site, at))
    return {person.username: person for person in Person.objects.filter(username__in=[row[0] for row in PEOPLE])}
