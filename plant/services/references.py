"""Names that other systems have for our roots."""

from collections.abc import Mapping
from typing import Any

from plant.models import ExternalRef
from plant.refusals import Refused


def set_references(*, root: Any, refs: Mapping[str, str | None] | None) -> None:
    """Merge {system: key}; None takes a system's key away. The root is bumped or new, so it is told anyway."""
    noun = root._meta.model_name
    ours = ExternalRef.objects.filter(site_id=root.site_id, noun=noun)
    given = dict(refs or {})
    if not given:
        return
    others = ours.filter(system__in=given, key__in=[key for key in given.values() if key is not None])
    named = set(others.exclude(subject=root.uuid).values_list("system", "key"))
    errors = {
        f"external_ref.{system}": f"“{key}” is the name of something else at this site."
        for system, key in given.items()
        if (system, key) in named
    }
    if errors:
        raise Refused(errors)
    # Read once and written at once, however many systems there are.
    here = ours.filter(subject=root.uuid)
    standing = dict(here.filter(system__in=given).values_list("system", "key"))
    here.filter(system__in=[system for system in standing if standing[system] != given[system]]).delete()
    ExternalRef.objects.bulk_create(
        [
            ExternalRef(site_id=root.site_id, noun=noun, system=system, subject=root.uuid, key=key)
            for system, key in given.items()
            if key is not None and standing.get(system) != key
        ]
    )


def drop_references(*, root: Any) -> None:
    """With a root that goes, its names elsewhere go too."""
    ExternalRef.objects.filter(subject=root.uuid, noun=root._meta.model_name).delete()
