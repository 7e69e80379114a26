"""Storage rules: how long parts of a polymer may lie in store, by which source, and which of them the site goes by."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from couplings.models import StorageRule
from couplings.services.checking import refuse, saved
from plant import access
from plant.models import Site
from plant.recording import bump, changed, current, removed
from plant.services.rows import errors_of, refuse_known_uuid, set_fields

FIELDS = ("group", "initial_years", "extension_years", "in_use", "source")


def write_storage_rule(
    *,
    site: Site,
    polymer: str,
    policy: str,
    mark: str = StorageRule.Mark.SITE,
    uuid: UUID | None = None,
    **fields: Any,
) -> StorageRule:
    """Write down what one policy says of one polymer."""
    access.require(current().by, "policy.write", site)
    refuse_known_uuid(StorageRule, uuid)
    rule = StorageRule(site=site, polymer=polymer.strip().upper(), policy=policy, mark=mark)
    set_fields(rule, fields, FIELDS)
    if uuid is not None:
        rule.uuid = uuid
    refuse(_errors(rule) | _taken(rule))
    saved(rule, lambda: _taken(rule))
    changed(rule)
    return rule


def change_storage_rule(*, rule: StorageRule, expected: int | None = None, **fields: Any) -> StorageRule:
    """Change a rule. With other figures or another source it is the site's own from then on."""
    access.require(current().by, "policy.write", rule.site)
    bump(rule, expected)
    before = {name: getattr(rule, name) for name in FIELDS if name != "in_use"}
    set_fields(rule, fields, FIELDS)
    if any(getattr(rule, name) != value for name, value in before.items()):
        rule.mark = StorageRule.Mark.SITE
    refuse(_errors(rule) | _taken(rule))
    return saved(rule, lambda: _taken(rule))


def remove_storage_rule(*, rule: StorageRule, expected: int | None = None) -> None:
    """Take a rule away. Where it was the one in use, ages of its polymer are not known until another is chosen."""
    access.require(current().by, "policy.write", rule.site)
    bump(rule, expected)
    removed(rule)
    rule.delete()


def _errors(rule: StorageRule) -> dict[str, str]:
    errors = errors_of(rule)
    if not rule.source.strip():
        errors["source"] = "Name the source of this rule: published ones do not agree."
    if rule.initial_years is None and rule.extension_years:
        errors["extension_years"] = "A period without limit is not extended: leave it 0."
    return errors


def _taken(rule: StorageRule) -> dict[str, str]:
    others = StorageRule.objects.filter(site_id=rule.site_id, polymer=rule.polymer).exclude(pk=rule.pk)
    errors: dict[str, str] = {}
    for policy, in_use in others.values_list("policy", "in_use"):
        if policy == rule.policy:
            errors["policy"] = f"This site has a rule of {policy} for {rule.polymer} already: change that one."
        if in_use and rule.in_use:
            errors["in_use"] = f"{policy} is in use for {rule.polymer}: take it out of use first."
    return errors
