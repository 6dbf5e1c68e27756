"""What can go wrong in the engine."""

from __future__ import annotations

import copy
import pickle

import pytest

from quietlimb.engine.errors import CircumstancesError, ParameterError, QuietlimbError, RecordingError, SeriesError


@pytest.mark.parametrize("kind", [RecordingError, SeriesError, CircumstancesError, ParameterError])
def test_an_error_says_what_and_what_to_do(kind: type[QuietlimbError]):
    """Every error of the engine is caught broadly or narrowly, and its one line holds finding and remedy.

    Oracle: by construction.
    """
    with pytest.raises(QuietlimbError) as caught:
        raise kind("some-code", "this was found", "do that")
    assert type(caught.value) is kind
    assert (caught.value.code, caught.value.says, caught.value.remedy) == ("some-code", "this was found", "do that")
    assert str(caught.value) == "this was found; do that"


@pytest.mark.parametrize("kind", [QuietlimbError, RecordingError, SeriesError, CircumstancesError, ParameterError])
def test_an_error_survives_pickling(kind: type[QuietlimbError]):
    """An error raised in another process, or copied, arrives whole.

    Oracle: by construction.
    """
    error = kind("some-code", "this was found", "do that")
    for found in (pickle.loads(pickle.dumps(error)), copy.copy(error)):
        assert type(found) is kind
        assert (found.code, found.says, found.remedy) == ("some-code", "this was found", "do that")
        assert str(found) == "this was found; do that"
