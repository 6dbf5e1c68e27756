"""What a pressure means, as text."""

from __future__ import annotations

from quietlimb.cli.layout import bullets, table, wrapped
from quietlimb.engine.circumstances import Species
from quietlimb.engine.interpretation.interpretation import Interpretation
from quietlimb.engine.standards.breeds import is_a_breed
from quietlimb.engine.standards.low_pressure import SYSTOLIC_BELOW
from quietlimb.reports.phrases import advice_line
from quietlimb.words import advice, cautions
from quietlimb.words.breeds import breed_sentence, no_figure_sentence
from quietlimb.words.categories import LOW_CODES, heading, is_low, pressure_range, share_name
from quietlimb.words.clues import clue_sentence
from quietlimb.words.in_record import record_sentence
from quietlimb.words.numerals import percent
from quietlimb.words.organs import check_list, check_state, figures, organ_name
from quietlimb.words.other_rules import other_rules_sentences, would_change_sentence
from quietlimb.words.sources import day_to_day_source, rules_and_standing
from quietlimb.words.status import status_sentence

LOW_TOLD_FROM = 0.01  # probability
EXAMINE_CODES = frozenset({"organ-check-first", "organs-still-unknown", "eye-examination-urgent"})


def low_pressure_lines(interpretation: Interpretation) -> list[str]:
    """What a low pressure asks for at once, to stand above everything else; none where it is not low."""
    codes = LOW_CODES | {"look-at-the-animal-and-call", "too-low-under-treatment"}
    return [line for each in interpretation.next if each.code in codes for line in wrapped(advice.sentence(each))]


def category_lines(interpretation: Interpretation) -> list[str]:
    """The category, and the probabilities of all where there are any."""
    lines = [f"Risk category ({rules_and_standing(interpretation)})", *wrapped(heading(interpretation))]
    if interpretation.today:
        header = ("", "systolic", "today", "this animal")
        rows = [
            (
                share_name(interpretation, today.name),
                pressure_range(today.from_mmhg, today.to_mmhg),
                percent(today.probability),
                percent(animal.probability),
            )
            for today, animal in zip(interpretation.today, interpretation.animal, strict=True)
        ]
        low = (interpretation.low_today or 0.0, interpretation.low_animal or 0.0)
        if max(low) >= LOW_TOLD_FROM:
            rows.insert(
                1, ("of these, low", pressure_range(None, SYSTOLIC_BELOW.value), percent(low[0]), percent(low[1]))
            )
        lines += table(header, rows, left=frozenset({"", "systolic"}))
        method = interpretation.method_sd
        error = f", and the error of the method, {method:.0f} mmHg" if method else ""
        lines += wrapped(
            "today: this session by this method; this animal: with the change from day to day, standard deviation "
            f"{interpretation.day_to_day_sd:.0f} mmHg {day_to_day_source(interpretation)}{error}"
        )
    return lines


def animal_lines(interpretation: Interpretation) -> list[str]:
    """The status over the sessions, clues to a rise by the visit, what is printed about the breed."""
    told = [] if interpretation.status is None else [status_sentence(interpretation.status)]
    told += [clue_sentence(clue) for clue in interpretation.clues]
    if interpretation.breed is not None:
        told.append(breed_sentence(interpretation.breed))
    elif interpretation.breed_told is not None and is_a_breed(interpretation.breed_told):
        told.append(no_figure_sentence(interpretation.breed_told))
    return ["The animal", *bullets(told)] if told else []


def record_lines(interpretation: Interpretation, species: Species) -> list[str]:
    """What is printed about illnesses and drugs in the record; none where there are none."""
    told = [record_sentence(each, species) for each in interpretation.in_record]
    return ["What goes with high pressure", *bullets(told)] if told else []


def other_lines(interpretation: Interpretation) -> list[str]:
    """What other rule sets would say where they differ; none where none does."""
    told = other_rules_sentences(interpretation.others)
    return ["Other rule sets, where they differ", *bullets(told)] if told else []


def would_change_lines(interpretation: Interpretation) -> list[str]:
    """What would change the advice; none where nothing near would."""
    told = [would_change_sentence(change) for change in interpretation.would_change]
    return ["What would change the advice", *bullets(told)] if told else []


def next_lines(interpretation: Interpretation) -> list[str]:
    """What to do next, with the source of each or the one of all, and the cautions."""
    shared = advice.shared_source_line(interpretation.next)
    sources = ["" if shared else f" {advice.source_line(each)}" for each in interpretation.next]
    sentences = [advice_line(each) + source for each, source in zip(interpretation.next, sources, strict=True)]
    return [
        "Next",
        *bullets(sentences),
        *(wrapped(shared) if shared else []),
        "",
        "Cautions",
        *bullets(cautions.sentence(caution) for caution in interpretation.cautions),
    ]


def organ_lines(interpretation: Interpretation) -> list[str]:
    """The state of each organ in one table."""
    rows = [(organ_name(check.organ), check_state(check)) for check in interpretation.organs]
    return ["Organs", *table(("", " "), rows, left=frozenset({"", " "}))[1:]]


def check_list_lines(interpretation: Interpretation, species: Species) -> list[str]:
    """The check list of the organs of which nothing certain is known, with what is printed about each.

    It is about damage by high pressure: with a low pressure it is left out unless the advice asks for it.
    """
    asked = any(each.code in EXAMINE_CODES for each in interpretation.next)
    if is_low(interpretation) and not asked:
        return []
    lines = []
    for check in interpretation.organs:
        if check.state not in ("not examined", "unclear"):
            continue
        told = check_list(check.organ)
        lines += wrapped(f"{told.name}: {told.examine}. Look for {told.look_for}. At home: {told.noticed_at_home}.")
        lines += bullets(figures(check.organ, species))
    title = "To examine" if asked else "How the organs not yet known are examined, where it is wished"
    return [title, *lines] if lines else []
