"""The comparison of the invented clinic: a display beside the pressure that the simulator knows to be true."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from django.utils import timezone

from quietlimb.agreement.pair_rows import PairRow, PairRows, Pressures
from quietlimb.agreement.plan import Analysis, Plan
from quietlimb.clinic.comparisons.models import Comparison
from quietlimb.clinic.comparisons.reckoning import Chosen
from quietlimb.clinic.comparisons.services import Dropped, comparison_keep
from quietlimb.clinic.people.models import Person
from quietlimb.exchange.pairs_csv import pairs_text
from quietlimb.exchange.plan_json import plan_text
from quietlimb.simulator.level_course import DIASTOLIC_SHARE
from quietlimb.simulator.series import Kind, SimulatedSeries, simulate_series

NAME: Final = "Grey box against a simulated artery (invented)"
TESTED, REFERENCE = "grey box, simulated", "true pressure of the simulator"
CATS, READINGS, SEED = 10, 4, 7_000
# Their pressures move while they are measured, so that trends are there to be seen.
KINDS: Final[tuple[Kind, ...]] = ("fast-fall", "slow-fall", "rising")
NOISE_SD_MMHG = 7.0
PLANNED_DAYS_AGO, MEASURED_DAYS_AGO, KEPT_DAYS_AGO = 75, 50, 45


def comparison_tell(by: Person, now: datetime) -> Comparison:
    """Keep it with its plan, as the researcher would have done who had dropped the two files."""
    day = timezone.localdate(now)
    rows = PairRows(
        rows=tuple(row for cat in range(1, CATS + 1) for row in _rows(cat)),
        truth="changing",
        tested_name=TESTED,
        reference_name=REFERENCE,
        reference_is="intra-arterial",
        blinded=True,
        invented=True,
        taken_from=(day - timedelta(days=MEASURED_DAYS_AGO)).isoformat(),
    )
    plan = Plan(
        title="An invented comparison",
        question="Does the grey box tell the systolic pressure of simulated cats?",
        tested=TESTED,
        reference=REFERENCE,
        primary="systolic",
        animals=CATS,
        readings=READINGS,
        made_on=(day - timedelta(days=PLANNED_DAYS_AGO)).isoformat(),
        reasons="as many as the page of a comparison needs to show",
        analysis=Analysis(truth="changing", reference_is="intra-arterial"),
    )
    dropped = Dropped(
        key=uuid.uuid4(),
        name=NAME,
        file_name="invented-pairs.csv",
        content=pairs_text(rows).encode(),
        plan_name="invented-plan.json",
        plan=plan_text(plan).encode(),
        chosen=Chosen(),
    )
    return comparison_keep(by, dropped=dropped, at=now - timedelta(days=KEPT_DAYS_AGO))


def _rows(cat: int) -> Iterator[PairRow]:
    made = simulate_series(
        SEED + cat, species="cat", kind=KINDS[cat % len(KINDS)], readings=READINGS, noise_sd_mmhg=NOISE_SD_MMHG
    )
    shown = zip(made.systolic.tolist(), made.mean.tolist(), made.diastolic.tolist(), strict=True)
    for k, (systolic, mean, diastolic) in enumerate(shown):
        yield PairRow(
            animal=f"invented cat {cat}",
            occasion=str(k + 1),
            species="cat",
            site="tail",
            condition="awake",
            first="together",
            tested=Pressures(systolic=systolic, mean=mean, diastolic=diastolic),
            reference=_true(made, k),
        )


def _true(made: SimulatedSeries, k: int) -> Pressures:
    """The level when reading k was taken, from that at the last one and the course between them."""
    excess = made.course.excess(made.minute)
    above = float(excess[k] - excess[-1])
    at_end = made.truth
    systolic, diastolic = at_end.systolic + above, at_end.diastolic + DIASTOLIC_SHARE * above
    share = (at_end.mean - at_end.diastolic) / (at_end.systolic - at_end.diastolic)
    mean = diastolic + share * (systolic - diastolic)
    return Pressures(systolic=round(systolic, 1), mean=round(mean, 1), diastolic=round(diastolic, 1))
