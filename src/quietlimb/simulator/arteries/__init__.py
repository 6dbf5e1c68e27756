"""Simulated arteries, one file a family. None of them is a family that the engine's artery fit uses."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.simulator.arteries.arctangent import Arctangent
from quietlimb.simulator.arteries.artery import Artery
from quietlimb.simulator.arteries.double_exponential import DoubleExponential
from quietlimb.simulator.arteries.log_sigmoid import LogSigmoid
from quietlimb.simulator.arteries.logistic import Logistic

FAMILIES: Mapping[str, type[Artery]] = {
    artery.family: artery for artery in (DoubleExponential, Arctangent, LogSigmoid, Logistic)
}
