"""Simulated arteries, one file a family. The engine's artery fit uses none of them but the exponential-linear one."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.simulator.arteries.arctangent import Arctangent
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.arteries.double_exponential import DoubleExponential
from quietlimb.simulator.arteries.exponential_linear import ExponentialLinear
from quietlimb.simulator.arteries.log_sigmoid import LogSigmoid
from quietlimb.simulator.arteries.logistic import Logistic
from quietlimb.simulator.arteries.skewed_arctangent import SkewedArctangent
from quietlimb.simulator.arteries.tube_law import TubeLaw

_DRAWN: tuple[type[Artery], ...] = (DoubleExponential, Arctangent, LogSigmoid, Logistic)
_FOREIGN: tuple[type[Artery], ...] = (*_DRAWN, SkewedArctangent, TubeLaw)
_ALL: tuple[type[Artery], ...] = (*_FOREIGN, ExponentialLinear)

FAMILIES: Mapping[str, type[Artery]] = {artery.family: artery for artery in _ALL}
# What is drawn when no family is named. It stays these four, so that a seed keeps meaning the same recording.
DRAWN_FAMILIES: tuple[str, ...] = tuple(artery.family for artery in _DRAWN)
# Families that the engine's fit does not contain: those on which accuracy may be scored.
FOREIGN_FAMILIES: tuple[str, ...] = tuple(artery.family for artery in _FOREIGN)
