"""Children of `start`: kept running while the parent lives, gone when it goes.

One lock file in the data folder is held by the parent and inherited by every child, so that a second `start` on the
same folder meets it for as long as anything of the first is alive.
"""

import contextlib
import ctypes
import fcntl
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

RESTARTS = 3
FORGIVEN_AFTER_S = 600.0
STOP_WITHIN_S = 20.0
PR_SET_PDEATHSIG = 1


class AlreadyRunning(Exception):
    """Another process holds the lock of this data folder."""


class GaveUp(Exception):
    """A child died once more than it is restarted."""


def take_lock(folder: Path) -> int:
    """Hold the folder's lock for as long as this process or a child of it lives.

    Returns
    -------
    int
        The open descriptor, to be passed on to the children.
    """
    handle = os.open(folder / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        raise AlreadyRunning from None
    return handle


def die_with(parent: int) -> Callable[[], None]:
    """Make what a new child does before its program begins: ask for SIGTERM at the parent's death.

    Linux only; elsewhere a killed `start` leaves its children, and the lock tells the next one so.
    """
    if not sys.platform.startswith("linux"):
        return lambda: None
    # Looked up before the fork: afterwards nothing should be loaded.
    prctl = ctypes.CDLL(None, use_errno=True).prctl

    def ask() -> None:
        prctl(PR_SET_PDEATHSIG, signal.SIGTERM, 0, 0, 0)
        if os.getppid() != parent:
            # It died between the fork and the request.
            os._exit(1)

    return ask


@dataclass
class Child:
    """One program that is meant to run for ever."""

    name: str
    command: list[str]
    process: "subprocess.Popen[bytes] | None" = None
    deaths: list[float] = field(default_factory=list)


class Supervisor:
    """Start children, restart the dead, stop all of them."""

    def __init__(
        self,
        children: list[Child],
        *,
        lock: int,
        environment: Mapping[str, str],
        say: Callable[[str], None],
        stop_within_s: float = STOP_WITHIN_S,
    ):
        self.children = children
        self.stop_within_s = stop_within_s
        self.lock = lock
        self.environment = dict(environment)
        self.say = say
        self.stopping = False

    def start(self, child: Child) -> None:
        """Run the child in a session of its own: Ctrl-C reaches the parent only, which then stops them in order."""
        child.process = subprocess.Popen(
            child.command,
            env=self.environment,
            stdin=subprocess.DEVNULL,
            pass_fds=[self.lock],
            start_new_session=True,
            preexec_fn=die_with(os.getpid()),
        )

    def run(self, meanwhile: Callable[[], None] = lambda: None) -> None:
        """Keep the children running until a signal asks to stop; nothing of them is left afterwards.

        Raises
        ------
        GaveUp
            A child died more often than it is restarted; the others have been stopped.
        """
        asked = [signal.SIGINT, signal.SIGTERM]
        if signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:
            # Ignored by nohup: then a closed terminal is no request to stop.
            asked.append(signal.SIGHUP)
        before = {one: signal.signal(one, self._asked_to_stop) for one in asked}
        try:
            for child in self.children:
                if not self.stopping:
                    self.start(child)
            while not self.stopping:
                for child in self.children:
                    self._look_after(child)
                meanwhile()
                time.sleep(0.2)
        finally:
            self.stop()
            for one, handler in before.items():
                signal.signal(one, handler)

    def stop(self) -> None:
        """Ask every child to end, last started first to be asked; kill what has not ended in time."""
        living = [child.process for child in reversed(self.children) if child.process and child.process.poll() is None]
        for process in living:
            process.terminate()
        until = time.monotonic() + self.stop_within_s
        for process in living:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(timeout=max(0.1, until - time.monotonic()))
            # A child's own children share its session's group; whatever is left of it ends here.
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()

    def _look_after(self, child: Child) -> None:
        process = child.process
        if process is None or process.poll() is None:
            return
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        now = time.monotonic()
        child.deaths = [then for then in child.deaths if now - then < FORGIVEN_AFTER_S] + [now]
        if len(child.deaths) > RESTARTS:
            raise GaveUp(f"The {child.name} ended {len(child.deaths)} times and is not started again.")
        self.say(f"The {child.name} ended with code {process.returncode}; it is started again.")
        # Longer after every death, so that a full disk or a restarting database has time to recover.
        time.sleep(0.5 * len(child.deaths))
        if not self.stopping:
            self.start(child)

    def _asked_to_stop(self, number: int, frame: FrameType | None) -> None:
        self.stopping = True
