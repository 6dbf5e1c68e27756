"""How well the underlying pressure, and what is said to have changed, meet courses whose truth is known.

    python validation/follow_up.py --courses 400 --seed 73731 > validation/follow_up.txt

The courses come from a model that is not the fit's: sessions scatter by Student's t with 5 degrees of freedom and a
spread that differs from animal to animal by a gamma law, one in 25 is spoiled and mostly high, the level swings with
the seasons and drifts along a straight line, and treatment acts by and by (time constant 4 days), with no effect in one
animal of eight. Treatment is begun as it is begun: after a session of 180 mmHg or two running of 160 mmHg, so on a high
day. Half the courses tell the standard deviation of each session, the others the number of readings only.

Everything is simulated: nothing here says how a real animal would fare. Seeds 1 to 9 and 51515 were used while tuning.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from quietlimb.engine.circumstances import Circumstances
from quietlimb.engine.follow_up.change import change_between, high_day
from quietlimb.engine.follow_up.comparability import compare_sessions
from quietlimb.engine.follow_up.course import UnderlyingCourse, fit_course
from quietlimb.engine.follow_up.follow import UNSETTLED_FROM
from quietlimb.engine.follow_up.history import History, PastSession, TreatmentEvent, usual_own_sd
from quietlimb.engine.follow_up.other_pressures import PRESSURES, Pressure, course_of, level_of
from quietlimb.engine.standards.day_to_day import least_believable_change

Values = NDArray[np.float64]
AROUND = Circumstances(species="dog", instrument="invented display", site="forelimb")
MOST_SESSIONS = 12
BY = 10.0  # mmHg, the change asked about
DAYS_PER_YEAR = 365.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Animal:
    """What is true of one simulated animal."""

    level: float
    between: float
    reading_sd: float
    tells_sd: bool
    swing: float
    phase: float
    trend: float
    effect: float

    def at(self, day: float, begun: float | None) -> float:
        """Its underlying pressure on a day. [mmHg]"""
        year = day / DAYS_PER_YEAR
        season = self.swing * (math.sin(2.0 * math.pi * year + self.phase) - math.sin(self.phase))
        treated = 0.0 if begun is None or day <= begun else self.effect * (1.0 - math.exp((begun - day) / 4.0))
        return self.level + season + self.trend * year + treated


def draw_animal(rng: np.random.Generator) -> Animal:
    """An animal as it comes."""
    works = rng.random() > 0.125
    return Animal(
        level=float(150.0 * math.exp(rng.normal(0.0, 0.17))),
        between=float(rng.gamma(5.0, 2.1)),
        reading_sd=float(rng.uniform(5.0, 14.0)),
        tells_sd=bool(rng.random() < 0.5),
        swing=float(rng.uniform(0.0, 5.0)),
        phase=float(rng.uniform(0.0, 2.0 * math.pi)),
        trend=float(rng.normal(0.0, 4.0)),
        effect=float(rng.normal(-25.0, 12.0)) if works else 0.0,
    )


def draw_session(rng: np.random.Generator, animal: Animal, day: int, begun: float | None) -> PastSession:
    """A session of that animal."""
    readings = int(rng.integers(3, 9))
    own = animal.reading_sd / math.sqrt(readings)
    charted = animal.at(day, begun) + animal.between * rng.standard_t(5.0) / math.sqrt(5.0 / 3.0)
    charted += own * rng.standard_normal()
    if rng.random() < 0.04:
        charted += rng.uniform(25.0, 60.0) * (1.0 if rng.random() < 0.75 else -1.0)
    return PastSession(
        day=day,
        systolic_mmhg=float(round(max(charted, 60.0))),
        own_sd_mmhg=own if animal.tells_sd else usual_own_sd(AROUND, readings),
        readings=readings,
        circumstances=AROUND,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A simulated history with its truth."""

    animal: Animal
    sessions: tuple[PastSession, ...]
    begun: int | None

    def fit(self, n: int) -> UnderlyingCourse:
        """The course by its first n sessions, as it would have been seen on the last one's day."""
        return fitted(self.sessions[:n], self.begun)

    def truth(self, day: float) -> float:
        """Underlying pressure."""
        return self.animal.at(day, self.begun)


def fitted(sessions: tuple[PastSession, ...], begun: int | None) -> UnderlyingCourse:
    """The fit to these sessions, with the beginning of treatment where it is told and not later than the last."""
    events = () if begun is None or begun > sessions[-1].day else (TreatmentEvent(day=begun, step="begun"),)
    history = History(species="dog", sessions=sessions, events=events)
    return fit_course(compare_sessions(history).stretches[-1], events)


def draw_course(rng: np.random.Generator, animal: Animal, *, sessions: int, may_treat: bool) -> Course:
    """Sessions every few weeks; treatment, where it may be, when the sessions call for it."""
    day, begun = 0, None
    taken: list[PastSession] = []
    for _ in range(sessions):
        taken.append(draw_session(rng, animal, day, begun))
        high = [session.systolic_mmhg for session in taken[-2:]]
        if may_treat and begun is None and (high[-1] >= 180.0 or (len(high) == 2 and min(high) >= 160.0)):
            begun = day
        soon = begun is not None and day - begun < 14
        day += int(rng.integers(7, 15) if soon else rng.integers(21, 91))
    return Course(animal=animal, sessions=tuple(taken), begun=begun)


def share(hits: list[bool]) -> str:
    """Percent with its Monte Carlo error."""
    n, p = len(hits), float(np.mean(hits)) if hits else math.nan
    return f"{100 * p:5.1f}±{100 * math.sqrt(max(p * (1 - p), 0.25 / max(n, 1)) / max(n, 1)):3.1f}"


def share_by_course(hits: list[bool], courses: list[int]) -> str:
    """Percent with the Monte Carlo error of whole courses, whose sessions share their animal."""
    _, where = np.unique(courses, return_inverse=True)
    excess = np.bincount(where, weights=np.array(hits, dtype=float) - float(np.mean(hits)))
    return f"{100 * float(np.mean(hits)):5.1f}±{100 * math.sqrt(float(np.sum(excess**2))) / len(hits):3.1f}"


def rms(errors: list[float]) -> str:
    """Root mean square with its Monte Carlo error."""
    squares = np.square(errors)
    root = math.sqrt(float(squares.mean()))
    return f"{root:5.1f}±{float(squares.std()) / (2 * root * math.sqrt(squares.size)):3.1f}"


def average(values: list[float]) -> str:
    """Mean with its Monte Carlo error."""
    return f"{np.mean(values):+5.1f}±{np.std(values) / math.sqrt(len(values)):3.1f}"


def print_coverage(courses: int, seed: int) -> None:
    """The level on the day of the latest session, at every number of sessions."""
    print("Underlying pressure on the day of the latest session; 95 % interval. `last`: that session by itself;")
    print("`mean`: the plain mean of all sessions since the last event.\n")
    print(
        f"{'sessions':>14s}{'N':>6s}{'cover %':>12s}{'width':>8s}{'RMSE':>11s}{'last':>11s}{'mean':>11s}{'bias':>11s}"
    )
    rows: dict[str, list[tuple[bool, float, float, float, float, int]]] = {}
    for k in range(courses):
        for may_treat in (False, True):
            rng = np.random.default_rng([seed, k, int(may_treat)])
            course = draw_course(rng, draw_animal(rng), sessions=MOST_SESSIONS, may_treat=may_treat)
            for n in range(1, MOST_SESSIONS + 1):
                last = course.sessions[n - 1]
                truth = course.truth(last.day)
                level = course.fit(n).level(last.day).estimate()
                begun = course.begun if course.begun is not None and course.begun < last.day else None
                since = [s.systolic_mmhg for s in course.sessions[:n] if begun is None or s.day > begun]
                row = (
                    level.low <= truth <= level.high,
                    level.high - level.low,
                    level.value - truth,
                    last.systolic_mmhg - truth,
                    float(np.mean(since)) - truth,
                    2 * k + may_treat,
                )
                rows.setdefault(f"{n}", []).append(row)
                rows.setdefault("treated" if begun is not None else "untreated", []).append(row)
                rows.setdefault("all", []).append(row)
    for name in [*(str(n) for n in range(1, MOST_SESSIONS + 1)), "untreated", "treated", "all"]:
        hit, width, ours, last_error, mean_error, ids = (list(column) for column in zip(*rows[name], strict=True))
        print(
            f"{name:>14s}{len(hit):6d}{share_by_course(hit, ids):>12s}{np.mean(width):8.1f}{rms(ours):>11s}"
            f"{rms(last_error):>11s}{rms(mean_error):>11s}{average(ours):>11s}"
        )


def naive(before: float, after: float, limit: float) -> str:
    """What a comparison of two sessions says."""
    return "fell" if after - before < -limit else "rose" if after - before > limit else "no"


REPEATABLE = least_believable_change(9.0, 10.0, readings=5)


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherTruth:
    """How another pressure of a simulated animal goes with its systolic one.

    share  : of the systolic level; follows : how much of a session's deviation it shares; between, reading_sd : of its
             own beside that [mmHg]
    """

    share: float
    follows: float
    between: float
    reading_sd: float


def draw_other(rng: np.random.Generator, pressure: Pressure) -> OtherTruth:
    """An animal's other pressure as it comes."""
    middle, spread = (0.74, 0.04) if pressure == "mean" else (0.59, 0.06)
    return OtherTruth(
        share=float(rng.normal(middle, spread)),
        follows=float(rng.uniform(0.4, 0.8)),
        between=float(rng.gamma(4.0, 1.6 if pressure == "mean" else 2.0)),
        reading_sd=float(rng.uniform(4.0, 13.0)),
    )


def with_other(rng: np.random.Generator, course: Course, other: OtherTruth, pressure: Pressure) -> Course:
    """The same sessions, each with the other pressure told."""
    sessions = []
    for session in course.sessions:
        truth = other.share * course.truth(session.day)
        deviation = session.systolic_mmhg - course.truth(session.day)
        own = other.between * rng.standard_t(5.0) / math.sqrt(5.0 / 3.0)
        own += other.reading_sd / math.sqrt(session.readings or 1) * rng.standard_normal()
        value = float(round(max(truth + other.follows * other.share * deviation + own, 25.0)))
        told = replace(session, mean_mmhg=value) if pressure == "mean" else replace(session, diastolic_mmhg=value)
        sessions.append(told)
    return replace(course, sessions=tuple(sessions))


def print_other_pressures(courses: int, seed: int) -> None:
    """Mean and diastolic pressure on the day of the latest session."""
    print("\nMean and diastolic pressure on the day of the latest session; 95 % interval.\n")
    print(f"{'':>14s}{'sessions':>10s}{'N':>6s}{'cover %':>12s}{'width':>8s}{'RMSE':>11s}{'bias':>11s}")
    for pressure in PRESSURES:
        for n in (1, 2, 3, 6, 12):
            hits, widths, errors = [], [], []
            for k in range(courses):
                rng = np.random.default_rng([seed, k, 5, PRESSURES.index(pressure)])
                course = draw_course(rng, draw_animal(rng), sessions=n, may_treat=k % 2 == 0)
                other = draw_other(rng, pressure)
                told = with_other(rng, course, other, pressure)
                last = told.sessions[-1]
                events = course.fit(n).events
                stretch = compare_sessions(History(species="dog", sessions=told.sessions)).stretches[-1]
                fit = course_of(stretch, events, pressure)
                assert fit is not None
                level = level_of(fit, pressure, last.day).estimate()
                truth = other.share * course.truth(last.day)
                hits.append(level.low <= truth <= level.high)
                widths.append(level.high - level.low)
                errors.append(level.value - truth)
            print(
                f"{pressure:>14s}{n:10d}{len(hits):6d}{share(hits):>12s}{np.mean(widths):8.1f}{rms(errors):>11s}"
                f"{average(errors):>11s}"
            )


def print_false_alarms(courses: int, seed: int) -> None:
    """Stable animals, seen for two years: how often a change of more than 10 mmHg is called that was none."""
    names = ("since last", "since first", "either", "two visits, 10", f"two visits, {REPEATABLE:.0f}")
    alarms: dict[str, list[float]] = {name: [] for name in names}
    for k in range(courses):
        rng = np.random.default_rng([seed, k, 2])
        animal = replace(draw_animal(rng), trend=0.0)
        course = draw_course(rng, animal, sessions=MOST_SESSIONS, may_treat=False)
        years = course.sessions[-1].day / DAYS_PER_YEAR
        counts = dict.fromkeys(names, 0)
        for n in range(2, MOST_SESSIONS + 1):
            fit = course.fit(n)
            now, previous, first = course.sessions[n - 1], course.sessions[n - 2], course.sessions[0]
            called = {
                "since last": (change_between(fit, previous.day, now.day, by_mmhg=BY).verdict, previous.day),
                "since first": (change_between(fit, first.day, now.day, by_mmhg=BY).verdict, first.day),
                names[3]: (naive(previous.systolic_mmhg, now.systolic_mmhg, BY), previous.day),
                names[4]: (naive(previous.systolic_mmhg, now.systolic_mmhg, REPEATABLE), previous.day),
            }
            wrong = {
                name: verdict in ("fell", "rose") and not true_change(course, day, now.day, verdict)
                for name, (verdict, day) in called.items()
            }
            wrong["either"] = wrong["since last"] or wrong["since first"]
            for name, is_wrong in wrong.items():
                counts[name] += is_wrong
        for name in names:
            alarms[name].append(counts[name] / years)
    print("\nFalse alarms an animal-year in stable animals (a session every 8 weeks): a change of more than 10 mmHg is")
    print("called and the underlying pressure did not move so far in that direction.\n")
    for name in names:
        values = alarms[name]
        print(f"{name:>18s}{np.mean(values):8.3f}±{np.std(values) / math.sqrt(len(values)):.3f}")


def true_change(course: Course, from_day: int, to_day: int, verdict: str) -> bool:
    """Whether the pressure moved by more than 10 mmHg in the direction that was called."""
    moved = course.truth(to_day) - course.truth(from_day)
    return moved < -BY if verdict == "fell" else moved > BY


@dataclass(frozen=True, slots=True, kw_only=True)
class Beginning:
    """One beginning of treatment: what was said of the change, and what was true.

    score      : probability that the pressure fell by more than 10 mmHg
    difference : last session minus the one before treatment
    """

    score: float
    called: bool
    difference: float
    held: bool
    error: float
    truth: float
    above: float
    said_above: float


def print_power(courses: int, seed: int) -> None:
    """Treatment of a known effect begun after a high session: how often a fall of more than 10 mmHg is called."""
    print("\nTreatment begun on a high day (two sessions of 160 mmHg running, or one of 180): how often a fall of more")
    print("than 10 mmHg is called, %, by us at 90 % and by the difference of two visits; then how often either would")
    print("be called with the threshold at which 5 % of the animals without any effect are. At effect 0 all are false.")
    print(
        "Cover, RMSE: of the change, beside the RMSE of two visits. `above`: how far the session before stood above the"
    )
    print("truth, and what was said of it.\n")
    limit = f"visits {REPEATABLE:.0f}"
    print(
        f"{'effect':>7s}{'after':>6s}{'N':>6s}{'ours':>10s}{'visits 10':>11s}{limit:>11s}{'ours, 5 %':>11s}"
        f"{'visits, 5 %':>13s}{'cover %':>11s}{'RMSE':>10s}{'visits':>10s}{'above':>11s}{'said':>11s}"
    )
    for after in (1, 2, 3):
        none = [beginning(k, seed, 0.0, after) for k in range(courses)]
        score = float(np.quantile([each.score for each in none], 0.95))
        drop = float(np.quantile([each.difference for each in none], 0.05))
        for effect in (0.0, -15.0, -25.0, -35.0):
            found = none if effect == 0.0 else [beginning(k, seed, effect, after) for k in range(courses)]
            print(
                f"{effect:7.0f}{after:6d}{len(found):6d}{share([each.called for each in found]):>10s}"
                f"{share([each.difference < -BY for each in found]):>11s}"
                f"{share([each.difference < -REPEATABLE for each in found]):>11s}"
                f"{share([each.score > score for each in found]):>11s}"
                f"{share([each.difference < drop for each in found]):>13s}"
                f"{share([each.held for each in found]):>11s}{rms([each.error for each in found]):>10s}"
                f"{rms([each.difference - each.truth for each in found]):>10s}"
                f"{average([each.above for each in found]):>11s}{average([each.said_above for each in found]):>11s}"
            )


def beginning(k: int, seed: int, effect: float, after: int) -> Beginning:
    """The k-th animal for which treatment is begun, with this effect and so many sessions after it."""
    rng = np.random.default_rng([seed, k, 3])
    while True:
        animal = replace(draw_animal(rng), effect=effect)
        before = draw_course(rng, animal, sessions=6, may_treat=True)
        if before.begun is not None:
            break
    begun = before.begun
    sessions = [session for session in before.sessions if session.day <= begun]
    prompting = sessions[-1]
    day = begun
    for step in range(after):
        day += int(rng.integers(10, 15) if step == 0 else rng.integers(14, 43))
        sessions.append(draw_session(rng, animal, day, begun))
    fit = fitted(tuple(sessions), begun)
    change = change_between(fit, begun, day, by_mmhg=BY)
    truth = animal.at(day, begun) - animal.at(begun, begun)
    found = high_day(fit, TreatmentEvent(day=begun, step="begun"))
    assert found is not None
    return Beginning(
        score=change.fell,
        called=change.verdict == "fell",
        difference=sessions[-1].systolic_mmhg - prompting.systolic_mmhg,
        held=change.change.low <= truth <= change.change.high,
        error=change.change.value - truth,
        truth=truth,
        above=prompting.systolic_mmhg - animal.at(begun, begun),
        said_above=found.above_mmhg,
    )


STEP = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Untold:
    """One animal whose level rose, or did not, after six sessions.

    score     : probability of a rise by more than 10 mmHg
    same      : called within 10 mmHg of each other
    unsettled : a caution says that what was measured last lies apart from the rest
    """

    score: float
    called: bool
    same: bool
    unsettled: bool
    difference: float
    held: bool
    error: float


def print_untold(courses: int, seed: int) -> None:
    """A rise that nobody told after six sessions without: how soon it is seen."""
    print(f"\nA rise of {STEP:.0f} mmHg that no event tells, after six sessions: how often a rise of more than 10 mmHg")
    print(
        "since the session before it is called, %, as above; the same without any rise. Cover, RMSE and bias are those"
    )
    print(
        "of the level. `same`: how often `within 10` is called instead; `noted`: how often a caution says that what was"
    )
    print("measured last lies apart from the rest.\n")
    limit = f"visits {REPEATABLE:.0f}"
    print(
        f"{'rise':>7s}{'after':>6s}{'N':>6s}{'ours':>10s}{'visits 10':>11s}{limit:>11s}{'ours, 5 %':>11s}"
        f"{'visits, 5 %':>13s}{'cover %':>11s}{'RMSE':>10s}{'bias':>11s}{'same':>11s}{'noted':>11s}"
    )
    for after in (1, 2, 3):
        none = [untold(k, seed, 0.0, after) for k in range(courses)]
        score = float(np.quantile([each.score for each in none], 0.95))
        jump = float(np.quantile([each.difference for each in none], 0.95))
        for rise, found in ((0.0, none), (STEP, [untold(k, seed, STEP, after) for k in range(courses)])):
            print(
                f"{rise:7.0f}{after:6d}{len(found):6d}{share([each.called for each in found]):>10s}"
                f"{share([each.difference > BY for each in found]):>11s}"
                f"{share([each.difference > REPEATABLE for each in found]):>11s}"
                f"{share([each.score > score for each in found]):>11s}"
                f"{share([each.difference > jump for each in found]):>13s}"
                f"{share([each.held for each in found]):>11s}{rms([each.error for each in found]):>10s}"
                f"{average([each.error for each in found]):>11s}"
                f"{share([each.same for each in found]):>11s}{share([each.unsettled for each in found]):>11s}"
            )


def untold(k: int, seed: int, rise: float, after: int) -> Untold:
    """The k-th animal, so many sessions after its level rose or did not."""
    rng = np.random.default_rng([seed, k, 4])
    animal = replace(draw_animal(rng), trend=0.0)
    before = draw_course(rng, animal, sessions=6, may_treat=False).sessions
    risen = replace(animal, level=animal.level + rise)
    sessions, day = list(before), before[-1].day
    for _ in range(after):
        day += int(rng.integers(21, 61))
        sessions.append(draw_session(rng, risen, day, None))
    fit = fitted(tuple(sessions), None)
    change = change_between(fit, before[-1].day, day, by_mmhg=BY)
    level, truth = fit.level(day).estimate(), risen.at(day, None)
    return Untold(
        score=change.rose,
        called=change.verdict == "rose",
        same=change.verdict == "about the same",
        unsettled=fit.unsettled_probability() >= UNSETTLED_FROM,
        difference=sessions[-1].systolic_mmhg - before[-1].systolic_mmhg,
        held=level.low <= truth <= level.high,
        error=level.value - truth,
    )


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--courses", type=int, default=400, help="of each kind (default 400)")
    parser.add_argument("--seed", type=int, default=73731, help="of the whole study (default 73731)")
    chosen = parser.parse_args()
    tables: tuple[Callable[[int, int], None], ...] = (
        print_coverage,
        print_false_alarms,
        print_power,
        print_untold,
        print_other_pressures,
    )
    print(
        f"Simulated courses: {chosen.courses} of each kind, seed {chosen.seed}. Systolic unless told otherwise, mmHg."
    )
    print("After ±: Monte Carlo error; that of the first table's cover counts courses, all others count sessions.\n")
    for table in tables:
        table(chosen.courses, chosen.seed)


if __name__ == "__main__":
    main()
