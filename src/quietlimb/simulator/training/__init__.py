"""The training animal: a hidden truth, and a consequence for everything that whoever measures chooses.

Nothing here can stand for a patient: whatever it makes says in its circumstances that it is simulated.
"""

from quietlimb.simulator.training.animal import Inflation, TrainingAnimal
from quietlimb.simulator.training.case import Case, Fault, Pressures, Story, Temper
from quietlimb.simulator.training.case_mapping import as_mapping, case_from
from quietlimb.simulator.training.cases import CASES
from quietlimb.simulator.training.choices import CHOICE_NAMES, Choices
from quietlimb.simulator.training.display import Displayed, numbers_of

__all__ = [
    "CASES",
    "CHOICE_NAMES",
    "Case",
    "Choices",
    "Displayed",
    "Fault",
    "Inflation",
    "Pressures",
    "Story",
    "Temper",
    "TrainingAnimal",
    "as_mapping",
    "case_from",
    "numbers_of",
]
