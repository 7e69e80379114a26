"""Mail in text and HTML, where the site has a mail server; without one the pages say what to copy."""

import logging
import smtplib
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string
from django.utils import translation

logger = logging.getLogger(__name__)


def mail_is_on() -> bool:
    return bool(settings.MAIL_ON)


def send(
    *,
    to: str,
    template: str,
    context: dict[str, Any],
    language: str = "en",
    headers: dict[str, str] | None = None,
) -> bool:
    """Send `<template>.txt` (its first line is the subject) and `<template>.html`; False where it did not go out.

    Called after the commit: a mail server that is down loses no invitation, the link can still be copied.
    """
    if not (mail_is_on() and to):
        return False
    with translation.override(language):
        subject, _blank, text = render_to_string(f"{template}.txt", context).partition("\n")
        html = render_to_string(f"{template}.html", context)
    message = EmailMultiAlternatives(
        subject.strip(), text.strip() + "\n", settings.DEFAULT_FROM_EMAIL, [to], headers=headers
    )
    message.attach_alternative(html, "text/html")
    try:
        return bool(message.send())
    except (OSError, smtplib.SMTPException):
        logger.exception("mail.failed", extra={"template": template})
        return False
