"""rebuild_legs: computes legs and forecasts again from the signed records, of one site or of all."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inspections.models import DriftState, Leg
from inspections.services.checks import redraw_site
from inspections.services.group_fits import fit_groups
from plant.models import Site
from plant.recording import recording
from plant.sitetime import today_at


class Command(BaseCommand):
    help = (
        "Compute legs and drift forecasts again from the signed records. What did not change is not written; what a "
        "person left out stays left out."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--site", help="Name of one site; otherwise all.")
        parser.add_argument("--fit", action="store_true", help="Fit the groups again too, and forecast by the new fit.")

    def handle(self, *args: Any, **options: Any) -> None:
        sites = Site.objects.order_by("pk")
        if options["site"]:
            sites = sites.filter(name=options["site"])
            if not sites:
                raise CommandError(f"There is no site named {options['site']}.")
        for site in sites:
            self._rebuild(site)
        if options["fit"]:
            now = timezone.now()
            with recording(by=None, at=now):
                fit_groups(on=now.date())
            for site in Site.objects.order_by("pk"):
                self._rebuild(site)
        for site in sites:
            legs, states = Leg.objects.filter(site=site), DriftState.objects.filter(site=site)
            self.stdout.write(
                f"{site}: {legs.filter(why_not='').count()} of {legs.count()} legs in use, "
                f"{states.filter(why_not='').count()} of {states.count()} couplings forecast"
            )

    def _rebuild(self, site: Site) -> None:
        after: int | None = 0
        while after is not None:
            # A slice in a unit of its own, as the jobs do it: one that is broken off is begun again.
            now = timezone.now()
            with recording(by=None, at=now):
                after = redraw_site(site=site, today=today_at(site, now), after=after)
