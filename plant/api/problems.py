"""What the API says when it refuses: problem details (RFC 9457), one shape for everything.

A view raises a `Refusal`, or DRF raises one of its own exceptions; `handler` turns either into the answer. A `Replay`
(the request under this idempotency key was answered before) ends here too, as the answer that was given then.
"""

import logging
from collections.abc import Iterable
from typing import Any

from django.core.exceptions import PermissionDenied
from django.db import IntegrityError
from django.http import Http404, HttpRequest, JsonResponse
from drf_standardized_errors.formatter import flatten_errors
from rest_framework import exceptions
from rest_framework.response import Response
from rest_framework.views import set_rollback

from plant.recording import Replay
from plant.refusals import FieldError, Refusal, Refused, Stale

CONTENT_TYPE = "application/problem+json"
logger = logging.getLogger(__name__)

# DRF's own exceptions by status: code and title, in our words.
TITLES = {
    400: ("malformed", "The request cannot be read"),
    401: ("not-signed-in", "Sign in or send a token"),
    403: ("not-allowed", "Your role does not allow this here"),
    404: ("missing", "There is nothing here by that name"),
    405: ("method-not-allowed", "This address does not take this method"),
    406: ("not-acceptable", "Answers come as JSON"),
    409: ("conflict", "Somebody did the same at the same moment"),
    415: ("unsupported-media-type", "Requests are taken as JSON"),
    429: ("too-many", "Too many requests, wait a while"),
    500: ("error", "Something went wrong on our side"),
}


class BadQuery(Refusal):
    """A parameter in the address, or a header, that cannot be meant. The field is the parameter's name."""

    status = 400
    code = "bad-query"
    title = "The address or a header has to be corrected"


def handler(exc: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's EXCEPTION_HANDLER. None lets an unforeseen error through to Django, which logs it and answers 500."""
    if isinstance(exc, Replay):
        return _replayed(exc)
    if isinstance(exc, Http404):
        exc = exceptions.NotFound()
    elif isinstance(exc, PermissionDenied):
        exc = exceptions.PermissionDenied()
    if isinstance(exc, Refusal):
        set_rollback()
        return refusal(exc)
    if isinstance(exc, exceptions.ValidationError):
        set_rollback()
        return refusal(refused(exc))
    if isinstance(exc, exceptions.APIException):
        set_rollback()
        return _api_exception(exc)
    if isinstance(exc, IntegrityError):
        # Two at once: each saw that the name was free. The later one is told; a repeat is refused beside its field.
        set_rollback()
        logger.warning("conflict", exc_info=exc)
        return problem(409, *TITLES[409], detail="Nothing was saved. Read again what stands now, then repeat.")
    return None


def refusal(exc: Refusal) -> Response:
    """A refusal as problem details; a stale one carries what stands now."""
    more: dict[str, Any] = {}
    headers: dict[str, str] = {}
    if isinstance(exc, Stale) and exc.current:
        more["current"] = exc.current
        if "version" in exc.current:
            headers["ETag"] = f'"{exc.current["version"]}"'
    by = "parameter" if isinstance(exc, BadQuery) else "pointer"
    detail = exc.sentence if not any(error.field for error in exc.errors) and exc.errors else None
    return problem(
        exc.status, exc.code, exc.title, detail=detail, errors=errors_of(exc.errors, by), headers=headers, **more
    )


def problem(
    status: int,
    code: str,
    title: str,
    *,
    detail: str | None = None,
    errors: list[dict[str, str]] | None = None,
    headers: dict[str, str] | None = None,
    **more: Any,
) -> Response:
    return Response(
        _body(status, code, title, detail, errors, **more), status=status, headers=headers, content_type=CONTENT_TYPE
    )


def errors_of(errors: Iterable[FieldError], by: str = "pointer") -> list[dict[str, str]]:
    """The rows under `errors`: a JSON pointer into what was sent (or a parameter's name), a sentence, a code."""
    return [
        {by: error.pointer if by == "pointer" else error.field, "detail": error.message, "code": error.code}
        for error in errors
    ]


def page_not_found(request: HttpRequest) -> JsonResponse:
    """For the site's handler404, below /api/."""
    return _plain(404)


def server_error(request: HttpRequest) -> JsonResponse:
    """For the site's handler500, below /api/; the error itself is in the log and nowhere else."""
    return _plain(500)


def _plain(status: int) -> JsonResponse:
    return JsonResponse(_body(status, *TITLES[status]), status=status, content_type=CONTENT_TYPE)


def _body(
    status: int,
    code: str,
    title: str,
    detail: str | None = None,
    errors: list[dict[str, str]] | None = None,
    **more: Any,
) -> dict[str, Any]:
    body: dict[str, Any] = {"type": f"/problems/{code}", "title": title, "status": status}
    if detail:
        body["detail"] = detail
    if errors:
        body["errors"] = errors
    return body | more


def refused(exc: exceptions.ValidationError) -> Refused:
    """A serializer's errors in the words of a refusal, every one of them with its field."""
    found = Refused()
    for error in flatten_errors(exc.detail):
        parts = [part for part in (error.attr or "").split(".") if part and part != "non_field_errors"]
        found.errors.append(FieldError(".".join(parts), error.detail, error.code))
    return found


def _api_exception(exc: exceptions.APIException) -> Response:
    code, title = TITLES.get(exc.status_code, (str(exc.default_code), str(exc.default_detail)))
    headers: dict[str, str] = {}
    if header := getattr(exc, "auth_header", None):
        headers["WWW-Authenticate"] = header
    if (wait := getattr(exc, "wait", None)) is not None:
        headers["Retry-After"] = str(max(1, int(wait)))
    return problem(exc.status_code, code, title, detail=str(exc.detail), headers=headers)


def _replayed(replay: Replay) -> Response:
    headers = {"Idempotency-Replayed": "true"}
    if replay.etag:
        headers["ETag"] = replay.etag
    if replay.location:
        headers["Location"] = replay.location
    return Response(replay.body, status=replay.status, headers=headers)
