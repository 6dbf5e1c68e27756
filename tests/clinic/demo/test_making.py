"""The invented clinic: every kind of story is in it, and the journal holds."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta

import pytest

from quietlimb.clinic.animals.models import Animal, Event
from quietlimb.clinic.bench.chart import charts_of
from quietlimb.clinic.bench.doubts import register
from quietlimb.clinic.comparisons.models import Comparison
from quietlimb.clinic.comparisons.reckoning import Chosen, made_of
from quietlimb.clinic.configuration import ConfigurationError
from quietlimb.clinic.demo.making import Made, invented_clinic_make
from quietlimb.clinic.demo.stories import STORIES
from quietlimb.clinic.equipment.models import Cuff, Instrument
from quietlimb.clinic.people.models import Membership, Person, Practice, Role
from quietlimb.clinic.sessions.models import Reading, Series, Session, SignedValue
from quietlimb.clinic.verifying import verify

NOW = datetime(2031, 3, 4, 11, 0, tzinfo=UTC)


@pytest.fixture
def made(db: None) -> Made:
    """The invented clinic."""
    return invented_clinic_make(NOW)


def test_every_kind_of_story_is_told_and_all_is_as_written(made: Made) -> None:
    """A dozen animals over two years, the promised kinds among them, nothing in the future; the journal's chain holds.

    Oracle: by construction, the list of what the demo promises.
    """
    assert Animal.objects.count() == len(STORIES) == 12
    assert Practice.objects.get().invented
    assert {person for person, _, _ in made.people} == set(Person.objects.values_list("username", flat=True))
    assert set(Membership.objects.values_list("role", flat=True)) == set(Role.values)
    first = Session.objects.order_by("started_at").first()
    assert first is not None
    assert 600 < (NOW - first.started_at).days <= 731
    assert not Reading.objects.filter(taken_at__gt=NOW).exists()
    assert set(Session.objects.values_list("ending", flat=True)) == {"", "closed", "had enough", "none obtained"}
    assert Event.objects.filter(kind="started").count() >= 3
    assert Animal.objects.filter(breed="Greyhound").exists()
    assert Reading.objects.exclude(recording=None).count() >= 10
    assert Reading.objects.filter(spoiled="moved").exists()
    sites = Series.objects.filter(session__animal__name="Teasel").values_list("site", flat=True)
    assert set(sites) == {"forelimb", "tail"}
    assert verify().trouble is None


def test_what_is_charted_is_near_what_the_story_tells(made: Made) -> None:
    """Signed values lie about the level of their visit: within 12 mmHg each, and 3 on average.

    Oracle: by construction, the story's levels; readings scatter by 4.5 mmHg, so six of them by 2, and a course adds.
    """
    apart = []
    for story in STORIES:
        for visit in story.visits:
            day = (NOW - timedelta(days=visit.days_ago)).date()
            found = SignedValue.objects.filter(session__animal__name=story.name, session__started_at__date=day)
            signed = found.first()
            if signed is not None and signed.charted is not None:
                apart.append(signed.charted - visit.systolic - visit.reads_off)
    assert len(apart) >= 35
    assert max(map(abs, apart)) < 12.0
    assert abs(sum(apart) / len(apart)) < 3.0


def test_the_bench_has_something_of_everything(made: Made) -> None:
    """Good, due soon, overdue and failed; one session waits for a decision, and the gauge's drift has a day.

    Oracle: by construction, the list of what the demo promises.
    """
    practice = Practice.objects.get()
    things = [*Instrument.objects.all(), *Cuff.objects.all()]
    lines = {line.thing.name: line for line in register(practice, things, NOW.date())}
    states = {name: line.standing.state for name, line in lines.items()}
    assert states == {
        "brass gauge": "due soon",
        "the standard": "good",
        "grey box": "good",
        "crystal": "not scheduled",
        **{name: "good" for name in ("cuff 2.5", "cuff 3", "cuff 5")},
        "cuff 4": "failed",
        "cuff 6": "overdue",
    }
    assert lines["cuff 4"].thing.out_of_service
    assert lines["cuff 4"].waits >= 1
    gauge = Instrument.objects.get(name="brass gauge")
    chart = next(each for each in charts_of(list(gauge.checks.all()), "mmHg", NOW.date()) if each.kind == "static")
    assert any("Have it serviced before" in sentence for sentence in chart.sentences)


def test_one_comparison_is_kept_and_shown_as_invented(made: Made) -> None:
    """Ten simulated cats with four pairs each, run as planned, with trends, nothing left out; marked invented.

    The truth is known, so the display's noise of SD 7 mmHg about it is what the limits of agreement find.

    Oracle: by construction. Tolerance: of 40 differences of SD 7 mmHg the SD is known to 0.8 and the mean to 1.1.
    """
    row = Comparison.objects.get()
    kept = made_of(bytes(row.content), bytes(row.plan), Chosen.of(row.chosen))
    assert row.is_whole
    assert (row.results["invented"], row.made_by.username) == (True, "curlew")
    assert "invented" in row.name
    assert (kept.departs, kept.left_out) == ((), ())
    assert row.results == json.loads(json.dumps(kept.told))
    systolic = kept.comparisons[0]
    assert (len(systolic.pairs.animals), systolic.pairs.n) == (10, 40)
    assert abs(systolic.bias.bias.estimate) < 3.3
    assert 4.6 < systolic.bias.sd.estimate < 9.4
    assert systolic.trending.concordance is not None
    assert [each["quantity"] for each in row.results["compared"]] == ["systolic", "mean", "diastolic"]


def test_a_database_with_a_practice_is_left_alone(made: Made) -> None:
    """Nothing is added. Oracle: by construction."""
    before = Animal.objects.count()
    with pytest.raises(ConfigurationError, match="a practice in this database"):
        invented_clinic_make(NOW)
    assert Animal.objects.count() == before
