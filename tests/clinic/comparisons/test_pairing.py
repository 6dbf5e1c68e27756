"""Pairs from sessions measured by both kinds of instrument."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from django.test import Client

from clinic.desk.examples import another
from clinic.examples import Clinic, reading
from quietlimb.clinic.comparisons.pairing import pairs_of_sessions
from quietlimb.clinic.comparisons.reckoning import ComparisonError
from quietlimb.clinic.equipment.models import Instrument, Technique
from quietlimb.clinic.journal.models import Entry
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.sessions.models import Series, Session
from quietlimb.exchange.pairs_csv import read_pairs

SignIn = Callable[[Person], Client]


def measured_by_both(clinic: Clinic) -> None:
    """The session of the clinic: 150, a spoiled 190 and 160 by the cuff, then 144 and 147 by Doppler; it has ended."""
    doppler = Series.objects.create(practice=clinic.practice, session=clinic.session, ordinal=2, technique="doppler")
    reading(clinic, 0, 150, diastolic=90)
    reading(clinic, 1, 190, spoiled="moved")
    reading(clinic, 2, 160, diastolic=100)
    reading(clinic, 5, 144, series=doppler)
    reading(clinic, 6, 147, series=doppler)
    Session.objects.filter(pk=clinic.session.pk).update(
        ending="closed", ended_at=clinic.started_at + timedelta(minutes=9), sedation="awake"
    )


def test_a_pair_is_the_means_of_what_counts(clinic: Clinic, signed_in: SignIn, tmp_path: Path) -> None:
    """155 against 145.5, and no diastolic reference; the file names nobody, can be read back, and the journal tells it.

    Oracle: by construction, (150 + 160) / 2 and (144 + 147) / 2; a cuff of 3.0 cm on 8.7 cm.
    """
    measured_by_both(clinic)
    answer = signed_in(clinic.researcher).post("/comparisons/pairs", {"technique": "oscillometric"})
    assert answer.status_code == 200
    (tmp_path / "pairs.csv").write_bytes(answer.content)
    found = read_pairs(tmp_path / "pairs.csv").rows
    (row,) = found.rows
    assert (row.tested.systolic, row.tested.diastolic, row.tested.mean) == (155.0, 95.0, None)
    assert (row.reference.systolic, row.reference.diastolic) == (145.5, None)
    assert (row.species, row.condition, row.first) == ("cat", "awake", "tested")
    assert (found.truth, found.reference_is) == ("single", "indirect")
    assert row.cuff_percent == pytest.approx(34.5)
    assert row.instrument
    names = (clinic.animal.name, clinic.instrument.name, clinic.cuff.name, "Invented")
    for name in (*names, str(clinic.instrument.pk), str(clinic.animal.pk), "2024-"):
        assert name not in answer.text
    entry = Entry.objects.get()
    assert (entry.what, entry.who) == ("de-identified pairs made", clinic.researcher)
    assert row.animal not in entry.after


def test_the_other_way_round_the_cuff_is_the_reference(clinic: Clinic) -> None:
    """Sides and who was first change places.

    Oracle: by construction.
    """
    measured_by_both(clinic)
    (row,) = pairs_of_sessions(clinic.practice, tested=Technique.DOPPLER).rows
    assert (row.tested.systolic, row.reference.systolic, row.first) == (145.5, 155.0, "reference")


def test_instrument_and_cuff_are_those_of_the_tested_series(clinic: Clinic) -> None:
    """Pairs of one instrument share its key, those of another have another, drawn anew with each file; a Doppler
    unit that the register does not know, and a cuff on a limb that nobody measured, are left out.

    Oracle: by construction.
    """
    measured_by_both(clinic)
    again = another(clinic, 7, (150,), ending="closed")
    doppler = again.session.series.create(practice=clinic.practice, ordinal=2, technique="doppler")
    reading(clinic, 0, 150, series=doppler, taken_at=again.started_at + timedelta(minutes=5))
    first, second = pairs_of_sessions(clinic.practice, tested=Technique.OSCILLOMETRIC).rows
    assert first.instrument == second.instrument
    assert first.instrument != first.animal
    assert (first.cuff_percent, second.cuff_percent) == (34.5, None)
    assert pairs_of_sessions(clinic.practice, tested=Technique.OSCILLOMETRIC).rows[0].instrument != first.instrument
    other = Instrument.objects.create(practice=clinic.practice, name="blue box", technique="oscillometric")
    Series.objects.filter(pk=again.series.pk).update(instrument=other)
    first, second = pairs_of_sessions(clinic.practice, tested=Technique.OSCILLOMETRIC).rows
    assert first.instrument != second.instrument
    for row in pairs_of_sessions(clinic.practice, tested=Technique.DOPPLER).rows:
        assert (row.instrument, row.cuff_percent) == (None, None)


@pytest.mark.parametrize("change", [{"ending": "", "ended_at": None}, {"imported_id": "x"}])
def test_open_and_imported_sessions_give_no_pair(change: dict[str, object], clinic: Clinic) -> None:
    """Then there is none at all, which is an error with its remedy; so it is for the practice beside.

    Oracle: by construction.
    """
    measured_by_both(clinic)
    with pytest.raises(ComparisonError):
        pairs_of_sessions(clinic.stranger.practice, tested=Technique.DOPPLER)
    Session.objects.filter(pk=clinic.session.pk).update(**change)
    with pytest.raises(ComparisonError) as raised:
        pairs_of_sessions(clinic.practice, tested=Technique.DOPPLER)
    assert raised.value.code == "no-pairs"
