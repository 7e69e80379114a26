"""Taking trains out of service, uncoupling them and bringing them back, with the times it happened."""

from datetime import datetime, timedelta
from typing import Any

from plant import access
from plant.models import ServiceSpell, Train
from plant.recording import bump, current
from plant.refusals import Refused
from plant.services.rows import errors_of, set_fields
from plant.sitetime import said_at

# The clocks of a phone and of the server may differ a little.
SLACK = timedelta(minutes=5)
FIELDS = ("from_at", "state", "reason")


def set_service(
    *, train: Train, state: str, at: datetime | None = None, reason: str = "", expected: int | None = None
) -> ServiceSpell:
    """Say that a train is in service, out of it or uncoupled since `at` (now).

    It may be said afterwards, not in advance, and not for a time before the spell that it ends began. Its checks follow
    in the same unit of work.
    """
    unit = current()
    require(train)
    bump(train, expected)
    at = at or unit.at
    open_one = _open(train)
    spell = ServiceSpell(site_id=train.site_id, train=train, state=state, from_at=at, reason=reason.strip(), by=unit.by)
    errors = errors_of(spell)
    if state == open_one.state and "state" not in errors:
        errors["state"] = f"This train is {open_one.get_state_display()} already{_since(open_one)}."
    if at > unit.at + SLACK:
        errors["at"] = "This lies in the future: a change of service is recorded once it has happened."
    elif open_one.from_at is not None and at < open_one.from_at:
        errors["at"] = (
            f"It has been {open_one.get_state_display()} since {said_at(train.site, open_one.from_at)}: correct that "
            "time first if this happened before."
        )
    if errors:
        raise Refused(errors)
    if open_one.from_at == at:
        # Two sayings about one moment: the later one holds, and the history keeps both.
        open_one.state, open_one.reason, open_one.by = state, spell.reason, unit.by
        spell = open_one
    else:
        open_one.until_at = at
        open_one.save()
    spell.save()
    _mirror(train)
    return spell


def correct_spell(*, spell: ServiceSpell, expected: int | None = None, **fields: Any) -> ServiceSpell:
    """Correct when a spell began (the one before ends there), what state it was, or why. Its end is the next one's."""
    unit = current()
    train = spell.train
    require(train)
    bump(train, expected)
    spell.refresh_from_db()
    before, after = _beside(spell)
    set_fields(spell, fields, FIELDS)
    spell.reason = spell.reason.strip()
    errors = errors_of(spell)
    if before is None and spell.from_at is not None and "from_at" in fields:
        errors["from_at"] = "This is the first spell: it has no known beginning. Record the change that came after it."
    elif before is not None and spell.from_at is None:
        errors["from_at"] = "Say when it began: another spell came before it."
    elif spell.from_at is not None:
        if spell.from_at > unit.at + SLACK:
            errors["from_at"] = "This lies in the future."
        elif before is not None and before.from_at is not None and spell.from_at < before.from_at:
            errors["from_at"] = f"The spell before it began only at {said_at(train.site, before.from_at)}."
        elif spell.until_at is not None and spell.from_at > spell.until_at:
            errors["from_at"] = f"It ended at {said_at(train.site, spell.until_at)} already: the next spell began then."
    if any(other is not None and other.state == spell.state for other in (before, after)) and "state" in fields:
        errors["state"] = "The spell beside it is of the same state: remove this one, and they become one."
    if errors:
        raise Refused(errors)
    if before is not None and before.until_at != spell.from_at:
        before.until_at = spell.from_at
        before.save()
    spell.save()
    _mirror(train)
    return spell


def remove_spell(*, spell: ServiceSpell, expected: int | None = None) -> None:
    """Take back a spell that never was: the one before goes on in its place. The history keeps it."""
    train = spell.train
    require(train)
    bump(train, expected)
    spell.refresh_from_db()
    before, after = _beside(spell)
    if before is None:
        raise Refused("The first spell cannot be removed: correct its state instead.")
    gone, ends = [spell], spell.until_at
    if after is not None and after.state == before.state:
        gone, ends = [spell, after], after.until_at
    for one in gone:
        one.delete()
    before.until_at = ends
    before.save()
    _mirror(train)


def open_first_spell(train: Train) -> ServiceSpell:
    """A new train has always been in the state it is registered with, as far as the record knows."""
    return ServiceSpell.objects.create(
        site_id=train.site_id, train=train, state=train.service, from_at=None, by=current().by
    )


def require(train: Train) -> None:
    """Whoever keeps the register or plans its checks."""
    by = current().by
    if not access.may(by, "register.write", train.site_id):
        access.require(by, "check.plan", train.site_id)


def _open(train: Train) -> ServiceSpell:
    # A train written without its services (by hand, in a test) gets its first spell when it is first needed.
    return ServiceSpell.objects.filter(train=train, until_at__isnull=True).first() or open_first_spell(train)


def _beside(spell: ServiceSpell) -> tuple[ServiceSpell | None, ServiceSpell | None]:
    spells = list(ServiceSpell.objects.filter(train_id=spell.train_id))
    place = spells.index(spell)
    return (spells[place - 1] if place else None), (spells[place + 1] if place + 1 < len(spells) else None)


def _mirror(train: Train) -> None:
    state = _open(train).state
    if train.service != state:
        train.service = state
        train.save()


def _since(spell: ServiceSpell) -> str:
    return f" since {said_at(spell.train.site, spell.from_at)}" if spell.from_at is not None else ""
