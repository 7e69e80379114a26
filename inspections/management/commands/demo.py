"""`manage.py demo`: an invented plant with three years of history, and sign-ins to look at it with."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from inspections.demo.build import demo_sites, fill
from inspections.demo.people import (
    ADMINISTRATOR,
    ONLY_AT_FIRST_SITE,
    PEOPLE,
    keep_password,
    kept_password,
    new_password,
)
from inspections.demo.works import WORKS
from plant.models import Person, Site


class Command(BaseCommand):
    help = "Fill an empty database with an invented plant, and print who can sign in. Harmless twice."

    def handle(self, *args: Any, **options: Any) -> None:
        here = demo_sites()
        other = Site.objects.exclude(pk__in=[site.pk for site in here]).order_by("name").first()
        if other is not None:
            raise CommandError(
                f"This database holds the site {other.name}, so the demo plant stays out of it: "
                "use an empty data folder (ASLEFT_DATA)."
            )
        if here:
            self.stdout.write("The demo plant is there already.")
            self._say(kept_password(settings.DATA))
            return
        names = [username for username, _first_name, _role in PEOPLE]
        known = Person.objects.filter(username__in=names).order_by("username").first()
        if known is not None:
            raise CommandError(
                f"Somebody is registered as {known.username} here, so the demo plant stays out of this database: "
                "use an empty data folder (ASLEFT_DATA)."
            )
        password = new_password()
        # All of it or nothing: a demo broken off half-way could neither be used nor made again.
        with transaction.atomic():
            fill(timezone.now(), password, self.stdout.write, WORKS)
        keep_password(settings.DATA, password)
        self.stdout.write("Made the demo plant: " + " and ".join(works.name for works in WORKS) + ".")
        self._say(password)

    def _say(self, password: str | None) -> None:
        if password is None:
            self.stdout.write("Its password is not kept here any more: manage.py changepassword mia sets a new one.")
            return
        shown = password
        rows = [("sign-in", "password", "who")]
        for username, _first_name, role in PEOPLE:
            where = f"at {WORKS[0].name}" if username in ONLY_AT_FIRST_SITE else "at both sites"
            admin = ", opens the admin" if username == ADMINISTRATOR else ""
            rows.append((username, shown, f"{role.label} {where}{admin}"))
        widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
        for row in rows:
            self.stdout.write(f"  {row[0]:{widths[0]}}  {row[1]:{widths[1]}}  {row[2]}")
