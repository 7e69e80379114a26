"""What the work adds to the register's pages. Imported for what they register."""

from inspections.pages.register import of_instruments, of_trains, policies  # noqa: F401
