"""The two sites of the invented plant."""

from inspections.demo.greyfen import GREYFEN
from inspections.demo.saltholm import SALTHOLM

WORKS = (GREYFEN, SALTHOLM)
