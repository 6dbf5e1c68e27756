"""What is told of the animal beyond its session: the options, and the background that they make."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, cast

import click

from quietlimb.cli.days import Day
from quietlimb.cli.faults import remark_on, wrong_use
from quietlimb.cli.numbers import Number
from quietlimb.cli.options import one_of_two
from quietlimb.engine.circumstances import Species, Technique
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.interpretation.background import NOTHING_TOLD, OLDEST_YEARS, Background
from quietlimb.engine.standards.causes import CONDITIONS, DRUG_CLASSES, Condition, DrugClass
from quietlimb.engine.standards.low_pressure import MEAN_BELOW, MEAN_LIMITS

if TYPE_CHECKING:
    from quietlimb.engine.follow_up.history import History


NO_DAY = "--history needs the day of the session"


@dataclass(frozen=True, slots=True, kw_only=True)
class AnimalTold:
    """The animal as told by options.

    background  : without its earlier sessions
    situational : those who saw it think that the visit raised the pressure
    method_sd   : of the method against arterial pressure [mmHg]
    low_mean    : below which a mean pressure is low [mmHg]
    history     : path of the file with its earlier sessions
    on          : day of the session
    """

    background: Background = NOTHING_TOLD
    situational: bool = False
    method_sd: float = 0.0
    low_mean: float = MEAN_BELOW.value
    history: str | None = None
    on: date | None = None

    def background_of(
        self, species: Species, method: Technique, started_at: str | None = None
    ) -> tuple[Background, float | None]:
        """With the earlier sessions where a history is told; what options tell stands whatever the file says.
        Beside it how far this animal varies from session to session, where its sessions by this method tell. [mmHg]

        started_at : ISO 8601, for a day that no option tells

        Raises
        ------
        FileError : the history cannot be read.
        ParameterError : there is a history and no day (`no-day`).
        """
        if self.history is None:
            return self.background, None
        from quietlimb.engine.follow_up.earlier_sessions import day_to_day_sd, earlier_sessions, is_moved
        from quietlimb.engine.units import DAYS_PER_YEAR
        from quietlimb.exchange.history_csv import read_history

        on = self.on or _day(started_at)
        if on is None:
            raise ParameterError("no-day", NO_DAY, "give --on, as 2031-02-04, or a line # started_at in the file")
        history = read_history(self.history, species=species)
        day = on.toordinal()
        _tell_what_is_not_used(self.history, history, on)
        sessions = earlier_sessions(history, day)
        before = history.before(day - 1)
        last = day - int(sessions[-1].days_ago) if sessions else 0
        told, born = self.background, history.born_day
        background = replace(
            told,
            age_years=(day - born) / DAYS_PER_YEAR if told.age_years is None and born is not None else told.age_years,
            at_risk=history.at_risk,
            history=sessions,
            treated=told.treated or before.treated,
            treatment_moved=is_moved(history.events, last, day),
        )
        return background, day_to_day_sd(before, method)


def _tell_what_is_not_used(path: str, history: History, on: date) -> None:
    remark = remark_on(path)
    later = sum(session.day >= on.toordinal() for session in history.sessions)
    if later:
        remark(f"sessions on {on.isoformat()} or later that are left out: {later}")
    if history.organ_damage == "present":
        remark("it tells organ damage, but not of which organ; it counts only where --organs names the organ")


def _day(started_at: str | None) -> date | None:
    """The day of an ISO 8601 date and time; None where none is told, or in another form."""
    try:
        return None if started_at is None else date.fromisoformat(started_at[: len("2031-02-04")])
    except ValueError:
        return None


def listed(text: str | None) -> tuple[str, ...] | None:
    """Words with commas between; `none` for nothing, which is more than not told."""
    if text is None:
        return None
    words = tuple("-".join(word.split()).casefold() for word in text.split(",") if word.strip())
    return () if words == ("none",) else words


NOTHING = AnimalTold()
conditions_option = click.option(
    "--conditions", metavar="LIST", help=f"Illnesses in the record, or none: {', '.join(CONDITIONS)}."
)
drugs_option = click.option(
    "--drugs", metavar="LIST", help=f"Kinds of drugs in the record, or none: {', '.join(DRUG_CLASSES)}."
)
young_option = click.option("--young", is_flag=True, help="It is young and healthy.")
_OPTIONS = (
    click.option(
        "--method-sd",
        type=Number(least=0.0, most=100.0),
        default=0.0,
        help="Standard deviation of the method against arterial pressure, mmHg, where a comparison gave it.",
    ),
    click.option(
        "--low-mean",
        type=click.Choice([f"{limit:g}" for limit in MEAN_LIMITS]),
        default=f"{MEAN_BELOW.value:g}",
        show_default=True,
        help="Below which a mean pressure is low, mmHg.",
    ),
    click.option("--breed", help="For a remark; changes no category."),
    conditions_option,
    drugs_option,
    click.option("--excited", is_flag=True, help="The animal was excited."),
    click.option("--calm", is_flag=True, help="It was calm. With neither it is not told how it was."),
    click.option("--first-visit", is_flag=True, help="It had never been there before."),
    young_option,
    click.option(
        "--age",
        type=Number(least=0.0, most=OLDEST_YEARS),
        help="Age in years, for when to measure a normal animal again.",
    ),
    click.option("--weak", is_flag=True, help="It is weak or faint."),
    click.option("--not-weak", is_flag=True, help="It is neither. Without this and --weak it is not told."),
    click.option("--situational", is_flag=True, help="Who saw it thinks that the visit raised the pressure."),
    click.option("--treated", is_flag=True, help="Under treatment against high pressure; a --history tells it too."),
    click.option(
        "--history",
        type=click.Path(),
        metavar="FILE",
        help="Earlier sessions, as for `follow`: the status of the animal rests on them and on this one.",
    ),
    click.option(
        "--on", "on", type=Day(), metavar="DATE", help="The day of the session; with --history, where no file tells it."
    ),
)


def animal_options(command: Callable[..., object]) -> Callable[..., object]:
    """Everything that can be told of the animal, handed over together as `animal`."""

    @functools.wraps(command)
    def told(
        *,
        method_sd: float,
        low_mean: str,
        breed: str | None,
        conditions: str | None,
        drugs: str | None,
        age: float | None,
        excited: bool,
        calm: bool,
        first_visit: bool,
        young: bool,
        weak: bool,
        not_weak: bool,
        situational: bool,
        treated: bool,
        history: str | None,
        on: date | None,
        **others: Any,
    ) -> object:
        with wrong_use():
            background = Background(
                breed=breed,
                conditions=cast("tuple[Condition, ...] | None", listed(conditions)),
                drugs=cast("tuple[DrugClass, ...] | None", listed(drugs)),
                age_years=age,
                excited=one_of_two(excited, calm, "--excited and --calm"),
                first_visit=first_visit or None,
                young=young or None,
                weak=one_of_two(weak, not_weak, "--weak and --not-weak"),
                treated=treated,
            )
        animal = AnimalTold(
            background=background,
            situational=situational,
            method_sd=method_sd,
            low_mean=float(low_mean),
            history=history,
            on=on,
        )
        return command(animal=animal, **others)

    return functools.reduce(lambda wrapped, option: option(wrapped), reversed(_OPTIONS), told)
