"""How a thing stands by its checks: good until, due, overdue, failed; and what a failed one holds in doubt."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from clinic.bench.examples import checked, day, measured, not_held, reference
from clinic.examples import Clinic
from quietlimb.clinic.bench.doubts import in_doubt, line_of_one, told_of_session, waiting
from quietlimb.clinic.bench.standing import checks_of, failures_of, schedule_of, standing_of
from quietlimb.clinic.equipment.models import Check, CheckSchedule, Instrument
from quietlimb.clinic.sessions.models import Session


def words(clinic: Clinic, on: date, thing: Instrument | None = None) -> str:
    """How a thing stands on a day."""
    thing = thing or clinic.instrument
    return standing_of(thing, checks_of(thing), schedule_of(clinic.practice), on).words


def test_a_state_is_told_in_words(clinic: Clinic) -> None:
    """Of an electronic instrument that goes to the service: a year, a warning of 14 days, the day itself is in time.

    Oracle: common practice, once a year and a warning 14 days before.
    """
    not_held(clinic)
    assert words(clinic, date(2024, 5, 1)) == "no check yet: service certificate"
    checked(clinic, day(5, 4), good=True)
    assert words(clinic, date(2024, 5, 3)) == "no check yet: service certificate"
    assert words(clinic, date(2024, 5, 4)) == "good until 4 May 2025"
    assert words(clinic, date(2025, 4, 19)) == "good until 4 May 2025"
    assert words(clinic, date(2025, 4, 20)) == "due in 14 days: service certificate"
    assert words(clinic, date(2025, 5, 3)) == "due in 1 day: service certificate"
    assert words(clinic, date(2025, 5, 4)) == "due today: service certificate"
    assert words(clinic, date(2025, 5, 5)) == "overdue since 4 May 2025: service certificate"
    checked(clinic, day(6, 1), good=False)
    assert words(clinic, date(2024, 6, 1)) == "failed 1 June 2024 (service certificate)"


def test_the_certificate_s_own_end_goes_before_the_interval(clinic: Clinic) -> None:
    """Of a reference manometer that its laboratory wants back after half a year.

    Oracle: by construction.
    """
    standard = reference(clinic)
    checked(clinic, day(1, 10), good=True, thing=standard, valid_until=date(2024, 7, 10))
    assert words(clinic, date(2024, 6, 25), standard) == "good until 10 July 2024"
    assert words(clinic, date(2024, 6, 26), standard) == "due in 14 days: service certificate"
    assert words(clinic, date(2024, 7, 11), standard) == "overdue since 10 July 2024: service certificate"


def test_the_lead_sets_how_often(clinic: Clinic) -> None:
    """Every three months in place of the trade's twelve.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(1, 31), good=True)
    assert words(clinic, date(2024, 2, 1)) == "good until 31 January 2025"
    CheckSchedule.objects.create(
        practice=clinic.practice, aneroid_months=6, electronic_months=3, cuff_months=1, reference_months=12
    )
    assert words(clinic, date(2024, 2, 1)) == "good until 30 April 2024"


def test_a_certificate_counts_only_where_the_instrument_cannot_be_held(clinic: Clinic) -> None:
    """A good one moves no due date of an instrument that the practice can check itself, nor answers its failed check.

    Oracle: by construction, as the register promises.
    """
    checked(clinic, day(1, 10), good=True)
    assert words(clinic, date(2024, 2, 1)) == "no check yet: static accuracy, leak"
    for kind in ("static", "leak"):
        checked(clinic, day(2, 1), good=True, kind=kind)
    assert words(clinic, date(2024, 2, 1)) == "good until 1 February 2025"
    checked(clinic, day(3, 1), good=False, kind="static")
    checked(clinic, day(3, 8), good=True)
    assert words(clinic, date(2024, 3, 9)).startswith("failed 1 March 2024")
    checked(clinic, day(3, 10), good=True, kind="static")
    assert words(clinic, date(2024, 3, 10)) == "good until 1 February 2025"


def test_a_cuff_is_due_by_whichever_check_is_first(clinic: Clinic) -> None:
    """Leak and look, each month; the earlier end counts.

    Oracle: common practice, monthly.
    """
    checked(clinic, day(1, 31), good=True, kind="look", thing=clinic.cuff)
    checked(clinic, day(2, 10), good=True, kind="leak", thing=clinic.cuff)
    found = standing_of(clinic.cuff, checks_of(clinic.cuff), schedule_of(clinic.practice), date(2024, 2, 12))
    assert found.words == "good until 29 February 2024"


def test_a_corrected_check_counts_no_longer(clinic: Clinic) -> None:
    """A failure that was a slip of the pen: with its correction nothing has failed, and no session is in doubt.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(1, 2), good=True)
    slip = checked(clinic, day(3, 1), good=False)
    assert len(failures_of(clinic.instrument, checks_of(clinic.instrument))) == 1
    checked(clinic, day(3, 1), good=True, corrects=slip, why="two columns taken for each other")
    assert failures_of(clinic.instrument, checks_of(clinic.instrument)) == []
    assert words(clinic, date(2024, 3, 2)) == "good until 1 March 2025"


def test_in_doubt_is_what_was_measured_since_the_last_good_check(clinic: Clinic) -> None:
    """Not before it, not after the good check that answers; the clinic's own session of 4 January is after the first.

    Oracle: by construction.
    """
    not_held(clinic)
    measured(clinic, day(1, 2, 9))
    checked(clinic, day(1, 3), good=True)
    inside = [clinic.session, measured(clinic, day(2, 1)), measured(clinic, day(3, 1, 8)), measured(clinic, day(3, 2))]
    checked(clinic, day(3, 1), good=False)
    failure = failures_of(clinic.instrument, checks_of(clinic.instrument))[0]
    assert [each.session for each in in_doubt(clinic.instrument, failure).sessions] == inside
    line = line_of_one(clinic.instrument, clinic.practice, date(2024, 3, 3))
    assert line.words == (
        "failed 1 March 2024 (service certificate): 4 sessions since the last good check, 4 to decide"
    )
    checked(clinic, day(3, 5), good=True)
    measured(clinic, day(3, 6))
    failure = failures_of(clinic.instrument, checks_of(clinic.instrument))[0]
    assert [each.session for each in in_doubt(clinic.instrument, failure).sessions] == inside
    line = line_of_one(clinic.instrument, clinic.practice, date(2024, 3, 6))
    assert line.words.startswith("good until 5 March 2025; failed 1 March 2024")
    assert line.asks


def test_a_good_check_dated_back_takes_no_session_off_the_list(clinic: Clinic) -> None:
    """Entered once the failure is known, for the day before it: the sessions stay in doubt. Entered in time it counts,
    and a correction of it with its reason still does.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(1, 3), good=True)
    inside = [clinic.session, measured(clinic, day(2, 1))]
    in_time = checked(clinic, day(2, 2), good=True)
    late = measured(clinic, day(2, 20))
    checked(clinic, day(3, 1), good=False)
    checked(clinic, day(2, 28), good=True)

    def doubted() -> list[Session]:
        failure = failures_of(clinic.instrument, checks_of(clinic.instrument))[0]
        return [each.session for each in in_doubt(clinic.instrument, failure).sessions]

    assert doubted() == [late]
    checked(clinic, day(2, 2), good=True, corrects=in_time, why="the issuer was misspelt")
    assert doubted() == [late]
    slip = Check.objects.get(corrects=in_time)
    checked(clinic, day(2, 2), good=False, corrects=slip, why="the wrong column")
    assert doubted() == [*inside, late]


def test_failing_twice_is_one_failure(clinic: Clinic) -> None:
    """Checked again without repair: the first failure stands, with its sessions, and each is decided once.

    Oracle: by construction.
    """
    not_held(clinic)
    first = checked(clinic, day(3, 1), good=False)
    checked(clinic, day(3, 2), good=False)
    found = failures_of(clinic.instrument, checks_of(clinic.instrument))
    assert [each.failed for each in found] == [first]
    assert found[0].last_good is None


def test_a_manometer_that_failed_holds_the_sessions_read_on_it_in_doubt(clinic: Clinic) -> None:
    """Those of the Doppler unit that is read on it, and no others.

    Oracle: by construction.
    """
    gauge = Instrument.objects.create(practice=clinic.practice, name="brass gauge", gauge="manometer")
    crystal = Instrument.objects.create(practice=clinic.practice, name="crystal", technique="doppler", read_on=gauge)
    by_ear = measured(clinic, day(2, 1), technique="doppler", instrument=crystal)
    checked(clinic, day(3, 1), good=False, kind="static", thing=gauge)
    failure = failures_of(gauge, checks_of(gauge))[0]
    assert [each.session for each in in_doubt(gauge, failure).sessions] == [by_ear]
    told = [each.words for each in told_of_session(by_ear)]
    assert any(line.startswith("brass gauge failed its check on 1 March 2024") for line in told)


def test_the_session_is_told_what_was_overdue_on_its_day(clinic: Clinic) -> None:
    """Overdue on the day itself, whatever came later; in time, nothing is said.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(1, 2), good=True)
    assert told_of_session(measured(clinic, day(12, 1))) == []
    late = measured(clinic, day(1, 2).replace(year=2025, month=2))
    checked(clinic, day(3, 1).replace(year=2025), good=True)
    assert [each.words for each in told_of_session(late)] == [
        "grey box was overdue since 2 January 2025: service certificate."
    ]


@pytest.mark.parametrize("who", ["nurse", "stranger"])
def test_today_has_what_asks_the_failed_first(clinic: Clinic, who: str) -> None:
    """The failed before the overdue; what was never checked is counted; a stranger sees nothing.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(3, 1), good=False)
    standard = reference(clinic)
    checked(clinic, day(1, 10).replace(year=2022), good=True, thing=standard)
    person = getattr(clinic, who)
    lines, unchecked = waiting(person, person.practice, date(2024, 3, 2))
    expected = (["grey box", "the standard"], 1) if who == "nurse" else ([], 0)
    assert ([line.thing.name for line in lines], unchecked) == expected


def test_what_failed_is_not_told_as_good(clinic: Clinic) -> None:
    """A good check, then a failed one, of the same: the line of that check tells the failure before the good day.

    Oracle: by construction.
    """
    not_held(clinic)
    checked(clinic, day(1, 2), good=True)
    failed = checked(clinic, day(3, 1), good=False)
    (required,) = line_of_one(clinic.instrument, clinic.practice, date(2024, 3, 2)).standing.required
    assert (required.kind, required.failed, required.often) == ("certificate", failed, "every 12 months")
    checked(clinic, day(3, 5), good=True)
    (required,) = line_of_one(clinic.instrument, clinic.practice, date(2024, 3, 6)).standing.required
    assert required.failed is None


def test_a_slow_exhaust_holds_no_session_in_doubt(clinic: Clinic) -> None:
    """The instrument goes out of service; a bleed valve that failed holds its sessions in doubt.

    Oracle: by construction; that an exhaust moves no pressure and a bleed may is common practice.
    """
    checked(clinic, day(3, 1), good=False, kind="exhaust")
    assert Instrument.objects.get(pk=clinic.instrument.pk).out_of_service
    line = line_of_one(clinic.instrument, clinic.practice, date(2024, 3, 2))
    assert line.words == "failed 1 March 2024 (rapid exhaust): it moves no pressure, so no session is in doubt"
    assert line.waits == 0
    assert all(each.failed is None for each in told_of_session(clinic.session))
    checked(clinic, day(3, 1), good=False, kind="bleed")
    assert line_of_one(clinic.instrument, clinic.practice, date(2024, 3, 2)).waits == 1


@pytest.mark.parametrize("how", ["corrected", "answered"])
def test_today_tells_what_could_come_back(clinic: Clinic, how: str) -> None:
    """Once its failure was corrected or answered it stands on Today for two weeks, until the lead has brought it back;
    what was taken out by hand does not.

    Oracle: by construction; 14 days are common practice.
    """
    thing = not_held(clinic)
    failed = checked(clinic, day(3, 1), good=False)
    now = timezone.now()
    told = {"corrects": failed, "why": "a slip"} if how == "corrected" else {}
    checked(clinic, now - timedelta(hours=1), good=True, **told)

    def asks(after: int) -> list[str]:
        lines, _unchecked = waiting(clinic.lead, clinic.practice, now.date() + timedelta(days=after))
        return [line.words for line in lines if line.thing.pk == thing.pk and "still out of service" in line.words]

    assert len(asks(0)) == 1
    assert asks(0)[0].endswith("still out of service: the practice lead brings it back")
    assert asks(16) == []
    Instrument.objects.update(out_of_service=False)
    assert asks(0) == []
    clinic.cuff.out_of_service = True
    clinic.cuff.save()
    checked(clinic, now - timedelta(hours=1), good=True, thing=clinic.cuff, kind="look")
    lines, _unchecked = waiting(clinic.lead, clinic.practice, now.date())
    assert clinic.cuff.pk not in [line.thing.pk for line in lines]
