"""What the program refuses to do, and how it says so.

A service, a reader or a rule raises one of these; the API turns it into problem details, a page into errors beside the
fields. Nothing here knows of either.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class FieldError:
    """One sentence about one field; the field is a path joined by dots, "" stands for the whole."""

    field: str
    message: str
    code: str = "invalid"

    @property
    def pointer(self) -> str:
        """The field as a JSON pointer (RFC 6901): "a.0.b" becomes "/a/0/b", the whole is ""."""
        if not self.field:
            return ""
        return "".join("/" + part.replace("~", "~0").replace("/", "~1") for part in self.field.split("."))


class Refusal(Exception):
    """The common ground of all refusals: an HTTP status, a code for programs, a title and sentences for people."""

    status: int = 400
    code: str = "refused"
    title: str = "This cannot be done"

    def __init__(self, errors: Mapping[str, str] | str | None = None, code: str | None = None) -> None:
        if code is not None:
            self.code = code
        given: Mapping[str, str] = {"": errors} if isinstance(errors, str) else (errors or {})
        self.errors: list[FieldError] = [FieldError(field, message, self.code) for field, message in given.items()]
        super().__init__(self.sentence)

    @property
    def sentence(self) -> str:
        """Every message in one text, for logs and for a page without fields."""
        if not self.errors:
            return self.title
        return "; ".join(f"{error.field}: {error.message}" if error.field else error.message for error in self.errors)

    def as_dict(self) -> dict[str, str]:
        """Messages by field path."""
        return {error.field: error.message for error in self.errors}


class Refused(Refusal):
    """What was sent cannot be accepted as it stands: bad values, a broken rule. All errors at once."""

    status = 422
    code = "invalid"
    title = "Something has to be corrected"


class NotAllowed(Refusal):
    """The person may see this but not do that."""

    status = 403
    code = "not-allowed"
    title = "Your role does not allow this here"


class Missing(Refusal):
    """Nothing there, or nothing this person may know of."""

    status = 404
    code = "missing"
    title = "There is nothing here by that name"


class Gone(Refusal):
    """It was there, and is no more: an expired delta token, a removed record."""

    status = 410
    code = "gone"
    title = "This is no longer here"


class Stale(Refusal):
    """Somebody was faster. `current` holds what stands now, for the comparison that is shown instead of an error."""

    status = 412
    code = "stale"
    title = "Somebody changed this in the meantime"

    def __init__(
        self,
        errors: Mapping[str, str] | str | None = None,
        code: str | None = None,
        current: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(errors, code)
        self.current: dict[str, Any] = current or {}


class PreconditionMissing(Refusal):
    """A change must say which version it was made from."""

    status = 428
    code = "precondition-missing"
    title = "Say which version you are changing (If-Match)"


class KeyReused(Refusal):
    """An idempotency key came back with another body."""

    status = 422
    code = "idempotency-key-reused"
    title = "This idempotency key was used before with something else"
