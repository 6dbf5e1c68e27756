"""Everything that writes comparisons. None is changed after it was kept, and none removed."""

from __future__ import annotations

import hashlib
import uuid
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError
from django.utils.translation import gettext as _

from quietlimb.clinic.comparisons.models import KEPT, Comparison, as_told, sha256_or_nothing
from quietlimb.clinic.comparisons.pairing import pairs_of_sessions
from quietlimb.clinic.comparisons.reckoning import Chosen, ComparisonError, made_of
from quietlimb.clinic.equipment.models import Technique
from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.journal.changing import end
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.stores import together
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.exchange.pairs_csv import pairs_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped:
    """What somebody dropped and chose. key: made by the page, so that the same comes once."""

    key: uuid.UUID
    name: str
    file_name: str
    content: bytes
    plan_name: str
    plan: bytes
    chosen: Chosen


def comparison_keep(by: Person, *, dropped: Dropped, at: datetime) -> Comparison:
    """Compare, and keep files, choices and results; the row with this key, where it was kept already.

    Raises as `made_of` does; ComparisonError `key-taken` where the key is that of another comparison or practice.
    """
    made = made_of(dropped.content, dropped.plan, dropped.chosen)  # outside, for it may take seconds
    row = Comparison(
        pk=dropped.key,
        practice_id=by.practice_id,
        name=dropped.name,
        made_by=by,
        made_at=at,
        file_name=dropped.file_name,
        sha256=sha256_of(dropped.content),
        content=dropped.content,
        plan_name=dropped.plan_name,
        plan_sha256=sha256_or_nothing(dropped.plan),
        plan=dropped.plan,
        chosen=dropped.chosen.as_json(),
        engine=ENGINE_VERSION,
        results=made.told,
    )
    try:
        with together():
            row.save(force_insert=True)
            journal.write(by, KEPT, row, after=as_told(row))
    except IntegrityError:
        known = Comparison.objects.filter(pk=dropped.key, practice=by.practice_id, sha256=row.sha256).first()
        if known is None or known.chosen != row.chosen or known.plan_sha256 != row.plan_sha256:
            raise ComparisonError(
                "key-taken", _("Another comparison has this key"), _("choose the file again")
            ) from None
        return known
    return row


def comparison_retire(by: Person, *, comparison: Comparison, why: str, at: datetime) -> bool:
    """Say that it is no longer to be used; it stays to be looked at. False where that was said already."""
    return end(by, "comparison retired", comparison, as_="retired", why=why, at=at)


def pairs_take(by: Person, *, tested: Technique) -> str:
    """The pairs of the practice's own sessions as a file; the journal tells who took them and the sha256.

    Raises ComparisonError as `pairs_of_sessions` does.
    """
    rows = pairs_of_sessions(by.practice, tested=tested)
    text = pairs_text(rows)
    told: dict[str, object] = {"pairs": len(rows.rows), "sha256": sha256_of(text.encode())}
    with together():
        journal.write(by, "de-identified pairs made", by.practice, after=told)
    return text


def sha256_of(content: bytes) -> str:
    """Under which bytes are kept."""
    return hashlib.sha256(content).hexdigest()
