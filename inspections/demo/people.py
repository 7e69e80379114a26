"""The people of the invented plant and the one password made for them."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from pathlib import Path

from plant.models import Membership, Person, Site
from plant.recording import bump, recording
from plant.services.invitations import invite
from plant.services.leaving import leave_site
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
    ("rune", "Rune", Role.CONTRACTOR),
)
# Came with the others and left some time ago: cannot sign in any more, and what he signed stays his.
LEFT, LEFT_DAYS = ("tor", "Tor", Role.MECHANIC), 390
EMPLOYER = "Skarnvik Industrial Service"
CONTRACT_DAYS = 120
ADMINISTRATOR = "kim"
ONLY_AT_FIRST_SITE = ("mia", "rune")
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


def register_people(sites: list[Site], at: datetime, now: datetime, password: str) -> dict[str, Person]:
    """Everybody with their roles, fresh from the database; a contractor's ends some time after `now`."""
    for username, first_name, role in (*PEOPLE, LEFT):
        contractor = role == Role.CONTRACTOR
        with recording(by=None, at=at):
            person = register_person(
                username=username,
                first_name=first_name,
                last_name="",
                employer=EMPLOYER if contractor else "",
                password=None if username == LEFT[0] else password,
            )
            if username == ADMINISTRATOR:
                # Opening the admin is not a role at a site: whoever installs the program gives it, here the program.
                bump(person)
                person.is_staff = True
                person.save(update_fields=["is_staff"])
            for site in sites[:1] if username in ONLY_AT_FIRST_SITE else sites:
                until = today_at(site, now) + timedelta(days=CONTRACT_DAYS) if contractor else None
                give_role(person=person, site=site, role=role, from_on=today_at(site, at), until_on=until)
    names = [row[0] for row in (*PEOPLE, LEFT)]
    return {person.username: person for person in Person.objects.filter(username__in=names)}


def see_off(site: Site, people: dict[str, Person], now: datetime) -> None:
    """Somebody left: every role of his ended that day."""
    at = now - timedelta(days=LEFT_DAYS)
    with recording(by=people["kim"], at=at):
        leave_site(person=people[LEFT[0]], site=site, on=today_at(site, at), to=people["jon"])


def invite_somebody(site: Site, keeper: Person, at: datetime) -> None:
    """An invitation that nobody has answered yet; its link was shown to the keeper and is known to nobody else."""
    with recording(by=keeper, at=at):
        invite(site=site, role=Role.MECHANIC, email="new.hand@example.org")
