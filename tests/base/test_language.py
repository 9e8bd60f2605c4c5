"""Numbers and dates by locale; expected signs are those of everyday writing there, from memory."""

from datetime import date

import pytest

from reachmap.base.language import (
    by_locale,
    date_text,
    figures_text,
    language,
    language_of,
    number_tag,
    number_text,
    parsed,
    read_catalogue,
    tr,
    tr_count,
    written_in,
)
from reachmap.base.units import flow_label, flow_words, plain_number
from reachmap.base.words import UnitSystem
from reachmap.text.numbers import both, length_words, speed_words

DAY = date(2030, 1, 12)

PO = b"""msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\\n"
"Plural-Forms: nplurals=3; plural=(n==1 ? 0 : n<5 ? 1 : 2);\\n"

msgid "read on {day}"
msgstr "gelesen {day}"

#, fuzzy
msgid "steady"
msgstr "unsure"

msgid "rising"
msgstr ""

msgid "{count} more run"
msgid_plural "{count} more runs"
msgstr[0] "{count} Zug"
msgstr[1] "{count} Zuege"
msgstr[2] "{count} viele"
"""


def test_without_a_locale_all_is_as_it_always_was():
    assert language().name == "en"
    assert number_text(2400, 0) == "2,400"
    assert flow_words(67.96, UnitSystem.US) == "2,400 cfs"
    assert date_text(DAY, "day") == "Sat 12 Jan"
    assert date_text(date(2030, 1, 5), "year") == "Sat 5 Jan 2030"
    assert date_text(DAY, "name") == "Saturday"
    assert date_text(DAY, "plain") == "2030-01-12"
    assert number_tag() == "en-US"


@pytest.mark.parametrize(
    ("locale", "number"),
    [
        ("de_DE", "2.400,5"),
        ("en_CA", "2,400.5"),
        ("fr_FR", "2\u202f400,5"),
        ("nb_NO", "2\u00a0400,5"),
    ],
)
def test_signs_of_numbers_are_those_of_the_locale(locale, number):
    with written_in(locale):
        assert number_text(2400.5, 1) == number
        assert by_locale("2,400.5") == number
    assert number_text(2400.5, 1) == "2,400.5"  # and outside nothing stays


def test_all_numbers_of_sentences_follow():
    with written_in("de_DE"):
        assert both("depth", 0.7, UnitSystem.METRIC) == "0,7 m"
        assert length_words(0.9, UnitSystem.METRIC) == "0,9 m"
        assert speed_words(0.55, UnitSystem.METRIC) == "0,6 m/s"
        assert flow_words(12.345, UnitSystem.METRIC) == "12,3 m³/s"
        assert plain_number(12345.0) == "12.345"
        assert figures_text(2.5) == "2,5"
        assert flow_label(12.345, UnitSystem.METRIC) == "12.3m3s"  # a file's name has no locale
        assert number_tag() == "de-DE"


def test_dates_are_ordered_by_the_locale_and_in_the_language_of_the_sentences():
    told = {}
    for locale in ("en_US", "en_GB", "de_DE", "sv_SE"):
        with written_in(locale):
            told[locale] = date_text(DAY, "day")
    assert told["en_US"] == "Sat, Jan 12"
    assert told["en_GB"].replace(",", "") == "Sat 12 Jan"
    assert told["de_DE"].replace(",", "") == "Sat 12 Jan"  # nothing is translated into German yet
    assert "Jan" in told["sv_SE"]
    with written_in(read_catalogue(PO, "de_DE")):
        assert date_text(DAY, "name") == "Samstag"


def test_what_is_no_locale_is_refused():
    for wrong in ("xx_YY", "english please", "12"):
        with pytest.raises(ValueError, match=r"unknown locale|only letters"):
            parsed(wrong)
    assert parsed("de-ch") == "de_CH"
    assert language_of("").name == "en"


def test_a_catalogue_translates_what_it_holds_and_no_more():
    with written_in(read_catalogue(PO, "de_DE")) as german:
        assert german.name == "de-DE"
        assert tr("read on {day}", day="x") == "gelesen x"
        assert tr("steady") == "steady"  # a translation nobody checked is not shown
        assert tr("rising") == "rising"
        assert tr_count("{count} more run", "{count} more runs", 1) == "1 Zug"
        assert tr_count("{count} more run", "{count} more runs", 3) == "3 Zuege"
        assert tr_count("{count} more run", "{count} more runs", 1200) == "1.200 viele"
    assert tr_count("{count} more run", "{count} more runs", 1) == "1 more run"
