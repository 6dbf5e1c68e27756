"""Simulated and invented data must never be taken for a patient's: one test and one wording for all."""

from __future__ import annotations

from quietlimb.engine.circumstances import Circumstances

INVENTED_WORDS = "INVENTED - not a patient"


def is_invented(circumstances: Circumstances) -> bool:
    """True when the instrument is the simulator, or the animal's name says that it is simulated or invented."""
    return circumstances.is_invented


def invented_words(circumstances: Circumstances) -> str | None:
    """The words that such a picture or page must carry; None for a patient."""
    return INVENTED_WORDS if is_invented(circumstances) else None
