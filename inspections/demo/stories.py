"""What was done at the invented plant, as rows: how long ago, by whom, where the shafts stood.

Positions are offset and slope, vertical then horizontal, from the position wanted, in the record's frame. [mm, mrad]
"""

from __future__ import annotations

from dataclasses import dataclass

from inspections.demo.readings import Four


@dataclass(frozen=True)
class Work:
    """One coupling in an outing. Without `left` nothing was moved, and as-found is as-left."""

    coupling: str
    kind: str
    found: Four | None = None
    rounds: tuple[Four, ...] = ()
    left: Four | None = None
    dbse_off_mm: float = 0.1
    element: str = ""  # "new", or why the old one came off
    went_to: str = ""
    cured_days: int = 150
    torque: str = ""  # "set" or "read"
    wrench: str = ""
    reason: str = ""
    # What is seen of wear: the grade of what is looked for first on its family, or grades by code.
    worn: str | dict[str, str] = ""
    turned_out: str = ""  # positions of the first joint found turned out
    lot: str = ""  # of the stores, by part and batch
    code: str = ""  # why the old element came off, by the site's reasons; `element` says it in words
    went: str = ""


@dataclass(frozen=True)
class Outing:
    """One work order at one train."""

    days_ago: int
    train: str
    by: str
    title: str
    works: tuple[Work, ...]


def _installed(days_ago: int, train: str, by: str, *works: Work) -> Outing:
    return Outing(days_ago, train, by, "Install the coupling", works)


def _first_run(days_ago: int, train: str, by: str, *works: Work) -> Outing:
    return Outing(days_ago, train, by, "First running: alignment and fasteners again", works)


def _new(coupling: str, left: Four, *rounds: Four, element: str = "new", wrench: str = "", cured: int = 150) -> Work:
    return Work(
        coupling, "installation", rounds=rounds, left=left, element=element, torque="set", wrench=wrench,
        cured_days=cured,
    )  # fmt: skip


def _again(coupling: str, found: Four, torque: str = "read") -> Work:
    return Work(coupling, "periodic", found=found, torque=torque, dbse_off_mm=0.15)


STORIES: dict[str, tuple[Outing, ...]] = {
    "Greyfen Works": (
        _installed(505, "BF-22", "jon", _new("BF-22", (-0.010, 0.013, 0.04, 0.02), (0.22, -0.17, 0.6, -0.3))),
        _first_run(475, "BF-22", "jon", _again("BF-22", (-0.021, 0.020, 0.06, 0.03))),
        # Left out of tolerance with a reason: its flag stays open.
        Outing(
            100, "BF-22", "mia", "Yearly alignment",
            (
                Work(
                    "BF-22", "periodic", found=(-0.150, 0.120, -0.30, 0.20),
                    rounds=((-0.090, 0.110, -0.20, 0.18),), left=(-0.078, 0.098, -0.15, 0.16), torque="read",
                    reason="The suction pipe pulls the pump aside as soon as its flange is made up. Left so until the "
                    "pipe support is mended in the next stop.",
                ),
            ),
        ),
        # Nobody came back within the year: overdue.
        _installed(480, "CW-11", "jon", _new("CW-11", (0.02, 0.03, 0.05, -0.04), (0.35, -0.28, 0.8, -0.5))),
        _first_run(450, "CW-11", "jon", _again("CW-11", (0.03, 0.04, 0.06, -0.05))),
        # Its first insert had lain in the store for longer than its shelf life.
        _installed(430, "SL-51", "mia", _new("SL-51", (0.03, -0.03, 0.1, 0.1), cured=2000)),
        _first_run(400, "SL-51", "mia", _again("SL-51", (0.03, -0.04, 0.1, 0.1), torque="set")),
        Outing(
            210, "SL-51", "jon", "Change the insert",
            (
                Work(
                    "SL-51", "element", left=(0.02, -0.03, 0.1, 0.05), cured_days=300,
                    element="teeth worn through on the driver side, dust below the guard", went_to="reliability shelf",
                    torque="set", wrench="W-32",
                ),
            ),
        ),
        _installed(396, "VP-61", "jon", _new("VP-61", (0.01, 0.02, 0.05, 0.04), (0.28, 0.12, 0.5, -0.2))),
        _first_run(366, "VP-61", "jon", _again("VP-61", (0.02, 0.03, 0.06, 0.05))),
        # Due within four weeks.
        _installed(377, "CW-12", "mia", _new("CW-12", (0.03, -0.02, 0.04, 0.05), (0.19, 0.24, -0.3, 0.4))),
        _first_run(347, "CW-12", "mia", _again("CW-12", (0.03, -0.03, 0.05, 0.05))),
        _installed(300, "FN-41", "mia", _new("FN-41", (0.02, -0.03, 0.10, -0.08), (0.16, -0.21, 0.4, 0.3))),
        _first_run(270, "FN-41", "mia", _again("FN-41", (0.03, -0.03, 0.12, -0.08))),
        # As near to its limit as the dials can tell.
        Outing(
            45, "FN-41", "jon", "Vibration at running speed: look at the alignment",
            (
                Work(
                    "FN-41", "alignment", found=(0.125, -0.100, 0.30, -0.20),
                    rounds=((0.11, -0.06, 0.20, -0.12),), left=(0.082, -0.042, 0.12, -0.08),
                ),
            ),
        ),
        # Still in its first running.
        _installed(
            12, "AG-31", "mia",
            _new("AG-31-1", (0.012, -0.018, 0.08, 0.05), (0.12, 0.15, 0.6, -0.4)),
            _new("AG-31-2", (0.03, 0.02, 0.15, 0.10), element=""),
        ),
    ),
    "Saltholm Mill": (
        _installed(340, "ST-07", "jon", _new("ST-07", (0.03, -0.02, 0.08, 0.05), (0.25, 0.20, -0.5, 0.4), element="")),
        _first_run(310, "ST-07", "jon", _again("ST-07", (0.04, -0.03, 0.09, 0.06))),
        _installed(260, "WW-02", "jon", _new("WW-02", (0.008, 0.006, 0.03, -0.02), (0.10, -0.12, 0.3, 0.2))),
        _first_run(230, "WW-02", "jon", _again("WW-02", (0.010, 0.008, 0.04, -0.02), torque="set")),
    ),
}  # fmt: skip

# Going on right now, left for the mechanic to continue: measured and loosened, a first round half written.
OPEN_DRAFT = Outing(
    0, "VP-61", "mia", "Yearly alignment",
    (Work("VP-61", "periodic", found=(-0.085, 0.074, -0.25, 0.18), rounds=((-0.045, 0.040, -0.12, 0.09),)),),
)  # fmt: skip
