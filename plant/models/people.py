"""People, the role each has at a site, and the tokens their programs use."""

import hashlib
import uuid
from typing import Any

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q
from django.utils import timezone

from plant.models.history import kept_history
from plant.models.roots import Versioned


class Person(AbstractUser, Versioned):
    class Kind(models.TextChoices):
        PERSON = "person", "person"
        SERVICE = "service", "another program's account"

    kind = models.CharField(max_length=8, choices=Kind, default=Kind.PERSON)
    language = models.CharField(max_length=8, default="en")
    employer = models.CharField(max_length=80, blank=True)
    until_on = models.DateField(null=True, blank=True, help_text="Last day this person may sign in.")

    # Set by the API's authentication for one request: what the token used may do narrows what the person may do.
    token: Any = None

    class Meta(AbstractUser.Meta):
        ordering = ["username"]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def sees_everything(self) -> bool:
        return bool(self.is_superuser and self.is_active and (self.token is None or not self.token.site_ids()))

    def roles_by_site(self) -> dict[int, set[str]]:
        """Roles in force today, by site id, read once per request (per instance)."""
        if not self.is_active:
            return {}
        cached = self.__dict__.get("_roles_by_site")
        if cached is None:
            today = timezone.now().date()
            cached = {}
            if self.until_on is None or self.until_on >= today:
                rows = self.memberships.filter(Q(until_on__isnull=True) | Q(until_on__gte=today), from_on__lte=today)
                for site_id, role in rows.values_list("site_id", "role"):
                    cached.setdefault(site_id, set()).add(role)
            self.__dict__["_roles_by_site"] = cached
        return cached

    def site_ids(self) -> set[int]:
        """Sites this person may read, narrowed to the token's own where one is used."""
        sites = set(self.roles_by_site())
        if self.token is not None and (only := self.token.site_ids()):
            return only if self.is_superuser and self.is_active else sites & only
        return sites

    def whole_site_ids(self) -> set[int]:
        """Those of the sites that a role opens as a whole; a contractor reads only what belongs to his orders."""
        sites = self.site_ids()
        if self.is_superuser and self.is_active:
            return sites
        roles = self.roles_by_site()
        return {site for site in sites if roles.get(site, set()) - {Membership.Role.CONTRACTOR}}

    def reads_whole(self, site_id: int) -> bool:
        """Whether all of a site is open to this person, and not only what belongs to orders."""
        return self.sees_everything or site_id in self.whole_site_ids()


class Membership(models.Model):
    """One role of one person at one site. What a role may do stands in plant/access.py."""

    class Role(models.TextChoices):
        MECHANIC = "mechanic", "mechanic"
        CONTRACTOR = "contractor", "contractor’s mechanic"
        PLANNER = "planner", "planner"
        ENGINEER = "engineer", "reliability engineer"
        MANAGER = "manager", "manager"
        KEEPER = "keeper", "keeper of the register"
        CLIENT = "client", "another program"

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="memberships")
    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role)
    from_on = models.DateField(default=timezone.localdate)
    until_on = models.DateField(null=True, blank=True)
    history = kept_history()

    class Meta:
        ordering = ["site", "role", "person"]
        constraints = [
            models.UniqueConstraint(fields=["person", "site", "role"], name="one_role_once_per_person_and_site"),
            models.CheckConstraint(
                condition=Q(until_on__isnull=True) | Q(until_on__gte=models.F("from_on")),
                name="membership_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_role_display()} at {self.site}"


class Token(models.Model):
    """A personal token: shown once, kept as a digest, ends by itself, can be revoked."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="tokens")
    name = models.CharField(max_length=80)
    prefix = models.CharField(max_length=8, help_text="The first letters, to tell tokens apart.")
    digest = models.CharField(max_length=64, unique=True)
    scopes = models.JSONField(default=list, help_text="Actions this token may take; never more than the person may.")
    sites = models.ManyToManyField(
        "plant.Site", blank=True, related_name="+", help_text="None chosen: all of the person's."
    )
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return f"{self.name} ({self.prefix}…)"

    @staticmethod
    def digest_of(secret: str) -> str:
        return hashlib.sha256(secret.encode()).hexdigest()

    def site_ids(self) -> set[int]:
        cached = self.__dict__.get("_site_ids")
        if cached is None:
            cached = self.__dict__["_site_ids"] = set(self.sites.values_list("pk", flat=True))
        return cached
