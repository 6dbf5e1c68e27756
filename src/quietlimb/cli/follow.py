"""`quietlimb follow`: the months of an animal."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from quietlimb.cli.days import Day
from quietlimb.cli.faults import Batch, remark_on
from quietlimb.cli.numbers import Number
from quietlimb.cli.options import json_option, refuse_rules_of_another_species, rules_option, species_option
from quietlimb.cli.outputs import refuse_to_overwrite_inputs
from quietlimb.cli.paths import matches
from quietlimb.cli.pictures import numbered, picture_option
from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import QuietlimbError
from quietlimb.engine.standards.rule_sets import rule_set

if TYPE_CHECKING:
    from quietlimb.engine.follow_up.follow import FollowUp


@click.command(short_help="Sessions over months: level, change, target, recheck.")
@click.argument("paths", nargs=-1, required=True, metavar="HISTORY.csv...")
@species_option()
@click.option("--on", "on", type=Day(), metavar="DATE", help="The day to judge from, as 2031-06-03; today if left out.")
@click.option("--since", type=Day(), metavar="DATE", help="Tell the change since this day as well.")
@click.option("--until", type=Day(), metavar="DATE", help="With --since: up to this day, not to the latest session.")
@click.option(
    "--by",
    type=Number(least=1.0, most=100.0),
    default=10.0,
    show_default=True,
    help="How large a change is asked about, in mmHg.",
)
@rules_option
@click.option(
    "--due", is_flag=True, help="Only the recheck list: who is overdue, due or not due yet, by need, and by which rule."
)
@picture_option
@json_option
def follow(
    paths: tuple[str, ...],
    species: Species | None,
    on: date | None,
    since: date | None,
    until: date | None,
    by: float,
    rules: str,
    due: bool,
    picture: Path | None,
    as_json: bool,
) -> None:
    """Follow an animal over its sessions: underlying pressure, what changed, whether the goal is reached, when to
    measure again.

    HISTORY.csv has a row for each session, and tells when treatment was begun, changed or stopped.
    """
    from quietlimb.cli.follow_text import due_lines, follow_lines, who
    from quietlimb.cli.layout import wrapped
    from quietlimb.exchange.follow_json import follow_error_object, follow_object
    from quietlimb.exchange.json_values import dump_line

    def tell(path: str, error: QuietlimbError) -> None:
        click.echo(dump_line(follow_error_object(path, error)))

    refuse_rules_of_another_species(rules, species)
    seen_on = on or date.today()
    if until is not None and since is None:
        raise click.UsageError("--until is told without --since; give the day from which the change is asked about")
    batch = Batch(tell if as_json else None)
    files: list[str] = []
    for given in paths:
        with batch.file(given):
            files.extend(matches(given))
    if picture is not None:
        refuse_to_overwrite_inputs([numbered(picture, k + 1, len(files)) for k in range(len(files))], files)
    followed: list[tuple[str, FollowUp]] = []
    for ordinal, path in enumerate(files, start=1):
        with batch.file(path):
            found = _followed(path, species, seen_on, (since, until), by, rules)
            followed.append((path, found))
            if not due:
                if as_json:
                    click.echo(dump_line(follow_object(path, found)))
                else:
                    click.echo("\n".join([*follow_lines(path, found), ""]))
            if picture is not None:
                _draw(found, numbered(picture, ordinal, len(files)), path)
    if due and followed:
        ordered = _by_need(followed)
        if as_json:
            for path, found in ordered:
                click.echo(dump_line(follow_object(path, found)))
        else:
            rechecks = [(path, found, found.recheck) for path, found in ordered if found.recheck is not None]
            click.echo("\n".join(due_lines(rechecks, seen_on.toordinal())))
            without = [who(path, found) for path, found in ordered if found.recheck is None]
            if without:
                click.echo("\n".join(wrapped(f"No rule sets a day: {', '.join(without)}")))
    batch.end()


def _followed(
    path: str, species: Species | None, on: date, between: tuple[date | None, date | None], by: float, rules: str
) -> FollowUp:
    from quietlimb.engine.follow_up.follow import follow as follow_history
    from quietlimb.exchange.history_csv import read_history

    tell = remark_on(path)
    history = read_history(path, species=species, tell=tell)
    since_day, until_day = (None if day is None else day.toordinal() for day in between)
    found = follow_history(
        history,
        on_day=on.toordinal(),
        by_mmhg=by,
        rules=rule_set(rules, history.species),
        since_day=since_day,
        until_day=until_day,
    )
    later = sum(session.day > on.toordinal() for session in history.sessions)
    if later:
        tell(f"sessions after {on.isoformat()} are left out: {later}")
    return found


def _by_need(followed: list[tuple[str, FollowUp]]) -> list[tuple[str, FollowUp]]:
    """By need; those that no rule asks for at the end."""
    from quietlimb.engine.follow_up.recheck import in_order_of_need

    some = in_order_of_need((pair, pair[1].recheck) for pair in followed if pair[1].recheck is not None)
    return [pair for pair, _ in some] + [pair for pair in followed if pair[1].recheck is None]


def _draw(found: FollowUp, target: Path, path: str) -> None:
    from quietlimb.engine.follow_up.path import level_path
    from quietlimb.figures.export import save
    from quietlimb.figures.history import history_figure

    drawn = None if found.latest is None else level_path(found.latest.course, found.on_day)
    save(history_figure(found, drawn, title=Path(path).name), target)
    click.echo(f"{path}: picture in {target}", err=True)
