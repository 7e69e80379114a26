"""Flags of somebody who leaves go to whoever takes over."""

from __future__ import annotations

from inspections.models import Flag
from plant.models import Person, Site
from plant.recording import bump
from plant.services.leaving import hand_over_also


def hand_over_flags(person: Person, to: Person, site: Site) -> int:
    """Give the open flags of one person at a site to another. The keeper's act: `hand_over` asked whether she may."""
    flags = list(Flag.objects.filter(owner=person, site=site, cleared_at__isnull=True))
    for flag in flags:
        bump(flag)
        flag.owner = to
        flag.save(update_fields=["owner"])
    return len(flags)


def hand_over_work() -> None:
    """Let leaving ask here."""
    hand_over_also(hand_over_flags)
