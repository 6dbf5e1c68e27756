"""What a learner's choices cost: the training animal measured again with one choice mended, read by the engine."""

from quietlimb.teaching.attempts import Attempt
from quietlimb.teaching.debriefing import Cost, Debrief, debrief
from quietlimb.teaching.marks import GRADES, Grade
from quietlimb.teaching.practice import RULES, Departure, Rule, departures, mended
from quietlimb.teaching.to_the_owner import OwnerTold, Saying, asked_by

__all__ = [
    "GRADES",
    "RULES",
    "Attempt",
    "Cost",
    "Debrief",
    "Departure",
    "Grade",
    "OwnerTold",
    "Rule",
    "Saying",
    "asked_by",
    "debrief",
    "departures",
    "mended",
]
