"""`manage.py start`: the whole site in one foreground command, with nothing else to install.

The web server and the job loop run as children; Ctrl-C ends both.
"""

import ipaddress
import os
import socket
import sys
import urllib.error
import urllib.request
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from plant.supervision import AlreadyRunning, Child, GaveUp, Supervisor, take_lock


class Command(BaseCommand):
    help = "Set up the data folder and the database, then serve the site and run its jobs until Ctrl-C."
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--demo", action="store_true", help="fill an invented plant and print its sign-ins")
        parser.add_argument("--port", type=int, default=8000, help="port of the site (8000)")
        parser.add_argument("--bind", default="127.0.0.1", help="address to listen on (127.0.0.1: this machine only)")

    def handle(self, *args: Any, **options: Any) -> None:
        bind, port = options["bind"], options["port"]
        address = read_address(bind)
        if options["demo"] and not address.is_loopback:
            raise CommandError(
                f"--demo prints its sign-ins on the screen, so it stays on this machine: leave --bind {bind} out."
            )
        if options["demo"] and settings.HOSTS:
            raise CommandError(
                "--demo prints its sign-ins on the screen, so it stays on this machine: "
                f"leave ASLEFT_HOSTS ({', '.join(settings.HOSTS)}) out."
            )
        if not 1 <= port <= 65535:
            raise CommandError(f"--port {port} is no port: choose one from 1 to 65535, such as 8000.")
        if settings.CELERY_BROKER_URL:
            raise CommandError(
                "CELERY_BROKER_URL is set, so web, worker and beat run as separate services (docker-compose.yml); "
                "leave it out to run everything with start."
            )
        # Database, photos and logs of the site are for its owner alone, whatever the shell allows.
        os.umask(0o077)
        try:
            lock = take_lock(settings.DATA)
        except AlreadyRunning:
            raise CommandError(
                f"Asleft already runs on {settings.DATA}: stop it first, or choose another folder with ASLEFT_DATA."
            ) from None
        try:
            refuse_taken_port(address, port)
            self.prepare(demo=options["demo"])
            self.serve(address, port, lock)
        finally:
            os.close(lock)

    def prepare(self, *, demo: bool) -> None:
        """Bring database and static files up to date; harmless when they are."""
        self.stdout.write(f"Data folder: {settings.DATA}")
        call_command("migrate", interactive=False, verbosity=0, stdout=self.stdout)
        call_command("collectstatic", interactive=False, verbosity=0, stdout=self.stdout)
        if demo:
            # By name: the demo plant is made by apps above this one.
            call_command("demo", stdout=self.stdout)

    def serve(self, address: Any, port: int, lock: int) -> None:
        """Run the children until asked to stop."""
        host = f"[{address}]" if address.version == 6 else str(address)
        manage = str(settings.BASE_DIR / "manage.py")
        python = [sys.executable, "-u"]
        children = [
            Child("job loop", [*python, manage, "worker"]),
            Child(
                "web server",
                [*python, "-m", "gunicorn", "-c", "python:plant.gunicorn", "--chdir", str(settings.BASE_DIR)]
                + ["--bind", f"{host}:{port}", "plant.wsgi:application"],
            ),
        ]
        supervisor = Supervisor(
            children,
            lock=lock,
            environment=os.environ | {"ASLEFT_DATA": str(settings.DATA)},
            say=lambda sentence: self.stderr.write(sentence),
        )
        shown = "127.0.0.1" if str(address) == "0.0.0.0" else "[::1]" if str(address) == "::" else host
        announced = False

        def announce() -> None:
            nonlocal announced
            if not announced and answers(f"http://{shown}:{port}/livez"):
                announced = True
                self.stdout.write(f"Asleft is ready at http://{shown}:{port}/ (Ctrl-C ends it)")
                self.stdout.flush()

        self.stdout.flush()
        try:
            supervisor.run(announce)
        except GaveUp as sentence:
            raise CommandError(f"{sentence} Everything has been stopped; the lines above say why it ended.") from None
        self.stdout.write("Asleft has stopped.")


def read_address(given: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address:
    """Read --bind: an address of this machine, or localhost."""
    try:
        return ipaddress.ip_address("127.0.0.1" if given == "localhost" else given.strip("[]"))
    except ValueError:
        raise CommandError(
            f"--bind {given} is no address: write 127.0.0.1 for this machine only, or 0.0.0.0 for everybody."
        ) from None


def refuse_taken_port(address: ipaddress.IPv4Address | ipaddress.IPv6Address, port: int) -> None:
    """Say at once that a port is taken, before anything is set up for it."""
    with socket.socket(socket.AF_INET6 if address.version == 6 else socket.AF_INET) as probe:
        # gunicorn sets the same option: a port that only rests after its last owner is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((str(address), port))
        except OSError as error:
            raise CommandError(
                f"Port {port} on {address} cannot be used ({error.strerror}): choose another with --port."
            ) from None


def answers(url: str) -> bool:
    """Whether the web server answers yet."""
    # No proxy from the environment stands between a machine and itself.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    try:
        with opener.open(url, timeout=1) as answer:
            return bool(answer.status == 200)
    except (urllib.error.URLError, OSError):
        return False
