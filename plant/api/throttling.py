"""How many requests one person may send. Counted in this process: a brake for a program in a loop, not accounting."""

from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle
from rest_framework.views import APIView


class PerPerson(SimpleRateThrottle):
    """A hundred requests a second, over a minute; 429 with Retry-After beyond it. Nobody signed in: by address."""

    scope = "person"
    rate = "6000/min"

    def get_cache_key(self, request: Request, view: APIView) -> str:
        who = f"person:{request.user.pk}" if request.user.is_authenticated else f"address:{self.get_ident(request)}"
        return self.cache_format % {"scope": self.scope, "ident": who}
