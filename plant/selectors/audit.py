"""What a keeper may read of what happened at the door."""

from django.db.models import Q, QuerySet

from plant import access
from plant.models import AuditEntry, Membership, Person


def audit_for(person: Person) -> QuerySet[AuditEntry]:
    """Entries of the sites whose people this person keeps, and sign-ins of those who have a role there."""
    rows = AuditEntry.objects.select_related("person", "by", "site")
    if person.sees_everything and access.may(person, "people.write", None):
        return rows
    kept = access.sites_where(person, "people.write")
    theirs = Membership.objects.filter(site_id__in=kept).values("person_id")
    return rows.filter(Q(site_id__in=kept) | Q(site__isnull=True, person_id__in=theirs))


def audit_matching(person: Person, *, text: str = "", kind: str = "") -> QuerySet[AuditEntry]:
    """Those of one kind, and about somebody whose name or sign-in name contains the text."""
    rows = audit_for(person)
    if kind:
        rows = rows.filter(kind=kind)
    if text := text.strip():
        rows = rows.filter(
            Q(person__username__icontains=text)
            | Q(person__first_name__icontains=text)
            | Q(person__last_name__icontains=text)
            | Q(by__username__icontains=text)
            | Q(note__icontains=text)
        )
    return rows.order_by("-at", "-id")
