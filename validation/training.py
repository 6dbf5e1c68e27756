"""Does the training animal teach what it should: does care pay, and does each choice do what is modelled?

    python validation/training.py --seeds 30 --seed 20970101 --workers 2 > validation/training.txt

First table: three learners at every case that is shipped, each with so many seeds (another artery, other beats, other
movements, the same story). Error is the charted systolic pressure minus the animal's at rest, calm, at the level of the
heart. `near`: per cent of sessions within 10 mmHg; a session in which nothing was charted is not near. `none`: per cent
of sessions without a charted pressure. `inflated`: inflations a session.

Second table: sessions of five inflations that depart from one rule alone, measured again with that choice mended, on
the cases that can show it. `modelled` is what the model moves the charted value by, `found` the mean of charted minus
charted with the choice mended, with its Monte Carlo error, `SD` its standard deviation from session to session, `ratio`
found over modelled by least squares through 0, `right` per cent of sessions that move in the direction of the model.
`wider`: by how much the half-width of the charted interval is larger. `lost`: readings of the five that are usable with
the choice mended and not without it. `told`: sessions in which both can be charted.

A choice that moves the value is to do so by 0.7 to 1.3 of what is modelled, or within 2 mmHg, and in the modelled
direction on average; one that spoils readings is to cost some, or to widen the interval, by more than twice the Monte
Carlo error. Oracle: by construction. Learners and what they do are invented.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from learners import careful, careful_by_numbers, careless, departing
from numpy.typing import NDArray

from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.simulator.training import CASES
from quietlimb.teaching.debriefing import costs_of
from quietlimb.teaching.practice import RULES, Code

Samples = NDArray[np.float64]
READINGS = 5
LEARNERS = ("careful", "careful, numbers", "careless")


@dataclass(frozen=True, slots=True, kw_only=True)
class Charted:
    """One session of one learner; error in mmHg, None where nothing was charted."""

    case: str
    learner: str
    error: float | None
    inflations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """One choice in one session: what is modelled and what is found [mmHg], and the readings that it cost."""

    case: str
    code: Code
    modelled: float
    found: float | None
    widened: float | None
    lost: int


def sessions(key: str, seed: int) -> list[Charted]:
    """The learners at one case with this seed."""
    case = replace(CASES[key], seed=seed)
    told = []
    for learner, session in zip(LEARNERS, (careful(case), careful_by_numbers(case), careless(case, seed)), strict=True):
        error = None if session.charted is None else session.charted - case.resting.systolic
        told.append(Charted(case=key, learner=learner, error=error, inflations=len(session.attempts)))
    return told


def moved(code: Code, key: str, seed: int) -> Moved | None:
    """What this choice did in one session; None where the case cannot show it."""
    case = replace(CASES[key], seed=seed)
    attempts = departing(case, code, readings=READINGS)
    if attempts is None:
        return None
    (cost,) = costs_of(case, attempts)
    return Moved(
        case=key,
        code=code,
        modelled=cost.modelled_mmhg,
        found=cost.found_mmhg,
        widened=cost.widened_mmhg,
        lost=cost.readings,
    )


def showing(code: Code) -> list[str]:
    """Cases that can show a choice by itself."""
    return [key for key, case in CASES.items() if departing(case, code, readings=READINGS) is not None]


def learners_row(label: str, learner: str, told: Sequence[Charted]) -> str:
    """Bias, SD and share near the truth of one learner."""
    errors = np.array([each.error for each in told if each.error is not None])
    near = 100.0 * float((np.abs(errors) <= 10.0).sum()) / len(told)
    numbers = f"{errors.mean():>+8.2f}{errors.std(ddof=1):>8.2f}" if errors.size > 1 else f"{'':>16}"
    none = 100.0 * (1.0 - errors.size / len(told))
    inflated = np.mean([each.inflations for each in told])
    return f"{label:<22}{learner:<18}{len(told):>5}{numbers}{near:>8.1f}{none:>8.1f}{inflated:>10.1f}"


def judged(code: Code, told: Sequence[Moved]) -> str:
    """Whether a choice does what is modelled."""
    if RULES[code].way == "spoils readings":
        lost = np.array([float(each.lost) for each in told])
        wider = np.array([each.widened for each in told if each.widened is not None])
        return "yes" if surely_positive(lost) or surely_positive(wider) else "no"
    found, modelled = (np.array(column) for column in zip(*_both(told), strict=True))
    oriented = found * np.sign(modelled)
    near = 0.7 <= slope(found, modelled) <= 1.3 or abs(oriented.mean() - np.abs(modelled).mean()) <= 2.0
    return "yes" if oriented.mean() > 0.0 and near else "no"


def surely_positive(values: Samples) -> bool:
    """Whether the mean lies above 0 by more than twice its Monte Carlo error."""
    return values.size > 1 and float(values.mean()) > 2.0 * float(values.std(ddof=1)) / np.sqrt(values.size)


def slope(found: Samples, modelled: Samples) -> float:
    """Found over modelled, by least squares through 0."""
    return float(found @ modelled / (modelled @ modelled))


def _both(told: Sequence[Moved]) -> list[tuple[float, float]]:
    return [(each.found, each.modelled) for each in told if each.found is not None]


def choice_row(code: Code, told: Sequence[Moved]) -> str:
    """What one choice is modelled to do and what it was found to do."""
    both = np.array(_both(told))
    row = f"{code:<19}{len(told):>5}{len(both):>6}"
    if len(both) > 1:
        found, modelled = both.T
        sd = found.std(ddof=1)
        row += f"{modelled.mean():>+10.2f}{found.mean():>+9.2f} +-{sd / np.sqrt(len(both)):>5.2f}{sd:>7.2f}"
        if RULES[code].way == "moves the value":
            right = 100.0 * float(np.mean(found * modelled > 0.0))
            row += f"{slope(found, modelled):>8.2f}{right:>8.1f}"
        else:
            row += f"{'':>16}"
        row += f"{np.mean([each.widened for each in told if each.widened is not None]):>+8.2f}"
    else:
        row += f"{'':>58}"
    return f"{row}{np.mean([each.lost for each in told]):>7.2f}  {judged(code, told)}"


def main() -> None:
    """Print both tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=30, help="seeds of each case (default 30)")
    parser.add_argument("--seed", type=int, default=20970101, help="first seed (default 20970101)")
    parser.add_argument("--workers", type=int, default=2)
    wish = parser.parse_args()
    seeds = range(wish.seeds)
    print(f"The training animal; engine {ENGINE_VERSION}, {len(CASES)} cases, {wish.seeds} seeds, first {wish.seed}.")
    print("Errors in mmHg against the animal at rest, calm, at the level of the heart.\n")
    with ProcessPoolExecutor(wish.workers) as pool:
        # no two cases share a seed, or all would have the same good and bad luck
        pairs = [(key, wish.seed + len(CASES) * k + place) for place, key in enumerate(CASES) for k in seeds]
        charted = [one for told in pool.map(sessions, *zip(*pairs, strict=True), chunksize=5) for one in told]
        print(f"{'case':<22}{'learner':<18}{'n':>5}{'bias':>8}{'SD':>8}{'near':>8}{'none':>8}{'inflated':>10}")
        for key in (None, *CASES):
            for learner in LEARNERS:
                told = [each for each in charted if each.learner == learner and key in (None, each.case)]
                print(learners_row(key or "all", learner, told))
            print()
        print(
            f"{'choice':<19}{'n':>5}{'told':>6}{'modelled':>10}{'found':>9}{'':>8}{'SD':>7}{'ratio':>8}{'right':>8}"
            f"{'wider':>8}{'lost':>7}  as modelled"
        )
        for code in RULES:
            cases = showing(code)
            # the cases take turns, so that each choice is found in as many sessions
            turns = [(code, cases[k % len(cases)], wish.seed + k) for k in seeds]
            found = pool.map(moved, *zip(*turns, strict=True), chunksize=3)
            print(choice_row(code, [each for each in found if each is not None]))


if __name__ == "__main__":
    main()
