"""From what was typed or recorded at the bench to a verdict by `quietlimb.instruments`, and back into words.

Nothing is judged here but what a person says herself: of a look, and of a certificate.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, Final

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _l

from quietlimb.clinic.bench.services import BenchError
from quietlimb.clinic.bench.standing import Thing, checks_of, day_words, schedule_of, standing_of
from quietlimb.clinic.canonical import canonical
from quietlimb.clinic.equipment.models import Check, CheckKind, Instrument, Technique
from quietlimb.clinic.pressures import kpa
from quietlimb.clinic.recordings.files import recording_of
from quietlimb.engine.recording import Recording
from quietlimb.engine.values import Cited
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.figures.checks import static_figure
from quietlimb.figures.export import svg
from quietlimb.figures.invented import is_invented
from quietlimb.figures.look import Theme
from quietlimb.instruments.checks import (
    CheckFinding,
    CheckResult,
    DisplayPoints,
    Figure,
    LeakPoints,
    Reference,
    StaticPoints,
)
from quietlimb.instruments.leak import leak, leak_of_recording
from quietlimb.instruments.limits import BLEED_LIMITS, DISPLAY_LIMITS, EXHAUST_LIMITS, LEAK_LIMITS, STATIC_LIMITS
from quietlimb.instruments.static import display, static_accuracy
from quietlimb.instruments.valve import bleed_rate, exhaust
from quietlimb.words.checks import at_words, check_sentence, figure_name, figure_value, remedy, says
from quietlimb.words.sources import source_and_standing

# Where a bench stops on the way: spread over all that is measured, each of them once up and once down. [practice]
UP_MMHG: Final = (0.0, 50.0, 100.0, 150.0, 200.0, 250.0)
DOWN_MMHG: Final = (200.0, 150.0, 100.0, 50.0, 0.0)
DISPLAY_MMHG: Final = (60.0, 120.0, 180.0)
HOLDS_MMHG: Final = (250.0, 150.0, 50.0)

LIMITS: Final[Mapping[str, Mapping[str, Any]]] = {
    CheckKind.STATIC: STATIC_LIMITS,
    CheckKind.DISPLAY: DISPLAY_LIMITS,
    CheckKind.LEAK: LEAK_LIMITS,
    CheckKind.EXHAUST: EXHAUST_LIMITS,
    CheckKind.BLEED: BLEED_LIMITS,
}
LIMIT_NAMES: Final[Mapping[str, Any]] = {
    "non-automated": _l("gauge or Doppler, read by a person"),
    "automated": _l("electronic instrument"),
    "first-verification": _l("first verification"),
    "in-use": _l("in use"),
    "house-rule": _l("house rule"),
    "adult": _l("large cuffs"),
    "neonatal": _l("small cuffs, with neonatal limits"),
}
CONDITIONS: Final[Mapping[str, Any]] = {
    "sound": _l("sound"),
    "worn": _l("worn, but it holds"),
    "unfit": _l("not fit for use"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What came of a check; good is None where it cannot be judged.

    typed, result : canonical JSON text, as a `Check` keeps them
    sentences     : what was found, in words
    """

    good: bool | None
    figure: float | None
    unit: str
    limit: str
    typed: str
    result: str
    engine: str
    sentences: tuple[str, ...]


def limits_for(kind: CheckKind) -> list[tuple[str, str]]:
    """The limits to choose from, each with its figure, source and standing."""
    return [(code, f"{LIMIT_NAMES.get(code, code)}: {_figure_of(limit)}") for code, limit in LIMITS[kind].items()]


def limit_words(kind: str, code: str) -> str:
    """One of them, as it stands beside a verdict."""
    found = LIMITS.get(kind, {}).get(code)
    return "" if found is None else f"{LIMIT_NAMES.get(code, code)}: {_figure_of(found)}"


def _figure_of(limit: Any) -> str:
    least: Cited | None = getattr(limit, "least", None)
    most: Cited = limit.most
    share: Cited | None = getattr(limit, "share", None)
    number = f"{most.value:g} {most.unit}" if least is None else f"{least.value:g} to {most.value:g} {most.unit}"
    if share is not None:
        number = _("{number}, or {share:g} % of the pressure where that is more").format(
            number=number, share=100 * share.value
        )
    if hasattr(limit, "start"):
        number = _("{number} from {start:g} to {end:g} mmHg").format(
            number=number, start=limit.start.value, end=limit.end.value
        )
    return f"{number} {source_and_standing(most.source, most.standing)}"


MOVES: Final[Mapping[str, Any]] = {
    CheckKind.LEAK: _l(
        "A leak makes the cuff fall faster than the valve was set to, or on a level that should have held. It moves no "
        "pressure by a fixed amount: look at how large it was, and at the recordings or the readings that disagree."
    ),
    CheckKind.BLEED: _l(
        "Too fast a fall leaves few pulses to read: the systolic pressure tends to be told too low and the diastolic "
        "too high. Too slow a fall squeezes the limb for longer. Neither moves a pressure by a fixed amount."
    ),
    CheckKind.LOOK: _l(
        "What was found by looking tells no amount: judge by what was worn or broken, and by readings that disagree."
    ),
}
BY_AS_MUCH: Final = _l(
    "An error of the instrument moves every pressure by about as much: look at how far it was off, which way, and how "
    "near the pressure was to a boundary."
)


def what_it_moves(kind: str) -> str:
    """What a failed check of a kind means for the pressures that were read."""
    return str(MOVES.get(kind, BY_AS_MUCH))


def usual_limit(kind: CheckKind, thing: Thing) -> str:
    """The limit that fits a thing, unless somebody chooses another."""
    electronic = isinstance(thing, Instrument) and thing.technique == Technique.OSCILLOMETRIC
    if kind in (CheckKind.STATIC, CheckKind.LEAK):
        return "automated" if electronic else "non-automated"
    return next(iter(LIMITS[kind]))


def reference_of(instrument: Instrument | None, on: date) -> Reference:
    """A reference manometer as its latest good certificate of that day tells it; without one, as most are.

    Raises BenchError where its last certificate says that it is not within its limits.
    """
    if instrument is None:
        return Reference()
    rows = instrument.checks.filter(kind=CheckKind.CERTIFICATE, corrected_by=None).order_by("-done_at", "-entered_at")
    last = next((row for row in rows if timezone.localdate(row.done_at) <= on), None)
    if last is None:
        return Reference()
    if not last.good:
        raise BenchError(
            "reference-failed",
            _("{name} was not within its limits by its last certificate").format(name=instrument.name),
            _("take another reference manometer"),
        )
    told = json.loads(last.typed)
    names = ("expanded_mmhg", "coverage_factor", "correction_mmhg")
    return Reference(**{name: told[name] for name in names if name in told})


def certificate_of(instrument: Instrument, on: date) -> dict[str, str]:
    """What is wrong with the certificate of a reference manometer on a day: empty, `none`, or `ended` with the day."""
    found = standing_of(instrument, checks_of(instrument), schedule_of(instrument.practice), on)
    asked = next((each for each in found.required if each.kind == CheckKind.CERTIFICATE), None)
    if asked is None or asked.due.state != "overdue":
        return {}
    return {"state": "none"} if asked.due.on is None else {"state": "ended", "on": asked.due.on.isoformat()}


def certificate_mark(instrument: Instrument, on: date) -> str:
    """Its name among the choices, with what is wrong with its certificate."""
    found = certificate_of(instrument, on)
    if not found:
        return instrument.name
    words = (
        _("no certificate")
        if found["state"] == "none"
        else _("certificate ended {day}").format(day=day_words(date.fromisoformat(found["on"])))
    )
    return f"{instrument.name} ({words})"


def _of_reference(typed: Mapping[str, Any]) -> list[str]:
    """The caution of a check whose reference manometer had no certificate that counts."""
    found = typed.get("certificate") or {}
    if found.get("state") == "none":
        told = _(
            "Caution: the reference manometer had no certificate, and its uncertainty is taken as {u:g} mmHg. This "
            "shows how far the two agree, not which of them is right."
        )
        return [told.format(u=typed["reference"]["expanded_mmhg"])]
    if found.get("state") == "ended":
        told = _(
            "Caution: the certificate of the reference manometer had ended on {day}. Since then this shows how far the "
            "two agree, not which of them is right."
        )
        return [told.format(day=day_words(date.fromisoformat(found["on"])))]
    return []


def judge(
    kind: CheckKind,
    typed: Mapping[str, Any],
    *,
    limit: str,
    reference: Instrument | None,
    resolution_mmhg: float,
    recording: tuple[str, bytes] | None,
    on: date,
    invented: bool = False,
) -> Judged:
    """The verdict of a check.

    typed     : as the forms give it, pressures in mmHg
    recording : name and bytes, of a check that is made from one
    invented  : whether recordings of invented animals and instruments belong here

    Raises QuietlimbError where it cannot be one: no points, impossible pressures, a recording that cannot be read.
    """
    if kind == CheckKind.LOOK:
        return _said(typed, good=typed["condition"] != "unfit")
    if kind == CheckKind.CERTIFICATE:
        return _said(typed, good=typed["outcome"] == "good")
    told = {**typed, "resolution_mmhg": resolution_mmhg}
    if kind in (CheckKind.STATIC, CheckKind.DISPLAY):
        manometer = reference_of(reference, on)
        told["reference"] = asdict(manometer)
        wrong = {} if reference is None else certificate_of(reference, on)
        if wrong:
            told["certificate"] = wrong
        return _found(_of_points(kind, typed, limit, resolution_mmhg, manometer), told)
    if recording is not None:
        pressure = _pressure(*recording, invented=invented)
        of_recording: Mapping[CheckKind, Callable[[Recording, str], CheckResult]] = {
            CheckKind.LEAK: leak_of_recording,
            CheckKind.EXHAUST: exhaust,
            CheckKind.BLEED: bleed_rate,
        }
        return _found(of_recording[kind](pressure, limit), {"recording": recording[0]})
    if kind != CheckKind.LEAK:
        raise BenchError("no-recording", _("No recording came"), _("drop a recording of the pressure"))
    holds = typed["holds"]
    points = LeakPoints(
        start_mmhg=tuple(each["start_mmhg"] for each in holds),
        end_mmhg=tuple(each["end_mmhg"] for each in holds),
        held_s=tuple(each["held_s"] for each in holds),
        resolution_mmhg=resolution_mmhg,
    )
    return _found(leak(points, limit), told)


def _of_points(
    kind: CheckKind, typed: Mapping[str, Any], limit: str, resolution_mmhg: float, manometer: Reference
) -> CheckResult:
    rows = typed["points"]
    if kind == CheckKind.STATIC:
        return static_accuracy(_static_points(rows, resolution_mmhg, manometer), limit)
    shown = DisplayPoints(
        manometer_mmhg=tuple(row["manometer_mmhg"] for row in rows),
        display_mmhg=tuple(row["display_mmhg"] for row in rows),
        resolution_mmhg=resolution_mmhg,
        reference=manometer,
    )
    return display(shown, limit)


def _static_points(rows: Sequence[Mapping[str, Any]], resolution_mmhg: float, manometer: Reference) -> StaticPoints:
    return StaticPoints(
        reference_mmhg=tuple(row["reference_mmhg"] for row in rows),
        instrument_mmhg=tuple(row["instrument_mmhg"] for row in rows),
        direction=tuple(row["direction"] for row in rows),
        resolution_mmhg=resolution_mmhg,
        reference=manometer,
    )


def _pressure(name: str, content: bytes, *, invented: bool) -> Recording:
    pressure = recording_of(name, content, None)
    if is_invented(pressure.circumstances) and not invented:
        raise BenchError(
            "invented", _("This recording is invented, of no real instrument"), _("it has no place in this register")
        )
    return pressure


def _said(typed: Mapping[str, Any], *, good: bool) -> Judged:
    return Judged(
        good=good, figure=None, unit="", limit="", typed=canonical(dict(typed)), result="", engine="", sentences=()
    )


def _found(result: CheckResult, typed: Mapping[str, Any]) -> Judged:
    first = next(iter(result.figures.values()), None)
    told = {
        "kind": result.kind,
        "verdict": result.verdict,
        # in their order, which the canonical text of an object would lose
        "figures": [[name, _plain(asdict(figure))] for name, figure in result.figures.items()],
        "limit": result.limit,
        "findings": [{"code": each.code, "numbers": dict(each.numbers)} for each in result.findings],
    }
    return Judged(
        good=result.passed,
        figure=None if first is None else first.value,
        unit="" if first is None else first.unit,
        limit=result.limit,
        typed=canonical(dict(typed)),
        result=canonical(told),
        engine=ENGINE_VERSION,
        sentences=tuple(" ".join(filter(None, [says(each), remedy(each)])) for each in result.findings),
    )


def _plain(value: Any) -> Any:
    """Numbers that JSON has no word for become None: a pressure that never got there."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    return None if isinstance(value, float) and not math.isfinite(value) else value


def told_of_check(check: Check) -> list[str]:
    """What a kept check says, in sentences."""
    typed = json.loads(check.typed) if check.typed else {}
    if check.kind == CheckKind.LOOK:
        cleaned = _("Cleaned.") if typed.get("cleaned") else _("Not cleaned.")
        return [f"{str(CONDITIONS[typed['condition']]).capitalize()}.", cleaned]
    if check.kind == CheckKind.CERTIFICATE:
        return _of_certificate(check, typed)
    return [*_of_result(result_of(check)), *_of_reference(typed)]


def _of_certificate(check: Check, typed: Mapping[str, Any]) -> list[str]:
    told = [_("Within its limits.") if check.good else _("Not within its limits.")]
    by = _("Issued by {issuer}, number {number}.") if check.number else _("Issued by {issuer}.")
    told.append(by.format(issuer=check.issuer, number=check.number))
    if "expanded_mmhg" in typed:
        told.append(
            _("Expanded uncertainty {u:g} mmHg (k = {k:g}), correction {c:+g} mmHg.").format(
                u=typed["expanded_mmhg"], k=typed["coverage_factor"], c=typed["correction_mmhg"]
            )
        )
    return told


def _of_result(result: CheckResult) -> list[str]:
    told = [f"{check_sentence(result)}"]
    for name, figure in list(result.figures.items())[1:]:
        told.append(f"{figure_name(name)} {figure_value(figure)}{at_words(figure)}.")
    for finding in result.findings:
        told.append(" ".join(filter(None, [says(finding), remedy(finding)])))
    return [f"{line[:1].upper()}{line[1:]}" for line in told]


def result_of(check: Check) -> CheckResult:
    """The result of a check as it is kept."""
    told = json.loads(check.result)
    return CheckResult(
        kind=told["kind"],
        verdict=told["verdict"],
        figures={name: _figure(each) for name, each in told["figures"]},
        limit=told["limit"],
        findings=tuple(CheckFinding(code=each["code"], numbers=each["numbers"]) for each in told["findings"]),
    )


def picture_of(check: Check, *, width: int, theme: Theme) -> str | None:
    """The errors of a static check against the pressure, as SVG; None of other checks."""
    if check.kind != CheckKind.STATIC:
        return None
    typed = json.loads(check.typed)
    points = _static_points(typed["points"], typed["resolution_mmhg"], Reference(**typed["reference"]))
    return svg(static_figure(points, result_of(check), STATIC_LIMITS[check.limit], theme=theme, width=width))


def _figure(told: Mapping[str, Any]) -> Figure:
    limits = {name: None if told[name] is None else Cited(**told[name]) for name in ("least", "most")}
    high = math.inf if told["high"] is None else told["high"]
    return Figure(**{**told, **limits, "high": high})


COLUMNS: Final[Mapping[str, Any]] = {
    "direction": _l("going"),
    "reference_mmhg": _l("reference"),
    "instrument_mmhg": _l("instrument"),
    "manometer_mmhg": _l("manometer"),
    "display_mmhg": _l("display"),
    "start_mmhg": _l("at the start"),
    "held_s": _l("seconds"),
    "end_mmhg": _l("at the end"),
}


def typed_points(check: Check, unit: str) -> tuple[list[str], list[list[str]]] | None:
    """What was typed, as a table: heading and rows, pressures in a unit; None where nothing was."""
    typed = json.loads(check.typed) if check.typed else {}
    rows = typed.get("points") or typed.get("holds")
    if not rows:
        return None
    names = [name for name in COLUMNS if name in rows[0]]
    heading = [f"{COLUMNS[name]}, {unit}" if name.endswith("_mmhg") else str(COLUMNS[name]) for name in names]
    return heading, [[_cell(name, row[name], unit) for name in names] for row in rows]


def _cell(name: str, value: Any, unit: str) -> str:
    if name == "direction":
        return _("up") if value == "up" else _("down")
    return kpa(value) if unit == "kPa" and name.endswith("_mmhg") else f"{round(value, 1):g}"
