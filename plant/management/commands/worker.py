"""`manage.py worker`: the job loop of an installation without a queue."""

import signal
import time
from types import FrameType
from typing import Any

import structlog
from django.core.management.base import BaseCommand, CommandParser
from django.db import InterfaceError, OperationalError, close_old_connections, connection
from django.utils import timezone

from plant import jobs

TICK_EVERY_S = 20.0
LONGEST_WAIT_S = 10.0

log = structlog.get_logger(__name__)


class Command(BaseCommand):
    help = "Do the background work, once a second looking what is due, until told to stop."
    requires_migrations_checks = False

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--pause", type=float, default=1.0, help="seconds between two looks (1)")

    def handle(self, *args: Any, **options: Any) -> None:
        self.stopping = False
        for one in (signal.SIGTERM, signal.SIGINT):
            signal.signal(one, self.stop)
        pause, wait, ticked = options["pause"], options["pause"], -TICK_EVERY_S
        log.info("job loop begins")
        while not self.stopping:
            # A connection that the server closed is replaced before it is needed.
            close_old_connections()
            try:
                if time.monotonic() - ticked >= TICK_EVERY_S:
                    jobs.tick(timezone.now())
                    ticked = time.monotonic()
                worked = jobs.work(timezone.now(), stopping=lambda: self.stopping)
                wait = 0.0 if worked else pause
            except (OperationalError, InterfaceError) as error:
                # A database that restarts or is busy: wait for it, longer each time, and go on by ourselves.
                wait = min(max(2 * wait, pause), LONGEST_WAIT_S)
                log.warning("the database does not answer; waiting", seconds=wait, error=str(error).strip())
                connection.close()
            self.rest(wait)
        log.info("job loop ends")

    def stop(self, number: int, frame: FrameType | None) -> None:
        """Finish the slice in hand, then end."""
        self.stopping = True

    def rest(self, seconds: float) -> None:
        """Sleep, but wake for a signal at once."""
        until = time.monotonic() + seconds
        while not self.stopping and (left := until - time.monotonic()) > 0:
            time.sleep(min(0.1, left))
