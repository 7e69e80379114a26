"""What somebody has in hand and has signed, asked of every app that knows of such things."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from plant.models import Invitation, Person, Site, Token


@dataclass(frozen=True)
class InHand:
    """One open thing of a person: what it is, where it is looked at, and what becomes of it when they leave."""

    words: str
    fate: str
    url: str = ""
    # Whether it can be given to somebody else by name.
    passes_on: bool = False


@dataclass(frozen=True)
class Signed:
    """One signature of a person, for a list."""

    words: str
    at: datetime
    url: str


Asked = Callable[[Person, set[int], datetime], list[InHand]]
_in_hand: list[Asked] = []
_signed: list[Callable[[Person, set[int]], list[Signed]]] = []


def ask_for_things_in_hand(asked: Asked) -> None:
    if asked not in _in_hand:
        _in_hand.append(asked)


def ask_for_signatures(asked: Callable[[Person, set[int]], list[Signed]]) -> None:
    if asked not in _signed:
        _signed.append(asked)


def in_hand(person: Person, sites: set[int], at: datetime) -> list[InHand]:
    """Everything open in this person's hands at these sites; their tokens and invitations last."""
    found = [thing for asked in _in_hand for thing in asked(person, sites, at)]
    here = {token.pk for site in Site.objects.filter(pk__in=sites) for token in tokens_of_site(person, site, at)}
    for token in _tokens(person, at):
        fate = "ends with the last day here" if token.pk in here else "stops opening this site with the roles"
        found.append(InHand(f"Token “{token.name}” for a program", fate))
    links = Invitation.objects.filter(
        made_by=person, site_id__in=sites, used_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=at
    ).select_related("site")
    found += [
        InHand(f"Invitation of {row.email or 'somebody'} to {row.site}", "ends with the account") for row in links
    ]
    return found


def tokens_of_site(person: Person, site: Site, at: datetime) -> list[Token]:
    """Tokens of somebody that open this site and no other."""
    elsewhere = person.memberships.exclude(site=site).filter(Q(until_on__isnull=True) | Q(until_on__gte=at.date()))
    alone = not elsewhere.exists() and not person.sees_everything
    opens = [(token, {one.pk for one in token.sites.all()}) for token in _tokens(person, at)]
    return [token for token, sites in opens if (sites <= {site.pk} if sites else alone)]


def _tokens(person: Person, at: datetime) -> list[Token]:
    rows = Token.objects.filter(person=person, revoked_at__isnull=True, expires_at__gt=at)
    return list(rows.prefetch_related("sites").order_by("made_at", "pk"))


def signed_last(person: Person, sites: set[int]) -> list[Signed]:
    """The latest signatures of this person at these sites, the newest first."""
    found = [one for asked in _signed for one in asked(person, sites)]
    return sorted(found, key=lambda one: one.at, reverse=True)[:10]
