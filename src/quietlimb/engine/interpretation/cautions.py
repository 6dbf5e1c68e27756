"""Cautions: when each applies. Their sentences are in `quietlimb.words`."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from quietlimb.engine.interpretation.case import Case
from quietlimb.engine.interpretation.decision import is_low
from quietlimb.engine.interpretation.interpretation import Caution
from quietlimb.engine.interpretation.organs import unknown_organs
from quietlimb.engine.standards import acvim_2018 as acvim
from quietlimb.engine.standards import situational_rise
from quietlimb.engine.standards.cuff_width import judge_width

# code -> the numbers that it carries; in the order in which they are told
CAUTION_CODES: Mapping[str, tuple[str, ...]] = {
    "emergency-signs": (),
    "sedated": (),
    "still-falling": (),
    "not-consistent": ("limit",),
    "few-readings": ("taken", "kept", "needed"),
    "cuff-does-not-fit": ("ratio",),
    "cuff-off-heart-level": ("cm", "limit_cm"),
    "short-acclimatisation": ("minutes", "needed_minutes"),
    "near-boundary": (),
    "one-session": ("sessions",),
    "organs-not-examined": ("unknown",),
    "situational-rise": ("from_mmhg", "to_mmhg", "largest_mmhg"),
    "normal-today-only": (),
    "accuracy-falls-at-extremes": (),
    "diastolic-least-certain": (),
    "no-indirect-method-proven": (),
    "never-compare-methods": (),
    "veterinarian-decides": (),
    "not-a-certified-device": (),
}


def _when(applies: bool, code: str, **numbers: float) -> Caution | None:
    return Caution(code=code, numbers=numbers) if applies else None


def _of_the_animal(case: Case) -> tuple[Caution | None, ...]:
    alarming = is_low(case) or case.category in ("hypertensive", "severely hypertensive")
    return (
        _when(alarming, "emergency-signs"),
        _when(not case.awake, "sedated"),
    )


def _of_the_series(case: Case) -> tuple[Caution | None, ...]:
    if case.systolic is None:
        return ()
    guideline = case.guideline
    kept = case.readings if guideline is None else len(guideline.kept)
    few = (guideline is not None and not guideline.enough) or (
        guideline is None and kept is not None and kept < acvim.KEEP_AT_LEAST.value
    )
    uneven = guideline is not None and guideline.spread is not None and not guideline.consistent
    return (
        _when(case.course == "falling", "still-falling"),
        _when(uneven, "not-consistent", limit=acvim.MOST_VARIABILITY.value),
        _when(
            few,
            "few-readings",
            taken=float(case.readings or kept or 0),
            kept=float(kept or 0),
            needed=acvim.KEEP_AT_LEAST.value,
        ),
    )


def _of_the_setup(case: Case) -> tuple[Caution | None, ...]:
    ratio = None
    if case.cuff_width_cm is not None and case.limb_circumference_cm is not None:
        width = judge_width(case.cuff_width_cm, case.limb_circumference_cm, case.species)
        ratio = None if width.fit == "fits" else width.ratio
    height, minutes = case.cuff_below_heart_cm, case.acclimatisation_min
    gap, settle = acvim.WIDEST_HEIGHT_GAP.value, acvim.SHORTEST_ACCLIMATISATION.value
    return (
        _when(ratio is not None, "cuff-does-not-fit", ratio=ratio or 0.0),
        _when(height is not None and abs(height) > gap, "cuff-off-heart-level", cm=height or 0.0, limit_cm=gap),
        _when(
            minutes is not None and minutes < settle,
            "short-acclimatisation",
            minutes=minutes or 0.0,
            needed_minutes=settle,
        ),
    )


def _of_the_category(case: Case) -> tuple[Caution | None, ...]:
    if case.category is None:
        return ()
    raised = case.category != "normotensive"
    extreme = case.category == "severely hypertensive" or is_low(case)
    unknown = unknown_organs(case.organs)
    return (
        _when(case.near_boundary, "near-boundary"),
        _when(
            raised and case.organ_damage != "present",
            "one-session",
            sessions=acvim.SESSIONS_WITHOUT_ORGAN_DAMAGE.value,
        ),
        _when(bool(unknown), "organs-not-examined", unknown=float(len(unknown))),
        _when(
            raised and case.organ_damage != "present",
            "situational-rise",
            from_mmhg=situational_rise.USUAL_RISE_FROM.value,
            to_mmhg=situational_rise.USUAL_RISE_TO.value,
            largest_mmhg=situational_rise.LARGEST_RISE.value,
        ),
        _when(not raised and not is_low(case), "normal-today-only"),
        _when(extreme, "accuracy-falls-at-extremes"),
    )


def _of_every_value(case: Case) -> tuple[Caution | None, ...]:
    measured = case.systolic is not None
    return (
        _when(case.diastolic_given, "diastolic-least-certain"),
        _when(measured, "no-indirect-method-proven"),
        _when(measured, "never-compare-methods"),
        _when(True, "veterinarian-decides"),
        _when(True, "not-a-certified-device"),
    )


_GROUPS: tuple[Callable[[Case], tuple[Caution | None, ...]], ...] = (
    _of_the_animal,
    _of_the_series,
    _of_the_setup,
    _of_the_category,
    _of_every_value,
)


def cautions_for(case: Case) -> tuple[Caution, ...]:
    """The cautions that apply to this case, those that bear on it most first."""
    return tuple(caution for group in _GROUPS for caution in group(case) if caution is not None)
