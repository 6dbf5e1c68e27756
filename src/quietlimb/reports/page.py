"""The page for the record: one sheet, A4 or US letter, as an accessible PDF (PDF/UA-1).

All text reaches the typesetter as data and is never read as markup. Nothing is decided here: finished values and
sentences are arranged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, get_args

from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.session.charted import ChartedPressure
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.figures.invented import invented_words
from quietlimb.reports.phrases import (
    advice_line,
    caution_lines,
    course_line,
    digits_of,
    finding_line,
    guideline_line,
    interval,
    rule_line,
    why,
    with_interval,
)
from quietlimb.reports.setting import setting_lines
from quietlimb.reports.typesetting import Paper, cleaned, moment_of, typeset
from quietlimb.words import advice as advice_words
from quietlimb.words import categories as category_words
from quietlimb.words import organs as organ_words
from quietlimb.words import sources as source_words
from quietlimb.words.dates import date_and_time
from quietlimb.words.language import _
from quietlimb.words.numerals import percent

# Width of a session picture whose smallest letters come out at 7 pt or more in the column that it is printed in.
PAGE_PICTURE_PX = 350
TEMPLATE = Path(__file__).parent / "page.typ"
HEADING_FIELDS = ("practice", "animal", "owner", "number", "age", "weight")
LONGEST_FIELD = 80
LONGEST_REMARKS = 500
LONGEST_BESIDE = 1000  # study and reference of a conversion, with its figures
MOST_IN_FULL = 12  # readings; more are set compactly in three columns
MOST_COMPACT = 48


def report_pdf(
    charted: ChartedPressure,
    interpretation: Interpretation | None,
    *,
    paper: Paper = "a4",
    heading: Mapping[str, str | None] | None = None,
    figure_svg: str | None = None,
    created: str | None = None,
    signed: Sequence[str] = (),
    beside: Sequence[str] = (),
    substitute: str | None = None,
) -> bytes:
    """One page as PDF. The same input gives the same bytes.

    heading    : any of practice, animal, owner, number, age, weight; the animal is by default that of the circumstances
    figure_svg : the picture of the session (`figures.session`), as SVG
    created    : ISO 8601 date or date and time, printed and kept in the file; without a zone it is taken for UTC there
    signed     : what the veterinarian signed, and amendments, a sentence each
    beside     : what stands beside the charted pressure and never in its place, as converted values, a sentence each
    substitute : stands for each letter that no font here has; None refuses such a page

    Raises
    ------
    ParameterError : another paper, heading field or date (`unknown-paper`, `unknown-heading`, `not-a-date`).
    ReportError    : no font has a letter (`letter-not-printable`, naming letter and field), or the page cannot be set.
    """
    content = _content(charted, interpretation, paper, heading or {}, figure_svg, created, signed, beside)
    return typeset(TEMPLATE, content, created, "pdf", substitute=substitute)[0]


def report_png(
    charted: ChartedPressure,
    interpretation: Interpretation | None,
    *,
    paper: Paper = "a4",
    heading: Mapping[str, str | None] | None = None,
    figure_svg: str | None = None,
    created: str | None = None,
    signed: Sequence[str] = (),
) -> list[bytes]:
    """The same page as `report_pdf`, as pictures at 144 dots an inch: one for each sheet, so exactly one."""
    content = _content(charted, interpretation, paper, heading or {}, figure_svg, created, signed)
    return typeset(TEMPLATE, content, created, "png")


# -- the content --------------------------------------------------------------------------------------------------


def _heading(charted: ChartedPressure, heading: Mapping[str, str | None]) -> dict[str, str]:
    unknown = sorted(set(heading) - set(HEADING_FIELDS))
    if unknown:
        raise ParameterError(
            "unknown-heading", f"heading has {unknown[0]!r}", f"use any of: {', '.join(HEADING_FIELDS)}"
        )
    c = charted.series.circumstances
    given = {
        "animal": c.animal,
        **heading,
        "species": c.species,
        "breed": c.breed,
        "taken": c.started_at and date_and_time(c.started_at),
    }
    return {name: cleaned(value, LONGEST_FIELD) for name, value in given.items() if value}


def _number(value: float, digits: int = 0) -> str:
    return "" if value != value else f"{value:.{digits}f}"


def _readings(charted: ChartedPressure) -> list[dict[str, str]]:
    series = charted.series
    rows = []
    for k, judged in enumerate(charted.readings):
        weights = (judged.systolic_weight, judged.mean_weight, judged.diastolic_weight)
        rows.append(
            {
                "number": str(k + 1),
                "minute": f"{judged.minute:.1f}",
                "systolic": _number(series.systolic[k]),
                "mean": _number(series.mean[k]),
                "diastolic": _number(series.diastolic[k]),
                "rate": _number(series.pulse_rate[k]),
                "weight": " / ".join(f"{w:.2f}" for w in weights if w is not None),
                "systolic_weight": "" if judged.systolic_weight is None else f"{judged.systolic_weight:.2f}",
                "verdict": judged.verdict,
                "why": why(judged),
            }
        )
    return rows


def _result(charted: ChartedPressure, digits: int) -> dict[str, Any]:
    s = charted.systolic
    others = []
    for name, estimate, unit in (
        (_("mean"), charted.mean, "mmHg"),
        (_("diastolic"), charted.diastolic, "mmHg"),
        (_("pulse rate"), charted.pulse_rate, "/min"),
    ):
        if estimate is not None:
            others.append({"name": name, "value": with_interval(estimate), "unit": unit})
    return {
        "systolic": None if s is None else f"{s.value:.{digits}f}",
        "interval": None if s is None else _("95 % interval {interval}").format(interval=interval(s, digits)),
        "others": others,
        "guideline": guideline_line(charted.guideline, digits),
        "rule": "" if charted.guideline is None else rule_line(charted.guideline),
        "course": course_line(charted),
        "findings": [finding_line(f) for f in charted.findings],
    }


def _meaning(interpretation: Interpretation) -> dict[str, Any]:
    # A standing that all steps share is told once, below them.
    shared = advice_words.shared_source_line(interpretation.next)
    steps = [
        {"says": advice_line(a), "source": "" if shared else advice_words.source_line(a)} for a in interpretation.next
    ]
    places: dict[str, dict[str, None]] = {}
    for a in interpretation.next:
        places.setdefault(source_words.source_name(a.source), {})[a.place] = None
    return {
        "rule_set": source_words.rules_and_standing(interpretation),
        "heading": category_words.heading(interpretation),
        "categories": [
            {
                "name": category_words.share_name(interpretation, today.name),
                "range": category_words.pressure_range(today.from_mmhg, today.to_mmhg),
                "today": percent(today.probability),
                "animal": percent(animal.probability),
                "here": today.name == interpretation.category,
            }
            for today, animal in zip(interpretation.today, interpretation.animal, strict=True)
        ],
        "day_to_day": _(
            "The animal: allowing for a standard deviation of {sd:.0f} mmHg from day to day {source}."
        ).format(sd=interpretation.day_to_day_sd, source=source_words.day_to_day_source(interpretation)),
        "organs": [
            {
                "name": organ_words.organ_name(check.organ),
                "state": organ_words.state_name(check.state),
                "known": check.state in ("present", "absent"),
            }
            for check in interpretation.organs
        ],
        "next": steps,
        "shared_source": shared,
        "places": [f"{source}: {', '.join(where)}" for source, where in places.items()],
    }


def _content(
    charted: ChartedPressure,
    interpretation: Interpretation | None,
    paper: Paper,
    heading: Mapping[str, str | None],
    figure_svg: str | None,
    created: str | None,
    signed: Sequence[str],
    beside: Sequence[str] = (),
) -> dict[str, Any]:
    if paper not in get_args(Paper):
        raise ParameterError("unknown-paper", f"paper is {paper!r}", f"use one of: {', '.join(get_args(Paper))}")
    moment_of(created)
    rows = _readings(charted)
    circumstances = charted.series.circumstances
    return {
        "paper": paper,
        "invented": invented_words(circumstances),
        "heading": _heading(charted, heading),
        "created": created and date_and_time(created),
        "setting": [
            {
                "name": name,
                "value": cleaned(value, LONGEST_REMARKS if value == circumstances.remarks else LONGEST_FIELD),
            }
            for name, value in setting_lines(circumstances)
        ],
        "readings": rows[:MOST_COMPACT],
        "compact": len(rows) > MOST_IN_FULL,
        "not_shown": max(0, len(rows) - MOST_COMPACT),
        "origin": charted.series.origin,
        "result": _result(charted, digits_of(charted, interpretation)),
        "meaning": None if interpretation is None else _meaning(interpretation),
        "cautions": caution_lines(interpretation),
        "signed": [cleaned(line, LONGEST_REMARKS) for line in signed],
        "beside": [cleaned(line, LONGEST_BESIDE) for line in beside],
        "picture": figure_svg,
        "engine": ENGINE_VERSION,
        "fingerprint": charted.fingerprint,
    }
