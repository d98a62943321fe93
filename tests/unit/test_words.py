"""Every language says everything, and fills in the same."""

from datetime import date

import pytest

from geozone.errors import InputError, UndeclaredError
from geozone.paper.words import FIRST, languages, placeholders, words_in
from geozone.trade.slips import ABOUT


@pytest.mark.parametrize("language", languages())
def test_a_catalogue_has_the_keys_and_places_of_the_first(language):
    first, mine = words_in(FIRST).texts, words_in(language).texts
    assert set(mine) == set(first)
    assert {key: placeholders(text) for key, text in mine.items()} == {key: placeholders(text) for key, text in first.items()}
    assert mine["checked"] in ("yes", "no") and (mine["unchecked"] == "") == (mine["checked"] == "yes")


def test_the_promised_languages_are_there_and_none_claims_to_be_read_by_a_crew():
    assert {"en", "de", "fr", "es"} <= set(languages())
    assert not any(words_in(language).read_by_a_crew for language in ("de", "fr", "es"))


def test_every_keyed_value_and_likelihood_has_words():
    assert all(words_in()(f"about_{about}") for about in ABOUT)


def test_numbers_and_dates_have_the_languages_form():
    """Unicode CLDR: German decimal comma and point for thousands."""
    assert words_in("de").number(1234.5, 1) == "1.234,5" and words_in("en").number(1234.5, 1) == "1,234.5"
    assert words_in("de").date(date(2027, 6, 21)) == "21. Juni 2027"


def test_unknown_languages_and_texts_raise():
    with pytest.raises(InputError, match="not written"):
        words_in("xx")
    with pytest.raises(UndeclaredError):
        words_in()("no such key")
