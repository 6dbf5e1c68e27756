"""The rule sets that can be chosen. Every category is kept with the name of its rule set, and never overwritten."""

from __future__ import annotations

from collections.abc import Mapping

from quietlimb.engine.circumstances import Species
from quietlimb.engine.errors import ParameterError
from quietlimb.engine.standards.acvim_2007 import ACVIM_2007
from quietlimb.engine.standards.acvim_2018 import ACVIM_2018
from quietlimb.engine.standards.iris_2015 import IRIS_2015
from quietlimb.engine.standards.iris_2019 import IRIS_2019
from quietlimb.engine.standards.isfm_2017 import ISFM_2017
from quietlimb.engine.standards.rule_set import Protocol, RuleSet

DEFAULT = ACVIM_2018.key
RULE_SETS: Mapping[str, RuleSet] = {
    each.key: each for each in (ACVIM_2018, IRIS_2019, ISFM_2017, ACVIM_2007, IRIS_2015)
}


def rule_set(key: str, species: Species) -> RuleSet:
    """A rule set by its key.

    Raises
    ------
    ParameterError : there is no such rule set, or it is not for this species.
    """
    if key not in RULE_SETS:
        raise ParameterError(
            "unknown-rule-set", f"rule set {key!r} is not known", f"use one of: {', '.join(RULE_SETS)}"
        )
    found = RULE_SETS[key]
    if species not in found.species:
        fitting = ", ".join(each.key for each in RULE_SETS.values() if species in each.species)
        raise ParameterError(
            "rule-set-of-another-species", f"{found.name} is not for a {species}", f"use one of: {fitting}"
        )
    return found


def protocol_of(rules: RuleSet) -> Protocol:
    """The protocol of a session by a rule set; that of the default where none of its own is at hand."""
    protocol = rules.protocol or ACVIM_2018.protocol
    assert protocol is not None
    return protocol


def rule_set_of(source: str) -> RuleSet:
    """The rule set behind a citation key; the default for a source that is none."""
    return next((each for each in RULE_SETS.values() if each.source == source), RULE_SETS[DEFAULT])
