"""The bench of the invented clinic: years of checks, one of which failed and holds a session in doubt.

Errors are invented; what is made of them is judged as anybody's.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from quietlimb.clinic.bench.judging import DOWN_MMHG, UP_MMHG, judge, usual_limit
from quietlimb.clinic.bench.services import check_add
from quietlimb.clinic.bench.standing import Thing
from quietlimb.clinic.equipment.models import Check, CheckKind, Cuff, Instrument
from quietlimb.clinic.people.models import Person

GAUGE, STANDARD = "brass gauge", "the standard"
# Days ago -> how far everything was off at the bench [mmHg].
GAUGE_OFF: Mapping[int, float] = {1260: 0.2, 1080: 0.5, 900: 0.8, 720: 1.2, 538: 1.5, 357: 1.9, 175: 2.2}
BOX_OFF: Mapping[int, float] = {728: 1.0, 395: 1.0, 60: 0.0}
CERTIFIED_DAYS_AGO = (690, 330)
LOOKED_DAYS_AGO = {"cuff 2.5": 12, "cuff 3": 12, "cuff 4": 150, "cuff 5": 12, "cuff 6": 40}
LEAKED, LEAKED_DAYS_AGO = "cuff 4", 20


def bench_tell(by: Person, instruments: Mapping[str, Instrument], cuffs: Mapping[str, Cuff], now: datetime) -> None:
    """Enter all checks, the earliest of each thing first.

    instruments : by name, the manometers among them
    """

    def add(thing: Thing, kind: CheckKind, typed: Mapping[str, Any], days_ago: int, **told: Any) -> None:
        at = now - timedelta(days=days_ago)
        against = instruments[STANDARD] if kind == CheckKind.STATIC else None
        judged = judge(
            kind,
            typed,
            limit=usual_limit(kind, thing) if kind in (CheckKind.STATIC, CheckKind.LEAK) else "",
            reference=against,
            resolution_mmhg=0.1,
            recording=None,
            on=timezone.localdate(at),
            invented=True,
        )
        assert judged.good is not None
        named: dict[str, Any] = {"cuff" if isinstance(thing, Cuff) else "instrument": thing}
        check = Check(
            **named,
            **told,
            kind=kind,
            done_at=at,
            good=judged.good,
            reference=against,
            figure=judged.figure,
            unit=judged.unit,
            limit=judged.limit,
            typed=judged.typed,
            result=judged.result,
            engine=judged.engine,
        )
        check_add(by, check=check, at=at)

    for days in CERTIFIED_DAYS_AGO:
        typed = {"outcome": "good", "expanded_mmhg": 0.8, "coverage_factor": 2.0, "correction_mmhg": 0.0}
        add(instruments[STANDARD], CheckKind.CERTIFICATE, typed, days, issuer="Invented Laboratory")
    for thing, errors in ((instruments[GAUGE], GAUGE_OFF), (instruments["grey box"], BOX_OFF)):
        for days, off in errors.items():
            add(thing, CheckKind.STATIC, _points(off), days)
            add(thing, CheckKind.LEAK, _hold(2.0), days)
    for name, days in LOOKED_DAYS_AGO.items():
        add(cuffs[name], CheckKind.LOOK, {"condition": "sound", "cleaned": True}, days)
        add(cuffs[name], CheckKind.LEAK, _hold(1.0), days)
    add(cuffs[LEAKED], CheckKind.LEAK, _hold(12.0), LEAKED_DAYS_AGO, remarks="the bladder hisses at the seam")


def _points(off: float) -> dict[str, Any]:
    ways = [*(("up", mmhg) for mmhg in UP_MMHG), *(("down", mmhg) for mmhg in DOWN_MMHG)]
    points = [{"direction": way, "reference_mmhg": mmhg, "instrument_mmhg": round(mmhg + off, 1)} for way, mmhg in ways]
    return {"points": points, "unit": "mmHg"}


def _hold(lost: float) -> dict[str, Any]:
    return {"holds": [{"start_mmhg": 250.0, "held_s": 60.0, "end_mmhg": 250.0 - lost}], "unit": "mmHg"}
