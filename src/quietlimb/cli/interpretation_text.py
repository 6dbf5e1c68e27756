"""What a pressure means, as text."""

from __future__ import annotations

from quietlimb.cli.layout import bullets, table, wrapped
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.reports.phrases import advice_line, percent
from quietlimb.words import advice, cautions
from quietlimb.words.categories import category_name, category_risk, pressure_range
from quietlimb.words.organs import check_list, organ_name, state_name


def category_lines(interpretation: Interpretation) -> list[str]:
    """The category, and the probabilities of all where there are any."""
    category = interpretation.category
    name = category_name(category)
    said = name if category is None else f"{name}: {category_risk(category)}"
    lines = [f"Risk category ({interpretation.rule_set})", *wrapped(said)]
    if interpretation.today:
        header = ("", "systolic", "today", "this animal")
        rows = [
            (
                category_name(today.name),
                pressure_range(today.from_mmhg, today.to_mmhg),
                percent(today.probability),
                percent(animal.probability),
            )
            for today, animal in zip(interpretation.today, interpretation.animal, strict=True)
        ]
        lines += table(header, rows, left=frozenset({"", "systolic"}))
        lines += wrapped(
            "today: this session by this method; this animal: with the change from day to day, standard deviation "
            f"{interpretation.day_to_day_sd:.0f} mmHg"
        )
    return lines


def next_lines(interpretation: Interpretation) -> list[str]:
    """What to do next, each with its source, and the cautions."""
    sentences = [f"{advice_line(each)} {advice.source_line(each)}" for each in interpretation.next]
    return [
        "Next",
        *bullets(sentences),
        "",
        "Cautions",
        *bullets(cautions.sentence(caution) for caution in interpretation.cautions),
    ]


def organ_lines(interpretation: Interpretation) -> list[str]:
    """The state of each organ in one table."""
    rows = [(organ_name(check.organ), state_name(check.state)) for check in interpretation.organs]
    return ["Organs", *table(("", " "), rows, left=frozenset({"", " "}))[1:]]


def check_list_lines(interpretation: Interpretation) -> list[str]:
    """The check list of the organs of which nothing certain is known."""
    lines = []
    for check in interpretation.organs:
        if check.state not in ("not examined", "unclear"):
            continue
        told = check_list(check.organ)
        lines += wrapped(f"{told.name}: {told.examine}. Look for {told.look_for}. At home: {told.noticed_at_home}.")
    return ["To examine", *lines] if lines else []
