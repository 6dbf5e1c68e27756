"""Another language by way of a gettext catalogue."""

from __future__ import annotations

import gettext

from quietlimb.engine.findings import Finding
from quietlimb.words.courses import course_name
from quietlimb.words.findings import remedy
from quietlimb.words.language import speaking
from quietlimb.words.numerals import days


class Catalogue(gettext.NullTranslations):
    """A catalogue of three invented entries."""

    def gettext(self, message: str) -> str:
        known = {"still falling": "noch fallend", "Take more readings.": "Weitere Messungen nehmen."}
        return known.get(message, message)

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return "in {latest:g} Woche" if n == 1 else "in {latest:g} Wochen"


def test_sentences_follow_the_catalogue_and_come_back_to_english():
    """Inside the block translated, outside as built in; what the catalogue lacks stays English.

    Oracle: by construction.
    """
    wide = Finding(code="wide-interval", severity="note", numbers={"half_width_mmhg": 20.0})
    with speaking(Catalogue()):
        assert course_name("falling") == "noch fallend"
        assert remedy(wide) == "Weitere Messungen nehmen."
        assert days((7.0, 7.0)) == "in 1 Woche"
        assert days((14.0, 14.0)) == "in 2 Wochen"
        assert course_name("level") == "level"
    assert course_name("falling") == "still falling"
    assert remedy(wide) == "Take more readings."
