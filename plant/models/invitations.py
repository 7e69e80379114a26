"""Links that open the door once: an invitation to a site, or a new password for somebody who has an account."""

import uuid

from django.db import models
from django.db.models import Q

from plant.models.people import Membership, Person


class Invitation(models.Model):
    """Made by a keeper, shown once, kept as a digest, used once, ended after a week or by the next one."""

    class Kind(models.TextChoices):
        ROLE = "role", "a role at a site"
        PASSWORD = "password", "a new password"

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.ROLE)
    digest = models.CharField(max_length=64, unique=True)
    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, null=True, blank=True, related_name="invitations")
    role = models.CharField(max_length=12, choices=Membership.Role, blank=True)
    email = models.EmailField(blank=True)
    employer = models.CharField(max_length=80, blank=True)
    until_on = models.DateField(null=True, blank=True, help_text="Last day of the role.")
    language = models.CharField(max_length=8, default="en")
    person = models.ForeignKey(
        Person, on_delete=models.CASCADE, null=True, blank=True, related_name="invitations", help_text="Who used it."
    )
    made_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]
        indexes = [models.Index(fields=["site", "-made_at"], name="invitation_site_made")]
        constraints = [
            models.CheckConstraint(
                condition=(Q(kind="role", site__isnull=False) & ~Q(role="")) | Q(kind="password", person__isnull=False),
                name="invited_to_a_role_or_for_a_password",
            ),
            models.CheckConstraint(
                condition=Q(used_at__isnull=True) | Q(person__isnull=False), name="used_by_somebody"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} for {self.email or self.person or 'whoever has the link'}"
