"""A comparison as an accessible PDF (PDF/UA-1): sentences, criteria, figures, plan, methods. It decides nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, get_args

from quietlimb.agreement.line_summary import summarise_lines
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.summary import Comparison
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.version import ENGINE_VERSION
from quietlimb.figures.comparison import comparison_figures
from quietlimb.figures.export import svg
from quietlimb.figures.invented import INVENTED_WORDS
from quietlimb.reports.typesetting import Paper, cleaned, typeset
from quietlimb.words import comparison as words
from quietlimb.words import comparison_tables as tables
from quietlimb.words.arterial_line import line_sentences
from quietlimb.words.comparison_cautions import cautions_before
from quietlimb.words.language import _, mark

TEMPLATE = Path(__file__).parent / "comparison.typ"
LONGEST_NAME, LONGEST_TEXT = 120, 4000


def comparison_pdf(
    rows: PairRows, compared: Sequence[Comparison], told: Mapping[str, Any], *, paper: Paper = "a4"
) -> bytes:
    """The report as PDF. The same input gives the same bytes.

    told : the comparison as JSON has it

    Raises
    ------
    ParameterError : another paper (`unknown-paper`).
    ReportError    : no font has a letter, or the page cannot be set.
    """
    if paper not in get_args(Paper):
        raise ParameterError("unknown-paper", f"paper is {paper!r}", f"use one of: {', '.join(get_args(Paper))}")
    pictures = list(comparison_figures(rows, compared))
    parts = [
        {
            "heading": f"{each.quantity.capitalize()} pressure",
            "says": words.comparison_sentences(each),
            "tables": [_table(judged) for judged in each.judgements],
            "others": _others(each),
            "missing": tables.missing_sentences(each),
            "pictures": [
                {"svg": svg(spec), "description": spec["description"]}
                for name, spec in pictures
                if name.startswith(f"{each.quantity}-")
            ],
        }
        for each in compared
    ]
    lines = summarise_lines(rows)
    content = {
        "paper": paper,
        "title": cleaned(f"{rows.tested_name} against {rows.reference_name}", LONGEST_NAME),
        "about": f"{words.animals_words(len(rows.animals))}, {words.determinations_words(len(rows.rows))} "
        f"({words.truth_words(rows.truth)})",
        "invented": INVENTED_WORDS if rows.invented else None,
        "before": {"heading": _("Before the figures"), "says": cautions_before(rows, compared)},
        "line": [] if lines is None else line_sentences(lines),
        "columns": [_("criterion"), _("found"), _("wanted"), _("verdict")],
        "parts": parts,
        "plan": _plan(told["plan"]),
        "methods": cleaned(told["methods"], LONGEST_TEXT),
        "cautions": words.cautions_after(rows),
        "footer": f"Quietlimb {ENGINE_VERSION}, not a certified medical device",
    }
    return typeset(TEMPLATE, content, None, "pdf")[0]


def _table(judgement: Any) -> dict[str, Any]:
    sources = dict.fromkeys(words.criterion_source(each) for each in judgement.judged)
    return {
        "name": words.scheme_name(judgement),
        "why": words.why_not(judgement),
        "rows": [
            [
                words.criterion_name(each),
                words.criterion_value(each),
                words.criterion_limit(each),
                words.verdict_name(each.verdict),
            ]
            for each in judgement.judged
        ],
        "sources": " ".join(source for source in sources if source),
    }


def _others(found: Comparison) -> list[dict[str, Any]]:
    """Every other table: heading, columns, rows."""
    names, counts = tables.category_rows(found)
    made: list[tuple[str, Sequence[str], Sequence[tuple[str, ...]]]] = [
        (_("Bias by range"), tables.RANGE_HEADER, tables.range_rows(found)),
        *(
            (
                _("{scheme}, by range").format(scheme=words.scheme_name(each)),
                tables.VERDICT_HEADER,
                tables.verdict_rows(each, found),
            )
            for each in found.judgements
        ),
        (_("Other figures"), (mark("figure"), mark("value")), words.figure_rows(found)),
        (_("Risk categories"), names, counts),
    ]
    return [
        {"name": name, "columns": [_(each) for each in header], "rows": [list(row) for row in rows]}
        for name, header, rows in made
        if rows
    ]


def _plan(told: Mapping[str, Any] | None) -> list[str]:
    if told is None:
        return [_("No plan was given.")]
    about = cleaned(f"{told['title']}, {told['made_on']}, {told['fingerprint'][:16]}", LONGEST_NAME)
    if told["as_planned"]:
        return [_("{about}: run as planned.").format(about=about)]
    return [_("{about}: not run as planned.").format(about=about), *(each["says"] for each in told["departs"])]
