"""What to do about each kind, in the trade's terms, with what to beware of and the facility's own text."""

from __future__ import annotations

import re

import pytest

from tests.unit.alarms.places import HOUSE
from wickwatch.alarms import CAUTIONS, STEPS, advice, advise
from wickwatch.errors import InputError
from wickwatch.fleet import ADVICE_LONGEST, KINDS, Kind, check_advice

# Common practice with gravity-fed, tension-actuated emitters, by the alarms in which it must be said.
SAID: list[tuple[str, tuple[Kind, ...]]] = [
    (r"end valve.*until the stream is steady", ("reservoir-empty", "supply-interrupted")),
    (r"handle lies along the tube", ("reservoir-empty", "supply-interrupted", "drying-drift")),
    (
        r"Lift the cup, soak it at least 15 minutes, cap it under water and seat it tight",
        ("drying-drift", "sudden-wetting", "uneven-room"),
    ),
    (r"set point.*about two hours", ("drying-drift", "sudden-wetting", "uneven-room")),
    (r"a drop hangs.*then two marks further", ("drying-drift", "sudden-wetting", "uneven-room")),
    (r"took in air.*refill it.*seat it tight", ("probe-fault", "sudden-wetting")),
    (r"Refill the reservoir", ("reservoir-low", "reservoir-empty")),
]


@pytest.mark.parametrize(("words", "kinds"), SAID, ids=[words for words, _ in SAID])
def test_what_is_common_practice_is_said_where_it_is_needed(words: str, kinds: tuple[Kind, ...]) -> None:
    for kind in kinds:
        assert re.search(words, " ".join(STEPS[kind])), kind


@pytest.mark.parametrize(
    ("word", "kinds"),
    [
        ("breaker", ("sudden-wetting", "reservoir-leak", "supply-interrupted", "gateway-silent", "monitoring-stopped")),
        (
            "licensed electrician, by the local code",
            ("sudden-wetting", "reservoir-empty", "gateway-silent", "probe-fault", "monitoring-stopped"),
        ),
        ("battery that leaks", ("probe-silent", "probe-fault")),
        ("licensed plumber, by the local code", ("reservoir-leak",)),
        ("Two people lift it", ("reservoir-low", "reservoir-empty", "drying-drift", "uneven-room")),
        ("acid into water", ("reservoir-low", "reservoir-empty")),
        ("steady step or ladder", ("reservoir-low", "reservoir-empty")),
    ],
)
def test_work_that_can_hurt_says_so_before_its_steps(word: str, kinds: tuple[Kind, ...]) -> None:
    for kind in kinds:
        assert any(word in caution for caution in CAUTIONS[kind]), kind


#: What a step sends somebody to, and what must be said before it: judged here by the words of the steps.
BEFORE = [
    (r"refill it with water|[Rr]efill the reservoir|water run until|power", "electric|live"),
    (r"[Ww]alk through|water standing|for water\b", "wet floor is slippery"),
    (r"[Bb]attery.*(new one|[Rr]eplace)|[Rr]eplace the battery", "battery that leaks"),
]


@pytest.mark.parametrize(("step", "caution"), BEFORE, ids=[caution for _, caution in BEFORE])
def test_no_kind_sends_anybody_to_water_electricity_or_a_battery_without_its_caution(step: str, caution: str) -> None:
    sent = [kind for kind in KINDS if any(re.search(step, each) for each in STEPS[kind])]
    assert len(sent) >= 2
    assert [kind for kind in sent if not re.search(caution, " ".join(CAUTIONS[kind]))] == []


def test_the_facilitys_own_text_comes_first_for_a_program_and_only_for_its_kind() -> None:
    own = {"reservoir-empty": "Spare cans stand behind the east door."}
    assert advice("reservoir-empty", own)[0] == "Spare cans stand behind the east door."
    assert advice("reservoir-low", own) == advice("reservoir-low", {})
    assert advise("reservoir-empty", own).own and not advise("reservoir-low", own).own


def test_own_texts_are_for_the_kinds_there_are() -> None:
    every = dict.fromkeys(KINDS, "Call Ane first.")
    assert check_advice(every, "facility birchwood") == every
    assert HOUSE.advice == {}


def test_an_own_text_is_trimmed_and_one_that_says_nothing_is_none() -> None:
    given = {"reservoir-low": "  Fill from the rain barrel.\r\nNot from the tap. ", "reservoir-empty": " \n "}
    assert check_advice(given, "facility birchwood") == {
        "reservoir-low": "Fill from the rain barrel.\nNot from the tap."
    }


@pytest.mark.parametrize(
    ("given", "accepted"),
    [
        ({"reservoir-high": "x"}, "one of drying-drift"),
        ({"reservoir-low": "x" * (ADVICE_LONGEST + 1)}, "characters at most"),
        ({"reservoir-low": "bell\a"}, "lines of text"),
        ({"reservoir-low": 7}, "lines of text"),
    ],
)
def test_a_text_that_cannot_be_taken_names_the_place_and_what_is_accepted(
    given: dict[str, object], accepted: str
) -> None:
    with pytest.raises(InputError, match=accepted) as raised:
        check_advice(given, "facility birchwood")
    assert raised.value.thing.startswith("facility birchwood: advice")
