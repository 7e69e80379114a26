"""What was found, done and left, and what follows from it."""

from inspections.models.calendars import CalendarAddress
from inspections.models.checks import Check, CheckKind, Policy
from inspections.models.closing import Breakdown, Cleaning, GuardState, HoldDown, Rotation, StatedValues
from inspections.models.digests import DigestWish
from inspections.models.drift import DriftState, GroupFit, JumpCause, Leg
from inspections.models.findings import ElementFact, JointLook, Placement, SetScrew, Torque
from inspections.models.flags import Flag
from inspections.models.lists import SavedList
from inspections.models.lives import LifeFit
from inspections.models.machine import PipeStrain, RunOut, ShimPack, SoftFoot
from inspections.models.mounting import Mounting
from inspections.models.orders import CrewMember, WorkOrder
from inspections.models.other_work import OtherWork
from inspections.models.passing import Conditions, RunningLook, RunUp
from inspections.models.photos import Photo
from inspections.models.readings import Reading, ReadingSet, Survey, SurveyResult
from inspections.models.records import Maintenance, SignedRecord
from inspections.models.standing import StandingMonth
from inspections.models.visits import Entry, Visit
from inspections.models.wear import Hardness, Lubrication, Wear, WearNote
from inspections.models.witnesses import HandOver, Witness

__all__ = [
    "Breakdown", "CalendarAddress", "Check", "CheckKind", "Cleaning", "Conditions", "CrewMember", "DigestWish",
    "DriftState", "ElementFact", "Entry", "Flag", "GroupFit", "GuardState", "HandOver", "Hardness", "HoldDown",
    "JointLook", "JumpCause", "Leg", "LifeFit", "Lubrication", "Maintenance", "Mounting", "OtherWork", "Photo",
    "PipeStrain", "Placement", "Policy", "Reading", "ReadingSet", "Rotation", "RunOut", "RunUp", "RunningLook",
    "SavedList", "SetScrew", "ShimPack", "SignedRecord", "SoftFoot", "StandingMonth", "StatedValues", "Survey",
    "SurveyResult", "Torque", "Visit", "Wear", "WearNote", "Witness", "WorkOrder",
]  # fmt: skip
