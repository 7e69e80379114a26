"""Which addresses a webhook may reach: none inside a network, unless the site allows that host by name.

The name is resolved once and the connection made to the very address that was looked at, so that a name which answers
differently the second time gains nothing.
"""

import ipaddress
import socket
from collections.abc import Collection
from urllib.parse import urlsplit

from django.conf import settings

LONGEST_URL = 500


class Barred(Exception):
    """This address is not reached; the message says why, for whoever set the webhook up."""


def checked_url(url: str) -> tuple[str, str, int, str]:
    """Scheme, host, port and path of an address, as far as it can be judged without looking it up.

    Raises
    ------
    Barred
        Not https (http only where the settings allow it), a name or password in it, no host, an impossible port.
    """
    parts = urlsplit(url.strip())
    schemes = {"https", "http"} if settings.WEBHOOK_HTTP else {"https"}
    if len(url) > LONGEST_URL or any(ord(letter) <= 32 or ord(letter) > 126 for letter in url.strip()):
        raise Barred("Write the address in plain letters without spaces, 500 at most.")
    if parts.scheme not in schemes:
        raise Barred("Write an address that begins with https://.")
    try:
        port = parts.port
    except ValueError:
        port = -1
    if not parts.hostname or port == -1 or port == 0:
        raise Barred("The address has no host, or a port that cannot be.")
    if parts.username or parts.password:
        raise Barred("Leave names and passwords out of the address: what is sent is signed.")
    if parts.fragment:
        raise Barred("Leave out what stands behind #; it is never sent.")
    path = parts.path or "/"
    return (
        parts.scheme,
        parts.hostname,
        port or (443 if parts.scheme == "https" else 80),
        (f"{path}?{parts.query}" if parts.query else path),
    )


def open_address(host: str, port: int, allowed: Collection[str]) -> str:
    """The one IP address to connect to.

    Raises
    ------
    Barred
        Any of the host's addresses is private, loopback, link-local, multicast or reserved, and the host is not among
        those the site allows.
    OSError
        The name cannot be resolved.
    """
    found = [str(row[4][0]) for row in socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)]
    if not found:
        raise OSError(f"{host} has no address")
    if host.lower() not in {one.lower() for one in allowed}:
        for one in found:
            address = ipaddress.ip_address(one.partition("%")[0])
            inner = getattr(address, "ipv4_mapped", None) or getattr(address, "sixtofour", None)
            if not address.is_global or address.is_multicast or (inner is not None and not inner.is_global):
                raise Barred(f"{host} stands inside a network ({one}); the site can allow this host by its name.")
    return found[0]
