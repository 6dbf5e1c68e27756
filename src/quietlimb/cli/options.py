"""Options that several commands share."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar, cast, get_args

import click

from quietlimb.cli.faults import wrong_use
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.interpretation import Organ, OrganState
from quietlimb.engine.interpretation.organs import EYES, organ_checks
from quietlimb.engine.standards.rule_sets import DEFAULT, RULE_SETS, rule_set

if TYPE_CHECKING:
    from quietlimb.engine.reading import Method
    from quietlimb.engine.session.guideline import Variability

Command = TypeVar("Command", bound=Callable[..., object])

METHODS: dict[str, Method] = {
    "artery-fit": "artery fit",
    "fixed-ratios": "fixed ratios",
    "steepest-flanks": "steepest flanks",
}
VARIABILITIES: tuple[Variability, ...] = ("range", "largest-distance", "coefficient-of-variation")
ORGANS = (*get_args(Organ), *EYES)
ORGAN_STATES = get_args(OrganState)


def one_of_two(yes: bool, no: bool, names: str) -> bool | None:
    """What two options that exclude each other tell; None where neither was given.

    Two flags and not a pair of click's, of which the last one given would win without a word.
    """
    if yes and no:
        raise click.UsageError(f"{names} contradict each other; give one of them")
    return True if yes else False if no else None


def species_option(
    *, required: bool = False, says: str = "The animal, for files that do not say."
) -> Callable[[Command], Command]:
    """--species cat|dog."""
    return click.option("--species", type=click.Choice(get_args(Species)), required=required, help=says)


method_option = click.option(
    "--method",
    type=click.Choice(list(METHODS)),
    default="artery-fit",
    show_default=True,
    help="How a recording becomes pressures. The other two are there to compare with; the 95 % intervals of "
    "fixed-ratios hold far less than 95 %.",
)
channel_option = click.option(
    "--channel", metavar="LABEL", help="The cuff pressure, by label or number, in EDF and WFDB files."
)
json_option = click.option("--json", "as_json", is_flag=True, help="One JSON object a line instead of text.")
organs_option = click.option(
    "--organs",
    callback=lambda _context, _parameter, text: organs_from(text),
    metavar="ORGAN=STATE,...",
    help=f"What is known of {', '.join(ORGANS)}: {', '.join(ORGAN_STATES)} (known disease: of the kidneys, and not "
    "progressing). Not named means not examined.",
)
rules_option = click.option(
    "--rules",
    type=click.Choice(list(RULE_SETS)),
    default=DEFAULT,
    show_default=True,
    help="The published rule set: acvim-2007 and iris-2015 for old charts, isfm-2017 for cats alone.",
)


def refuse_rules_of_another_species(rules: str, species: Species | None) -> None:
    """Rule set and species that the command line itself tells must go together; a file's are looked at with the file.

    Raises
    ------
    click.UsageError : they do not.
    """
    if species is not None:
        with wrong_use():
            rule_set(rules, species)


def organs_from(text: str | None) -> dict[Organ, OrganState]:
    """`eyes=present,brain=absent` as a mapping; a hyphen may stand for the blank in `not examined`."""
    organs: dict[Organ, OrganState] = {}
    for part in (text or "").split(","):
        if not part.strip():
            continue
        organ, _, state = (word.strip().casefold().replace("-", " ") for word in part.partition("="))
        if organ not in ORGANS:
            raise click.BadParameter(f"{organ!r} is not an organ; use {', '.join(ORGANS)}")
        if state not in ORGAN_STATES:
            raise click.BadParameter(f"{state!r} is not a state of {organ}; use {', '.join(ORGAN_STATES)}")
        if organs.get(cast(Organ, organ), state) != state:
            raise click.BadParameter(
                f"{organ} is told twice, as {organs[cast(Organ, organ)]} and as {state}; tell it once"
            )
        organs[cast(Organ, organ)] = cast(OrganState, state)
    try:
        organ_checks(organs)
    except ParameterError as error:
        raise click.BadParameter(f"{error.says}; {error.remedy}") from None
    return organs
