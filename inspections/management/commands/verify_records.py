"""verify_records: finds every change made to signed records behind the application's back."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from inspections import triggers
from inspections.models import Maintenance
from inspections.selectors.verification import verify


class Command(BaseCommand):
    help = (
        "Recompute the digests of all signed records, walk each coupling's chain and compare every measurement row "
        "with the signed text. Ends with 1 where something was changed."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        done = verify()
        for finding in done.findings:
            self.stdout.write(f"changed: {finding}")
        names = triggers.missing()
        if names:
            self.stdout.write(
                f"{len(names)} triggers are missing (manage.py migrate installs them): {', '.join(names)}"
            )
        for row in Maintenance.objects.filter(open=True):
            self.stdout.write(f"maintenance is open since {row.since}: {row.reason}")
        self.stdout.write(
            f"{done.records} records in {done.chains} chains, {done.rows} rows, {done.visits} signed visits compared: "
            f"{len(done.findings)} changed"
        )
        if done.findings:
            raise CommandError("Signed records are not as they were signed.", returncode=1)
