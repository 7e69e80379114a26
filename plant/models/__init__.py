"""The register of the plant, and the rows under every change."""

from plant.models.audit import AuditEntry
from plant.models.invitations import Invitation
from plant.models.journal import Event, ExternalRef, IdempotencyKey, Tombstone
from plant.models.people import Membership, Person, Token
from plant.models.roots import Root, RootQuerySet, Versioned
from plant.models.runs import JobRun
from plant.models.service import ServiceSpell
from plant.models.sites import Area, Site, SiteMark, SiteNumber
from plant.models.stops import Stop
from plant.models.trains import FootPlane, Machine, Meter, MeterReading, Train
from plant.models.units import MachineUnit, UnitStay
from plant.models.webhooks import AllowedHost, Attempt, Delivery, Webhook

__all__ = [
    "AllowedHost", "Area", "Attempt", "AuditEntry", "Delivery", "Event", "ExternalRef", "FootPlane", "IdempotencyKey",
    "Invitation", "JobRun", "Machine", "MachineUnit", "Membership", "Meter", "MeterReading", "Person", "Root",
    "RootQuerySet", "ServiceSpell", "Site", "SiteMark", "SiteNumber", "Stop", "Token", "Tombstone", "Train", "UnitStay",
    "Versioned", "Webhook",
]  # fmt: skip
