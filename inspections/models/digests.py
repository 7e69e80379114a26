"""Who gets the daily mail of what is due, and when."""

from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import Q


class DigestWish(models.Model):
    """One person's mail about one site: at which hour of the site's own clock, on which days of the week."""

    person = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="digest")
    site = models.ForeignKey("plant.Site", on_delete=models.CASCADE, related_name="+")
    active = models.BooleanField(default=True)
    hour = models.PositiveSmallIntegerField(default=6, validators=[MaxValueValidator(23)])
    days = models.CharField(max_length=7, default="12345", help_text="Days of the week, 1 is Monday.")
    serial = models.PositiveIntegerField(default=1, help_text="Rises when the address in the mails is renewed.")
    origin = models.CharField(max_length=200, help_text="How this person reaches Asleft: links in the mail begin so.")
    sent_for = models.DateField(null=True, blank=True, help_text="The last day a mail was handed over.")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(hour__lte=23), name="digest_hour_of_a_day")]

    def __str__(self) -> str:
        return f"{self.person}, {self.hour}:00"
