"""What `capture` tells while it goes on, as JSON objects; how numbers are rounded is in `json_values`.

An inflation that has ended is told as `read` would tell its file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Final

from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.findings import Finding
from quietlimb.engine.live.moment import Moment
from quietlimb.exchange.blood_pressure_service import InstrumentReading, signs
from quietlimb.exchange.json_values import JsonObject, error_object, estimate_or_null, number_or_null
from quietlimb.exchange.line_decoder import Trouble
from quietlimb.exchange.pressure_lines import UnfinishedLine
from quietlimb.exchange.sfloat import Sfloat
from quietlimb.words.live import say
from quietlimb.words.troubles import trouble_sentence, unfinished_sentence

CAPTURE: Final = "quietlimb/capture/1"


def now_object(
    moment: Moment | None,
    time_s: float | None,
    pressure_mmhg: float | None,
    *,
    invented: bool,
    kept_until_s: float | None,
) -> JsonObject:
    """What stands now.

    moment       : None where nothing can be read from the source but the pressure [mmHg] at a time [s]
    kept_until_s : everything up to there is on the disk [s]
    """
    reading = None if moment is None else moment.reading
    return {
        "schema": CAPTURE,
        "event": "now",
        "invented": invented,
        "time_s": number_or_null(time_s),
        "pressure_mmHg": number_or_null(pressure_mmhg),
        "phase": None if moment is None else moment.phase,
        "inflated_s": None if moment is None else number_or_null(moment.inflated_s),
        "fall_mmHg_per_s": None if moment is None else number_or_null(moment.fall_mmhg_per_s),
        "pulses_kept": None if moment is None else moment.pulses_counted,
        "pulses_taken_back": None if moment is None else moment.pulses_dropped,
        **{
            name: None if reading is None else estimate_or_null(getattr(reading, name))
            for name in ("systolic", "mean", "diastolic", "pulse_rate")
        },
        "remarks": [] if moment is None else [_remark(remark) for remark in moment.remarks],
        "kept_until_s": number_or_null(kept_until_s),
    }


def trouble_object(kind: Trouble, count: int, unfinished: UnfinishedLine | None = None) -> JsonObject:
    """What went wrong, so often since it was last told.

    unfinished : the line, where `kind` is that one was not finished
    """
    cut = unfinished if kind == "unfinished-line" else None
    return {
        "schema": CAPTURE,
        "event": "trouble",
        "kind": kind,
        "count": count,
        "says": trouble_sentence(kind, count) if cut is None else unfinished_sentence(cut.number, cut.text),
        "line": None if cut is None else cut.number,
        "left_out": None if cut is None else cut.text,
    }


def in_reach_object(address: str, name: str, strength_dbm: int) -> JsonObject:
    """An instrument with Bluetooth that offers the Blood Pressure Service.

    strength_dbm : of its signal [dBm]
    """
    return {
        "schema": CAPTURE,
        "event": "in-reach",
        "address": address,
        "name": name or None,
        "strength_dBm": strength_dbm,
    }


def instrument_object(reading: InstrumentReading, feature: int | None) -> JsonObject:
    """What an instrument measured.

    feature : what it says that it can detect; None where that is not known
    """
    return {
        "schema": CAPTURE,
        "event": "instrument",
        "unit": reading.unit,
        "systolic_sent": _sent(reading.systolic),
        "mean_sent": _sent(reading.mean),
        "diastolic_sent": _sent(reading.diastolic),
        "systolic_mmHg": number_or_null(reading.systolic_mmhg),
        "mean_mmHg": number_or_null(reading.mean_mmhg),
        "diastolic_mmHg": number_or_null(reading.diastolic_mmhg),
        "pulse_rate_per_min": number_or_null(reading.pulse_rate_per_min),
        "taken_at": None if reading.taken_at is None else str(reading.taken_at),
        "usable": reading.usable,
        "questions": list(reading.questions),
        "signs": dict(signs(reading.status, feature)),
        "octets": reading.octets.hex(),
    }


def end_object(
    lines: str,
    recordings: Sequence[str],
    *,
    readings: int,
    troubles: Mapping[Trouble, int],
    error: QuietlimbError | None,
    says: str | None,
) -> JsonObject:
    """What was kept, and why it ended before its time if it did.

    lines, recordings : paths
    readings          : sent by an instrument
    says              : what to do with the cuff now; None where it was empty
    """
    return {
        "schema": CAPTURE,
        "event": "end",
        "lines": lines,
        "recordings": list(recordings),
        "readings": readings,
        "troubles": {kind: count for kind, count in troubles.items() if count},
        "error": None if error is None else error_object(error),
        "says": says,
    }


def _remark(remark: Finding) -> JsonObject:
    return {
        "code": remark.code,
        "severity": remark.severity,
        "says": say(remark),
        "numbers": {name: number_or_null(value, 4) for name, value in remark.numbers.items()},
    }


def _sent(number: Sfloat) -> float | str:
    return float(number) if isinstance(number, Decimal) else number
