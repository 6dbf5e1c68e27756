"""Recordings, sessions and series whose truth is known because we chose it. Nothing here can stand for a patient."""

from quietlimb.simulator.arteries import DRAWN_FAMILIES, FAMILIES, FOREIGN_FAMILIES
from quietlimb.simulator.recordings import SimulatedRecording, Truth, simulate_recording
from quietlimb.simulator.scenarios import SCENARIOS
from quietlimb.simulator.series import SimulatedSeries, simulate_series
from quietlimb.simulator.sessions import LevelTruth, SimulatedSession, simulate_session

__all__ = [
    "DRAWN_FAMILIES",
    "FAMILIES",
    "FOREIGN_FAMILIES",
    "SCENARIOS",
    "LevelTruth",
    "SimulatedRecording",
    "SimulatedSeries",
    "SimulatedSession",
    "Truth",
    "simulate_recording",
    "simulate_series",
    "simulate_session",
]
