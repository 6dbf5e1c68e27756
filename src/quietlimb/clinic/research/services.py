"""Making a de-identified export, which the journal tells."""

from __future__ import annotations

import hashlib
from dataclasses import asdict

from quietlimb.clinic.journal import writing as journal
from quietlimb.clinic.people.models import Person
from quietlimb.clinic.research.deidentified import deidentified
from quietlimb.clinic.stores import together


def export_make(by: Person) -> bytes:
    """The ZIP; who made it, how much is in it and its sha256 stand in the journal, its keys nowhere.

    Raises ExportError as `deidentified` does.
    """
    content, counts = deidentified(by.practice)
    told: dict[str, object] = {**asdict(counts), "sha256": hashlib.sha256(content).hexdigest()}
    with together():
        journal.write(by, "de-identified export made", by.practice, after=told)
    return content
