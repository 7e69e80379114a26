"""Who is let in by name and password, and for how long a session lasts."""

from typing import Any

from django.contrib.auth.backends import ModelBackend
from django.utils import timezone

from plant.models import Person


class PersonBackend(ModelBackend):
    """As Django's own; and nobody comes in, or stays in, after their last day. A program's account has no password."""

    def user_can_authenticate(self, user: Any) -> bool:
        last: Person = user
        return super().user_can_authenticate(user) and (last.until_on is None or last.until_on >= timezone.now().date())
