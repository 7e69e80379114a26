"""What was found, done and left, and what follows from it."""

from inspections.models.checks import Check, CheckKind, Flag, Policy
from inspections.models.findings import ElementFact, Placement, SetScrew, Torque
from inspections.models.orders import CrewMember, WorkOrder
from inspections.models.readings import Reading, ReadingSet, Survey, SurveyResult
from inspections.models.records import Maintenance, SignedRecord
from inspections.models.visits import Entry, Visit

__all__ = [
    "Check", "CheckKind", "CrewMember", "ElementFact", "Entry", "Flag", "Maintenance", "Placement", "Policy", "Reading",
    "ReadingSet", "SetScrew", "SignedRecord", "Survey", "SurveyResult", "Torque", "Visit", "WorkOrder",
]  # fmt: skip
