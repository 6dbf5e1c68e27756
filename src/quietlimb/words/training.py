"""The debrief of a session with the training animal, in plain words: what was so, what each choice did, never blame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from quietlimb.engine.standards.acvim_2018 import DISCARD_FIRST, KEEP_AT_LEAST
from quietlimb.engine.values import Cited
from quietlimb.simulator.training.case import Case, Difficulty, FaultKind
from quietlimb.simulator.training.display import Displayed, Failure
from quietlimb.teaching.debriefing import Cost, Debrief, Tape
from quietlimb.teaching.marks import GRADES, Grade
from quietlimb.teaching.practice import LONGEST_REST, SHORTEST_REST, Code, Departure
from quietlimb.teaching.to_the_owner import WHICH_SAYING, OwnerTold, Saying
from quietlimb.words.language import _, mark, plural
from quietlimb.words.sources import source_and_standing, sources_and_standings

WIDER_MMHG = 1.5  # less is not worth a sentence [invented]
HARDLY_MMHG = 1.0  # less is hardly a difference [invented]

INVENTED = mark("Training animal: invented, not a patient. Nothing of it belongs into an animal's record.")

LIMBS: Mapping[str, str] = {"forelimb": mark("forelimb"), "hindlimb": mark("hindlimb"), "tail": mark("tail")}
DIFFICULTIES: Mapping[Difficulty, str] = {
    1: mark("one thing at a time"),
    2: mark("look closely"),
    3: mark("several things at once"),
}

# What there is to choose, as a form asks for it; in the order of `Choices`.
CHOICES: Mapping[str, str] = {
    "place": mark("where"),
    "acclimatisation_min": mark("wait before the first inflation, minutes"),
    "position": mark("position"),
    "site": mark("limb or tail"),
    "side": mark("side"),
    "cuff_width_cm": mark("width of the cuff, cm"),
    "cuff_below_heart_cm": mark("cuff below the heart, cm; above it with a minus"),
    "inflate_to_mmhg": mark("inflate to, mmHg"),
    "fall_mmhg_per_s": mark("let the air out by, mmHg a second"),
    "deflation": mark("evenly or by steps"),
    "limb_loaded": mark("weight upon the limb with the cuff"),
    "tail_held": mark("tail held still"),
    "on_table": mark("on the examination table"),
    "before_examination": mark("before the examination"),
    "owner_present": mark("owner there"),
    "drug_free": mark("no calming drug"),
    "setup_checked": mark("display held against a manometer, cuff and tube looked over"),
}

# A word or two for each departure, as a table of a class names it.
NAMES: Mapping[Code, str] = {
    "acclimatisation": mark("started early"),
    "place": mark("place not quiet"),
    "table": mark("on the table"),
    "after-examination": mark("after the examination"),
    "owner-away": mark("owner away"),
    "calming-drug": mark("calming drug"),
    "position": mark("position"),
    "site": mark("hind limb"),
    "cuff-narrow": mark("cuff narrow"),
    "cuff-wide": mark("cuff wide"),
    "cuff-below-heart": mark("cuff below the heart"),
    "cuff-above-heart": mark("cuff above the heart"),
    "limb-loaded": mark("limb loaded"),
    "tail-free": mark("tail not held"),
    "inflation-low": mark("inflated too low"),
    "inflation-high": mark("inflated too high"),
    "deflation-fast": mark("air out too fast"),
    "deflation-slow": mark("air out too slowly"),
    "fault-offset": mark("display off"),
    "fault-leak": mark("leak"),
    "fault-slipped": mark("cuff slipped"),
}

# What was done, and what good practice does instead.
DONE: Mapping[Code, str] = {
    "acclimatisation": mark("First inflation {minutes} after coming in: it wants {wanted:g} min or more to settle."),
    "place": mark("A place with more going on than need be: a quiet one was to be had."),
    "table": mark("On the examination table: many animals are calmer off it."),
    "after-examination": mark(
        "Measured after the examination: the pressure comes first, before anything else is done."
    ),
    "owner-away": mark("Measured without its owner: this animal is calmer with its owner there."),
    "calming-drug": mark("Measured after a calming drug: such a value stands for that day alone."),
    "position": mark("Sitting or standing: chest-down or side-lying, at ease, is what values are compared by."),
    "site": mark("Cuff on the hind limb: forelimb or tail come first where they can be had."),
    "cuff-narrow": mark(
        "Cuff {chosen:g} cm wide, narrow for this limb: {wanted:g} cm would fit. A narrow cuff reads high."
    ),
    "cuff-wide": mark("Cuff {chosen:g} cm wide, wide for this limb: {wanted:g} cm would fit. A wide cuff reads low."),
    "cuff-below-heart": mark("Cuff {chosen:g} cm below the heart: the column of blood adds to the reading."),
    "cuff-above-heart": mark("Cuff {chosen:g} cm above the heart: the column of blood is missing from the reading."),
    "limb-loaded": mark("Weight upon the limb with the cuff: pulses drown in it."),
    "tail-free": mark("A tail that nobody held: wagging looks like pulses."),
    "inflation-low": mark("Inflated to {chosen:.0f} mmHg: the upper flank of the pulses needs some {wanted:.0f} mmHg."),
    "inflation-high": mark("Inflated to {chosen:.0f} mmHg: some {wanted:.0f} mmHg would do, and be over sooner."),
    "deflation-fast": mark("A fall of {chosen:g} mmHg a second: {wanted:.1f} shows more pulses on the way."),
    "deflation-slow": mark("A fall of {chosen:g} mmHg a second: {wanted:.1f} is over before the limb grows restless."),
    "fault-offset": mark("The display stood {chosen:+.0f} mmHg off: a look at a manometer beside it tells."),
    "fault-leak": mark("Cuff or tube lost {chosen:g} mmHg a second: looking them over finds it."),
    "fault-slipped": mark("The cuff had slipped and hung loosely: laid anew, it reads as before."),
}

# The same where the hand at the bulb did not stop where it meant to.
REACHED: Mapping[Code, str] = {
    "inflation-low": mark(
        "{chosen:.0f} mmHg were meant and the cuff reached {reached:.0f}: mean some {wanted:.0f} mmHg, for the upper "
        "flank of the pulses."
    ),
    "inflation-high": mark(
        "{chosen:.0f} mmHg were meant and the cuff reached {reached:.0f}: some {wanted:.0f} mmHg would do, and be over "
        "sooner."
    ),
}

# What is found when display, cuff and tube are looked over, and what is done about it.
FOUND: Mapping[FaultKind, str] = {
    "offset": mark("The display stood {size:+.0f} mmHg off the manometer; it was exchanged."),
    "leak": mark("Cuff or tube lost {size:g} mmHg a second; they were exchanged."),
    "slipped": mark("The cuff had slipped and hung loosely; it was laid anew."),
}

SEEN_COMING: Mapping[FaultKind, str] = {
    "offset": mark("The display agreed with the manometer but had a crack; it was exchanged before it stood off."),
    "leak": mark("The tube was worn and would have leaked soon; it was exchanged."),
    "slipped": mark("The cuff sat loosely and would have slipped soon; it was laid anew."),
}

GRADE_SAYS: Mapping[Grade, str] = {
    "close": mark("Close: within {most:g} mmHg of the truth."),
    "near": mark("Near: within {most:g} mmHg of the truth."),
    "off": mark("Off: within {most:g} mmHg of the truth, and a category may hang on that."),
    "far off": mark("Far off: more than {most:g} mmHg from the truth."),
    "nothing charted": mark("Nothing was charted. Where no reading can be relied on, that is a good answer too."),
}

# What there is to choose of for the owner.
SAYINGS: Mapping[Saying, str] = {
    "fine": mark("The pressure is fine today, and when it is to be measured again."),
    "another day": mark(
        "The pressure is raised today: it is measured again on another day before anything is decided."
    ),
    "veterinarian today": mark("The pressure is very high or low: the veterinarian looks at the animal today."),
    "no value": mark("There is no value today that can be relied on. That is no failure; when it is tried again."),
}
# The same as the end of a sentence.
SAID: Mapping[Saying, str] = {
    "fine": mark("fine, and when to measure again"),
    "another day": mark("raised, and measured again on another day before anything is decided"),
    "veterinarian today": mark("the veterinarian today"),
    "no value": mark("no value today, and why that is no failure"),
}

FAILURES: Mapping[Failure, str] = {
    "inflate-higher": mark("No number: inflate higher."),
    "movement": mark("No number: movement."),
    "no-pulse": mark("No number: no pulse found."),
}


def case_remarks(case: Case) -> str:
    """What stands beside the animal's name: its temper, what is known, and what a tape around each limb shows."""
    limbs = ", ".join(f"{_(LIMBS[site])} {around:g} cm" for site, around in case.circumference_cm.items())
    return " ".join((case.story.temper, case.story.remarks, _("By the tape: {limbs}.").format(limbs=limbs)))


def difficulty_name(difficulty: Difficulty) -> str:
    """How hard a case is, in a few words."""
    return _(DIFFICULTIES[difficulty])


def choice_label(name: str) -> str:
    """What a form asks for, by the name of a choice."""
    return _(CHOICES[name])


def departure_name(code: Code) -> str:
    """A departure from good practice in a word or two."""
    return _(NAMES[code])


def invented_sentence() -> str:
    """What every page and print of the training animal carries."""
    return _(INVENTED)


def display_words(shown: Displayed) -> str:
    """What stands on the display: `142/88 (106), 120 a minute`, or why no number does."""
    if shown.failure is not None:
        return _(FAILURES[shown.failure])
    return _("{systolic}/{diastolic} ({mean}) mmHg, {pulse_rate} a minute").format(
        systolic=shown.systolic, diastolic=shown.diastolic, mean=shown.mean, pulse_rate=shown.pulse_rate
    )


def truth_sentence(told: Debrief) -> str:
    """The truth beside what was charted."""
    truth = _("At rest, calm, at the level of the heart: {systolic:.0f}/{diastolic:.0f} mmHg, mean {mean:.0f}.").format(
        systolic=told.resting.systolic, diastolic=told.resting.diastolic, mean=told.resting.mean
    )
    if told.charted_mmhg is None or told.error_mmhg is None:
        return truth
    if abs(told.error_mmhg) < 0.5:
        return f"{truth} {_('Charted: {charted:.0f} mmHg, the same.').format(charted=told.charted_mmhg)}"
    said = (
        _("Charted: {charted:.0f} mmHg, {off:.0f} above.")
        if told.error_mmhg > 0.0
        else _("Charted: {charted:.0f} mmHg, {off:.0f} below.")
    )
    return f"{truth} {said.format(charted=told.charted_mmhg, off=abs(told.error_mmhg))}"


def grade_sentence(grade: Grade) -> str:
    """The mark in a sentence, with where its limit comes from."""
    limit = GRADES[grade] or GRADES["off"]
    assert limit is not None
    said = _(GRADE_SAYS[grade]).format(most=limit.value)
    return said if grade == "nothing charted" else f"{said} {source_and_standing(limit.source, limit.standing)}"


def looked_over_sentence(case: Case, *, before: int) -> str:
    """What came of looking display, cuff and tube over.

    before : the number of the inflation that comes next; what would begin later is seen coming, and put right too
    """
    fault = case.fault
    if fault is None:
        return _("Display, cuff and tube were looked over; nothing was found.")
    said = (FOUND if before >= fault.from_number else SEEN_COMING)[fault.kind]
    return f"{_('Display, cuff and tube were looked over.')} {_(said).format(size=fault.size)}"


def left_full_sentence(pressure_mmhg: float) -> str:
    """That a session was ended with air in the cuff."""
    return _("The cuff was left full at {mmhg:.0f} mmHg: never leave a cuff inflated. {source}").format(
        mmhg=pressure_mmhg, source=source_and_standing("practice", "common practice")
    )


def besides_sentences(told: Debrief) -> list[str]:
    """What was rightly done at the instrument, what was misread, and what must not be, beside the choices."""
    said = []
    if told.left_full_mmhg is not None:
        said.append(left_full_sentence(told.left_full_mmhg))
    if told.looked_over_before is not None:
        rightly = _("Rightly done, before inflation {number}.").format(number=told.looked_over_before)
        said.append(f"{looked_over_sentence(told.case, before=told.looked_over_before)} {rightly}")
    if told.tape is not None:
        said.append(_tape_sentence(told.tape))
    return said


def _tape_sentence(tape: Tape) -> str:
    said = plural(
        "Inflation {numbers}: {told:g} cm were put down for the limb, and the tape shows {so:g} cm.",
        "Inflations {numbers}: {told:g} cm were put down for the limb, and the tape shows {so:g} cm.",
        len(tape.numbers),
    ).format(numbers=_listed(tape.numbers), told=tape.told_cm, so=tape.is_cm)
    cost = tape.cost
    if cost is None:
        return f"{said} {_('It cost nothing: the cuff fits the limb all the same.')}"
    by = (
        _("The cuff fits what was put down and not the limb: what that cost is what the misread tape cost.")
        if tape.by_the_tape
        else _("The cuff fits neither.")
    )
    if cost.found_mmhg is None:
        return f"{said} {by}"
    return f"{said} {by} {_moved(cost)}"


def engine_sentence(told: Debrief) -> str:
    """What Quietlimb charts for the same readings, and with every choice mended."""
    if told.all_mended is None:
        return _("Even with every choice mended no pressure could be charted.")
    best = told.all_mended.value
    if told.measured is None:
        return _(
            "No pressure could be charted for these readings; with every choice mended it is {best:.0f} mmHg."
        ).format(best=best)
    if not told.costs:
        return _("For these readings Quietlimb charts {measured:.0f} mmHg.").format(measured=told.measured.value)
    return _(
        "For these readings Quietlimb charts {measured:.0f} mmHg; with every choice mended it is {best:.0f} mmHg."
    ).format(measured=told.measured.value, best=best)


def done_sentence(departure: Departure) -> str:
    """What was done and what good practice does instead."""
    chosen = departure.chosen
    if chosen is None:
        return _(DONE[departure.code])
    said = _(DONE[departure.code])
    if departure.reached is not None:
        said = _(REACHED[departure.code])
    return said.format(
        chosen=_figure(chosen), wanted=departure.wanted, minutes=_minutes(chosen), reached=departure.reached
    )


def _figure(chosen: float) -> float:
    return round(chosen, 1 if abs(chosen) >= 1.0 else 2)


def _minutes(minutes: float) -> str:
    """Whole minutes that have passed, and a half at the beginning: nobody looks at seconds."""
    if minutes < 0.5:
        return _("less than half a minute")
    return _("half a minute") if minutes < 1.0 else _("{minutes:d} min").format(minutes=int(minutes))


def cost_sentence(cost: Cost) -> str:
    """What one choice did: to the readings taken so, to the charted pressure, to its interval, and to the number of
    readings. That it hardly moved the pressure is no word for a choice that cost readings."""
    told = []
    if cost.lost:
        told.append(
            plural(
                "Inflation {numbers} was taken so, and its reading was lost.",
                "Inflations {numbers} were taken so, and their readings were lost.",
                len(cost.lost),
            ).format(numbers=_listed(cost.lost))
        )
    if cost.lost_too:
        told.append(
            plural(
                "Inflation {numbers} was lost; mending this alone does not bring it back: it was lost to another "
                "choice too.",
                "Inflations {numbers} were lost; mending this alone does not bring them back: they were lost to "
                "another choice too.",
                len(cost.lost_too),
            ).format(numbers=_listed(cost.lost_too))
        )
    if cost.lost_besides:
        told.append(
            plural(
                "Inflation {numbers} was lost to something else.",
                "Inflations {numbers} were lost to something else.",
                len(cost.lost_besides),
            ).format(numbers=_listed(cost.lost_besides))
        )
    lost = (*cost.lost, *cost.lost_too, *cost.lost_besides)
    if cost.found_mmhg is not None and not (lost and abs(cost.found_mmhg) < HARDLY_MMHG):
        told.append(_moved(cost))
    if cost.widened_mmhg is not None and cost.widened_mmhg >= WIDER_MMHG:
        told.append(
            _("The interval was wider for it by {wider:.0f} mmHg to either side.").format(wider=cost.widened_mmhg)
        )
    if cost.readings > 0:
        told.append(
            plural(
                "With it mended {readings} reading more is usable.",
                "With it mended {readings} readings more are usable.",
                cost.readings,
            ).format(readings=cost.readings)
        )
    elif cost.rule.way == "spoils readings" and cost.found_mmhg is None and not lost:
        told.append(_("With it mended no reading more is usable."))
    elif cost.found_mmhg is None and not lost:
        told.append(_("What it cost cannot be told: too few readings could be used."))
    return " ".join(told)


def _moved(cost: Cost) -> str:
    assert cost.found_mmhg is not None
    mended = cost.beside == "mended"
    if abs(cost.found_mmhg) < HARDLY_MMHG:
        said = (
            _("With all else mended it hardly moves the charted pressure.")
            if mended
            else _("It hardly moved the charted pressure.")
        )
    else:
        said = (
            _("With all else mended it moves the charted pressure by {found:+.0f} mmHg.")
            if mended
            else _("It moved the charted pressure by {found:+.0f} mmHg.")
        ).format(found=cost.found_mmhg)
    if cost.rule.way == "spoils readings":
        return said
    return f"{said} {_('The model of the animal says {modelled:+.0f}.').format(modelled=cost.modelled_mmhg)}"


def inflations_sentence(cost: Cost) -> str:
    """Which inflations departed as `done_sentence` says of the last of them, and which by another figure."""
    said = done_sentence(cost.departure)
    last = cost.departure
    so = [done_sentence(replace(each, wanted=last.wanted, reached=last.reached)) == said for each in cost.departures]
    alike = tuple(number for number, is_so in zip(cost.numbers, so, strict=True) if is_so)
    others = [
        f"{number} ({_figure(each.chosen):g})"
        for number, each, is_so in zip(cost.numbers, cost.departures, so, strict=True)
        if not is_so and each.chosen is not None
    ]
    told = plural("Inflation {numbers}.", "Inflations {numbers}.", len(alike)).format(numbers=_listed(alike))
    if not others:
        return told
    return f"{told} {_('By another figure: {others}.').format(others=', '.join(others))}"


def rule_line(cost: Cost) -> str:
    """Where the rule comes from, and where the size of its effect does."""
    asks = cost.rule.asks
    rule = _("Rule: {source}.").format(source=source_and_standing(asks.source, asks.standing)[1:-1])
    if not cost.rule.effects:
        return rule
    return f"{rule} {effects_line(cost.rule.effects)}"


def effects_line(behind: tuple[Cited, ...]) -> str:
    """Where the sizes of effects come from, each way of saying it once."""
    told = sources_and_standings([(each.source, each.standing) for each in behind])[1:-1]
    return _("Size of the effect: {sources}.").format(sources=told)


def readings_sentences(told: Debrief) -> list[str]:
    """What became of the inflations: kept, thrown out, and how long it all took."""
    said = []
    broken_off = tuple(each.number for each in told.inflations if each.broken_off_at is not None)
    if broken_off:
        said.append(
            plural(
                "Inflation {numbers} was broken off before a systolic pressure could be read.",
                "Inflations {numbers} were broken off before a systolic pressure could be read.",
                len(broken_off),
            ).format(numbers=_listed(broken_off))
        )
    if told.spoiled_kept:
        said.append(
            plural(
                "Inflation {numbers} was kept and says nothing on the systolic pressure.",
                "Inflations {numbers} were kept and say nothing on the systolic pressure.",
                len(told.spoiled_kept),
            ).format(numbers=_listed(told.spoiled_kept))
        )
    if told.good_discarded:
        said.append(
            plural(
                "Inflation {numbers} was thrown out and would have been a good one.",
                "Inflations {numbers} were thrown out and would have been good ones.",
                len(told.good_discarded),
            ).format(numbers=_listed(told.good_discarded))
        )
    count = len(told.inflations)
    said.append(
        plural(
            "{count} inflation in {minutes} from coming in, {wasted} of them without use.",
            "{count} inflations in {minutes} from coming in, {wasted} of them without use.",
            count,
        ).format(count=count, minutes=_minutes(told.minutes), wasted=told.wasted)
    )
    if told.unrested and told.shortest_rest_s is not None:
        said.append(_rest_sentence(told.unrested, told.shortest_rest_s))
    if not told.enough:
        said.append(_too_few_sentence(told.averaged, count))
    elif not told.consistent:
        said.append(_("The readings vary by more than the protocol allows."))
    return said


def saying_label(saying: Saying) -> str:
    """What the owner may be told, as a form asks for it."""
    return _(SAYINGS[saying])


def owner_sentences(told: Debrief) -> list[str]:
    """What the owner was told, whether it follows from what was charted and holds for the truth, and that it moves
    nothing; none where that was not asked."""
    owner = told.owner
    if owner is None:
        return []
    said = [_("Nothing was chosen for the owner.")] if owner.said is None else [_(SAYINGS[owner.said])]
    return [*said, *_owner_judged(owner, told), _("What the owner is told moves no mmHg of what was charted.")]


def _owner_judged(owner: OwnerTold, told: Debrief) -> list[str]:
    chart, truth = _(SAID[owner.by_chart.saying]), _(SAID[owner.by_truth.saying])
    charted, true = told.charted_mmhg, told.resting.systolic
    asks_for = (
        _("Nothing was charted, which asks for: {chart}.").format(chart=chart)
        if charted is None
        else _("The {charted:.0f} mmHg that were charted ask for: {chart}.").format(charted=charted, chart=chart)
    )
    truth_asks = _("The truth of {true:.0f} mmHg asks for: {truth}.").format(true=true, truth=truth)
    match owner.standing:
        case "holds" if charted is None:
            return [
                _("That follows: nothing was charted, and nothing was claimed."),
                _("With a pressure of {true:.0f} mmHg, had it been found: {truth}.").format(true=true, truth=truth),
            ]
        case "holds":
            return [_("That follows from what was charted, and the truth asks for the same.")]
        case "does not follow":
            luck = [_("That the truth asks for what was told is luck.")] if owner.by_luck else [truth_asks]
            return [_("It does not follow from what was charted."), asks_for, *luck]
        case "truth is another":
            return [
                _("It follows from what was charted, but the truth is another: the measuring misled, not the telling."),
                truth_asks,
            ]
        case "nothing told":
            return [asks_for]


def owner_rule_line(owner: OwnerTold) -> str:
    """Where the limits come from, and who says what is told at them."""
    limits = {limit.place: limit for limit in (owner.by_chart.limit, owner.by_truth.limit)}.values()
    sources = sources_and_standings(list(dict.fromkeys((each.source, each.standing) for each in limits)))[1:-1]
    return _("Rule: {sources}. Which words belong to which pressure: {ours}.").format(
        sources=sources, ours=source_and_standing(WHICH_SAYING.source, WHICH_SAYING.standing)[1:-1]
    )


def _rest_sentence(unrested: tuple[int, ...], shortest_s: float) -> str:
    said = plural(
        "Inflation {numbers} came without rest, the cuff empty for no more than {seconds:.0f} s: it wants {least:g} to "
        "{most:g} s between two.",
        "Inflations {numbers} came without rest, the cuff empty for {seconds:.0f} s at the shortest: it wants "
        "{least:g} to {most:g} s between two.",
        len(unrested),
    ).format(numbers=_listed(unrested), seconds=shortest_s, least=SHORTEST_REST.value, most=LONGEST_REST.value)
    return f"{said} {source_and_standing(SHORTEST_REST.source, SHORTEST_REST.standing)}"


def _too_few_sentence(averaged: int, inflations: int) -> str:
    """Stopped before as many inflations as the protocol needs at the least, or too few of them left."""
    asked, dropped = KEEP_AT_LEAST, DISCARD_FIRST
    early = inflations < asked.value + dropped.value
    said = (
        plural(
            "Stopped early: {averaged} reading goes into the protocol's average; it asks for {asked:g} beyond the "
            "first.",
            "Stopped early: {averaged} readings go into the protocol's average; it asks for {asked:g} beyond the "
            "first.",
            averaged,
        )
        if early
        else plural(
            "Too few are left: {averaged} reading goes into the protocol's average; it asks for {asked:g} beyond the "
            "first.",
            "Too few are left: {averaged} readings go into the protocol's average; it asks for {asked:g} beyond the "
            "first.",
            averaged,
        )
    )
    return f"{said.format(averaged=averaged, asked=asked.value)} {source_and_standing(asked.source, asked.standing)}"


def _listed(numbers: tuple[int, ...]) -> str:
    return ", ".join(str(number) for number in numbers)
