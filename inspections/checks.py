"""System checks of the record; `manage.py check --database default` runs them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.checks import CheckMessage, Tags, Warning, register
from django.db import DatabaseError

from inspections import triggers


@register(Tags.database)
def signed_records_are_guarded(
    app_configs: Any, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """Every trigger that keeps signed records is in its place.

    A warning, since an error would stop the very `migrate` that puts them back.
    """
    found: list[CheckMessage] = []
    for using in databases or []:
        try:
            names = triggers.missing(using)
        except DatabaseError:
            continue  # a database that cannot be reached is another check's finding
        if names:
            found.append(
                Warning(
                    f"Signed records can be changed in the database {using}: {len(names)} triggers are missing, "
                    f"first {names[0]}.",
                    hint="Run manage.py migrate, which installs them again, then manage.py verify_records.",
                    id="inspections.W001",
                )
            )
    return found
