"""The plain words at the beginning of an inspection folder."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.utils import timezone

from quietlimb.engine.standards.rule_sets import RULE_SETS
from quietlimb.engine.version import ENGINE_VERSION

INVENTED = "INVENTED - not a patient. This practice holds demo data.\n\n"

TEXT = """\
{invented}Inspection folder
{practice}
As of the end of {last}; sessions and journal from {first} to {last}
Made on {made} by {made_by}

Blood pressure of cats and dogs, measured with a cuff. Quietlimb advises only, the veterinarian decides; it is not a
certified medical device. This folder holds names of people, animals and, in the journal, owners: keep it accordingly.

As it was on the last day, told by the journal
  people.csv         who worked here in which roles, and who could no longer sign in
  competence.csv     what they had been taught, by whom, sessions watched, and whether it was good on the day
  instruments.csv    instruments and manometers with the order of their numbers, whether they were in service, and how
                     they stood by their checks: good until, due, overdue, failed
  cuffs.csv          cuffs by the width of their bladder, in the same way
  rule_set.csv       the rule set for new work, {rules}, with the source and standing of each boundary

Of the period
  sessions.csv       each session that started in it, as it stands now
  readings.csv       their readings, with those spoiled or struck through
  signed_values.csv  what was signed in it: charted and signed pressure, why they differ, rule set, engine version
  amendments.csv     what stands beside these signed values, also where it was added after the period
  checks.csv         checks of instruments and cuffs that were entered in it, with verdict, figure and limit
  decisions.csv      what was decided in it of sessions that a failed check held in doubt
  journal.jsonl      every change in it: who, when, what, before, after, why; one entry a line, each with its hash; goes
                     on until the last signature and amendment above has been told
  signed_values.jsonl, amendments.jsonl, checks.jsonl, decisions.jsonl
                     the same rows as they are stored, with all that each rests on; for checking
  SHA256SUMS.txt     the sha256 of every other file in here

Retention, in the practice's words: {retention}

How to check it
  python3 check.py   needs Python 3 and nothing else; looks at every file in here

Each journal entry holds the hash of the one before it. Its own hash is the sha256 of the rest of the line, written as
JSON in ASCII with sorted keys and without blanks. The seal of a signed value, a check or a decision is made in the same
way, and the journal holds the row as it was written. So whoever changes one of them has to change all that follows. The
tables for people are checked against SHA256SUMS.txt, and those of sealed rows against these. Whoever changes a table
and SHA256SUMS.txt together is found by the sha256 of this whole ZIP, which the journal at the practice holds in the
entry "inspection folder made". An end that was cut off whole is not seen in the folder alone: compare the hash of the
last entry with that of another folder, or with what "quietlimb clinic verify" prints at the practice.

Made by Quietlimb {engine}. In the tables an apostrophe stands before a cell that begins with = + - or @, so that no
spreadsheet takes it for a formula. Times are those of {zone}.
"""


def readme(then: dict[str, Any], first: date, last: date, *, made_by: str, at: datetime) -> str:
    """The text for a practice as it was then."""
    return TEXT.format(
        invented=INVENTED if then["invented"] else "",
        practice=then["name"],
        first=first.isoformat(),
        last=last.isoformat(),
        made=timezone.localtime(at).isoformat(sep=" ", timespec="minutes"),
        made_by=made_by,
        rules=RULE_SETS[then["rules"]].name,
        retention=then.get("retention") or "not told",
        engine=ENGINE_VERSION,
        zone=timezone.get_current_timezone_name(),
    )
