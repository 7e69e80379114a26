"""Names that other systems have for our roots."""

from collections.abc import Mapping
from typing import Any

from plant.models import ExternalRef
from plant.refusals import Refused


def set_references(*, root: Any, refs: Mapping[str, str | None] | None) -> None:
    """Merge {system: key}; None takes a system's key away. The root is bumped or new, so it is told anyway."""
    noun = root._meta.model_name
    ours = ExternalRef.objects.filter(site_id=root.site_id, noun=noun)
    errors = {}
    for system, key in (refs or {}).items():
        if key is not None and ours.filter(system=system, key=key).exclude(subject=root.uuid).exists():
            errors[f"external_ref.{system}"] = f"“{key}” is the name of something else at this site."
    if errors:
        raise Refused(errors)
    for system, key in (refs or {}).items():
        if key is None:
            ours.filter(system=system, subject=root.uuid).delete()
        else:
            ExternalRef.objects.update_or_create(
                site_id=root.site_id, noun=noun, system=system, subject=root.uuid, defaults={"key": key}
            )


def drop_references(*, root: Any) -> None:
    """With a root that goes, its names elsewhere go too."""
    ExternalRef.objects.filter(subject=root.uuid, noun=root._meta.model_name).delete()
