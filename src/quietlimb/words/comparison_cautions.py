"""What stands before the figures of a comparison: what is wrong with the pairs or with how they came about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from quietlimb.agreement.cautions import FEW_ANIMALS, Caution, cautions_of
from quietlimb.agreement.line_summary import summarise_lines
from quietlimb.agreement.pair_rows import PairRows
from quietlimb.agreement.summary import Comparison
from quietlimb.words.arterial_line import line_fault_sentences
from quietlimb.words.language import _, mark, plural

CAUTIONS: Mapping[str, str] = {
    "all-the-same": mark(
        "All differences of the {names} pressure are {difference:+g} mmHg: two methods hardly ever agree so, look "
        "whether one column was copied from the other."
    ),
    "one-value-tested": mark(
        "The tested method gave the same {names} pressure throughout: it tells nothing of the animals, however near it "
        "lies to them."
    ),
    "one-value-reference": mark("The reference gave the same {names} pressure throughout: look at the column."),
    "species-mixed": mark(
        "The pairs are of several species ({names}): bias, limits and shares are those of the mixture and of no animal "
        "in it. Criteria are judged for each species; compare each in a file of its own."
    ),
    "sites-mixed": mark(
        "The pairs are of several sites ({names}): bias, limits and verdicts are those of the mixture. Compare each "
        "site in a file of its own."
    ),
    "not-blinded": mark(
        "The methods were read with knowledge of each other: values drift towards each other, and agreement looks "
        "better than it is."
    ),
}


def cautions_before(rows: PairRows, compared: Sequence[Comparison]) -> list[str]:
    """What is wrong with the arterial lines, then with the pairs; a sentence each, to stand before the figures."""
    lines = summarise_lines(rows)
    faults = [] if lines is None else line_fault_sentences(lines)
    return [*faults, *map(caution_sentence, cautions_of(rows, compared))]


def caution_sentence(caution: Caution) -> str:
    """One of them."""
    if caution.code == "told-twice":
        count = caution.numbers["rows"]
        return plural(
            "{count:.0f} row says the same of the same animal and occasion as another: look whether it was copied.",
            "{count:.0f} rows say the same of the same animal and occasion as others: look whether they were copied.",
            count,
        ).format(count=count)
    if caution.code == "few-animals":
        count = caution.numbers["animals"]
        told = plural("{count:.0f} animal", "{count:.0f} animals", count).format(count=count)
        return _(
            "Few animals ({told}): the intervals of concordance, kappa and sensitivity are too short under {few:.0f} "
            "animals. With 8 they held the truth in 88 to 93 of 100 simulated comparisons, in place of 95."
        ).format(told=told, few=FEW_ANIMALS.value)
    return _(CAUTIONS[caution.code]).format(names=", ".join(_(name) for name in caution.names), **caution.numbers)
