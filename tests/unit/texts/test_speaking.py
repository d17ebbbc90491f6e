"""To whom is spoken, and in which catalogue a text is looked up."""

from __future__ import annotations

import threading
from contextvars import copy_context

import pytest

from wickwatch.texts import N_, Choices, Words, _, languages, speak, speaking, spoken

GERMAN = Choices("de")
WORDS = Words({"day": N_("Language")})


def test_a_text_is_said_in_the_language_of_whoever_is_spoken_to_and_in_english_to_nobody() -> None:
    assert _("Language") == "Language"
    with speaking(GERMAN):
        assert _("Language") == "Sprache"
        with speaking(Choices()):
            assert _("Language") == "Language"
        assert _("Language") == "Sprache"
    assert _("Language") == "Language"


def test_marked_words_are_said_when_they_are_read() -> None:
    assert WORDS["day"] == "Language"
    with speaking(GERMAN):
        assert WORDS["day"] == "Sprache"
        assert dict(WORDS) == {"day": "Sprache"}


def test_who_a_request_is_from_may_be_found_in_a_thread_that_serves_it() -> None:
    with speaking(Choices()):
        context = copy_context()
        thread = threading.Thread(target=context.run, args=(speak, GERMAN))
        thread.start()
        thread.join()
        assert spoken() == GERMAN
    assert spoken() == Choices()


def test_nobody_can_be_spoken_to_outside_a_request() -> None:
    with pytest.raises(LookupError):
        speak(GERMAN)


def test_a_language_without_a_catalogue_is_read_in_english() -> None:
    with speaking(Choices("zz")):
        assert _("Language") == "Language"


def test_languages_are_called_by_their_own_names() -> None:
    assert languages()["en"] == "English"
    assert languages()["de"] == "Deutsch"
