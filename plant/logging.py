"""One line of JSON per event on standard output; a console for people when ASLEFT_DEBUG is on. No secrets in either."""

from collections.abc import MutableMapping
from typing import Any

import structlog

SECRET_WORDS = ("password", "secret", "token", "authorization", "cookie", "api_key")


def without_secrets(_logger: Any, _method: str, event: MutableMapping[str, Any]) -> MutableMapping[str, Any]:
    """Blank the value of every key that names a secret, whoever logged it."""
    for key in event:
        if any(word in key.lower() for word in SECRET_WORDS):
            event[key] = "withheld"
    return event


def shared_processors() -> list[Any]:
    """What our own events and those of other packages go through alike."""
    return [
        structlog.contextvars.merge_contextvars,
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.processors.TimeStamper(fmt="iso", utc=True),
        structlog.stdlib.ExtraAdder(),
        without_secrets,
    ]


def logging_for(*, human: bool) -> dict[str, Any]:
    """The logging configuration, as a dictionary that Django and gunicorn both take."""
    structlog.configure(
        processors=[
            structlog.stdlib.filter_by_level,
            *shared_processors(),
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        logger_factory=structlog.stdlib.LoggerFactory(),
        cache_logger_on_first_use=True,
    )
    ending: list[Any] = (
        [structlog.dev.ConsoleRenderer(colors=False)]
        if human
        else [structlog.processors.format_exc_info, structlog.processors.JSONRenderer()]
    )
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {
            "events": {
                "()": structlog.stdlib.ProcessorFormatter,
                "foreign_pre_chain": shared_processors(),
                "processors": [structlog.stdlib.ProcessorFormatter.remove_processors_meta, *ending],
            }
        },
        "handlers": {
            "stdout": {"class": "logging.StreamHandler", "stream": "ext://sys.stdout", "formatter": "events"},
        },
        "root": {"handlers": ["stdout"], "level": "INFO"},
        # gunicorn and Django bring handlers of their own unless told to hand over to the root.
        "loggers": {
            "django": {"handlers": [], "level": "INFO", "propagate": True},
            "django.server": {"handlers": [], "level": "INFO", "propagate": True},
            "gunicorn.error": {"handlers": [], "level": "INFO", "propagate": True},
            "gunicorn.access": {"handlers": [], "level": "INFO", "propagate": True},
        },
    }
