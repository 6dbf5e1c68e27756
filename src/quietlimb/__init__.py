"""Quietlimb: from cuff-pressure recordings of a cat or dog to one charted pressure with its uncertainty and meaning.

    import quietlimb as ql

    reading = ql.read(ql.load_recording("recording.csv"))

The names below are looked up when they are first used, so that importing the package costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

from quietlimb.engine.version import ENGINE_VERSION

if TYPE_CHECKING:
    from quietlimb.agreement.pairs import Pairs
    from quietlimb.agreement.summary import compare
    from quietlimb.engine.circumstances import Circumstances
    from quietlimb.engine.errors import QuietlimbError
    from quietlimb.engine.findings import Finding
    from quietlimb.engine.follow_up.follow import follow
    from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent
    from quietlimb.engine.interpretation.background import Background, EarlierSession
    from quietlimb.engine.interpretation.interpret import interpret, interpret_systolic
    from quietlimb.engine.interpretation.interpretation import Interpretation
    from quietlimb.engine.interpretation.screen import screen
    from quietlimb.engine.reading import Reading, read
    from quietlimb.engine.recording import Recording, recording
    from quietlimb.engine.session.charted import ChartedPressure
    from quietlimb.engine.session.charting import chart
    from quietlimb.engine.session.enough import enough
    from quietlimb.engine.session.place import PlacePair, place_effect
    from quietlimb.engine.session.series import Series, series_from_readings, series_from_values
    from quietlimb.engine.session.two_values import two_values
    from quietlimb.engine.values import Estimate
    from quietlimb.exchange.history_csv import read_history as load_history
    from quietlimb.exchange.pairs_csv import read_pairs as load_pairs
    from quietlimb.exchange.readings_csv import read_readings as load_readings
    from quietlimb.exchange.recording_csv import write_recording as save_recording
    from quietlimb.exchange.recording_file import read_recording as load_recording
    from quietlimb.exchange.session_folder import read_session_folder as load_session
    from quietlimb.figures.export import save as save_figure
    from quietlimb.figures.recording import recording_figure
    from quietlimb.figures.session import session_figure
    from quietlimb.instruments.cuffs import cuff_choices
    from quietlimb.reports.note import chart_note
    from quietlimb.reports.page import report_pdf
    from quietlimb.simulator.recordings import simulate_recording
    from quietlimb.simulator.sessions import simulate_session

__version__ = ENGINE_VERSION

# public name -> (module, name there)
_HOMES = {
    "Background": ("engine.interpretation.background", "Background"),
    "ChartedPressure": ("engine.session.charted", "ChartedPressure"),
    "Circumstances": ("engine.circumstances", "Circumstances"),
    "EarlierSession": ("engine.interpretation.background", "EarlierSession"),
    "Estimate": ("engine.values", "Estimate"),
    "Finding": ("engine.findings", "Finding"),
    "History": ("engine.follow_up.history", "History"),
    "Interpretation": ("engine.interpretation.interpretation", "Interpretation"),
    "Pairs": ("agreement.pairs", "Pairs"),
    "PastSession": ("engine.follow_up.history", "PastSession"),
    "PlacePair": ("engine.session.place", "PlacePair"),
    "QuietlimbError": ("engine.errors", "QuietlimbError"),
    "Reading": ("engine.reading", "Reading"),
    "Recording": ("engine.recording", "Recording"),
    "Series": ("engine.session.series", "Series"),
    "TreatmentEvent": ("engine.follow_up.history", "TreatmentEvent"),
    "chart": ("engine.session.charting", "chart"),
    "chart_note": ("reports.note", "chart_note"),
    "compare": ("agreement.summary", "compare"),
    "cuff_choices": ("instruments.cuffs", "cuff_choices"),
    "enough": ("engine.session.enough", "enough"),
    "follow": ("engine.follow_up.follow", "follow"),
    "interpret": ("engine.interpretation.interpret", "interpret"),
    "interpret_systolic": ("engine.interpretation.interpret", "interpret_systolic"),
    "load_history": ("exchange.history_csv", "read_history"),
    "load_pairs": ("exchange.pairs_csv", "read_pairs"),
    "load_readings": ("exchange.readings_csv", "read_readings"),
    "load_recording": ("exchange.recording_file", "read_recording"),
    "load_session": ("exchange.session_folder", "read_session_folder"),
    "place_effect": ("engine.session.place", "place_effect"),
    "read": ("engine.reading", "read"),
    "recording": ("engine.recording", "recording"),
    "recording_figure": ("figures.recording", "recording_figure"),
    "report_pdf": ("reports.page", "report_pdf"),
    "save_figure": ("figures.export", "save"),
    "save_recording": ("exchange.recording_csv", "write_recording"),
    "screen": ("engine.interpretation.screen", "screen"),
    "series_from_readings": ("engine.session.series", "series_from_readings"),
    "series_from_values": ("engine.session.series", "series_from_values"),
    "session_figure": ("figures.session", "session_figure"),
    "simulate_recording": ("simulator.recordings", "simulate_recording"),
    "simulate_session": ("simulator.sessions", "simulate_session"),
    "two_values": ("engine.session.two_values", "two_values"),
}

__all__ = [
    "Background",
    "ChartedPressure",
    "Circumstances",
    "EarlierSession",
    "Estimate",
    "Finding",
    "History",
    "Interpretation",
    "Pairs",
    "PastSession",
    "PlacePair",
    "QuietlimbError",
    "Reading",
    "Recording",
    "Series",
    "TreatmentEvent",
    "__version__",
    "chart",
    "chart_note",
    "compare",
    "cuff_choices",
    "enough",
    "follow",
    "interpret",
    "interpret_systolic",
    "load_history",
    "load_pairs",
    "load_readings",
    "load_recording",
    "load_session",
    "place_effect",
    "read",
    "recording",
    "recording_figure",
    "report_pdf",
    "save_figure",
    "save_recording",
    "screen",
    "series_from_readings",
    "series_from_values",
    "session_figure",
    "simulate_recording",
    "simulate_session",
    "two_values",
]


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    module, there = _HOMES[name]
    value: object = getattr(import_module(f"{__name__}.{module}"), there)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
