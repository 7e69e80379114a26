"""Who came in, who was turned away, who was given what: kept for the keepers, without any secret."""

from django.db import models

from plant.models.people import Person


class AuditEntry(models.Model):
    """One thing that happened at the door or with the keys. Never changed, never a password or a token in it."""

    class Kind(models.TextChoices):
        SIGNED_IN = "signed-in", "signed in"
        REFUSED = "refused", "sign-in refused"
        LOCKED_OUT = "locked-out", "locked out"
        PASSWORD = "password", "password changed"
        TOKEN_MADE = "token-made", "token made"
        TOKEN_REVOKED = "token-revoked", "token revoked"
        ROLE_GIVEN = "role-given", "role given"
        ROLE_ENDED = "role-ended", "role ended"
        INVITED = "invited", "invited"
        INVITATION_USED = "invitation-used", "invitation taken"
        WITHDRAWN = "withdrawn", "invitation withdrawn"
        LINK_MADE = "link-made", "sign-in link made"
        STOPPED = "stopped", "account stopped"
        CHANGED = "changed", "account changed"
        EXPORT = "export", "exported"

    kind = models.CharField(max_length=16, choices=Kind)
    at = models.DateTimeField()
    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    address = models.GenericIPAddressField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        verbose_name_plural = "audit entries"
        indexes = [
            models.Index(fields=["site", "-at"], name="audit_site_at"),
            models.Index(fields=["person", "-at"], name="audit_person_at"),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.get_kind_display()}"
