"""People and what opens a door to them, by what they are: who belongs, how one comes in, what was done."""

from studio.models.doors import CodeTry, Device, Invitation, Pin, RecoveryCode, SecondStep, Session
from studio.models.log import LogRow
from studio.models.people import Consent, Horn, Membership, Studio, User, known_time_zone

__all__ = [
    "CodeTry",
    "Consent",
    "Device",
    "Horn",
    "Invitation",
    "LogRow",
    "Membership",
    "Pin",
    "RecoveryCode",
    "SecondStep",
    "Session",
    "Studio",
    "User",
    "known_time_zone",
]
