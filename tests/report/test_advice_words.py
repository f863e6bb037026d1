"""What to do next in words: ways of the same parts together, pairs of faults as pairs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from incircuit.advise.following import Act, Advice
from incircuit.advise.lifts import Lift
from incircuit.advise.meanings import Outcome
from incircuit.advise.outcomes import Probe
from incircuit.advise.suspects import Suspect
from incircuit.meter.profile import load_meter
from incircuit.parts.elements import Change
from incircuit.report.advice import again, lift_words, meaning, meaning_words, stands

METER = load_meter("handheld")
PROBE = Probe("A", "R1 1", "ohms")


def _suspect(*faults: tuple[str, str], odds: float) -> Suspect:
    return Suspect(faults, frozenset(part or fault for part, fault in faults), odds, Change())


SOUND = _suspect(odds=0.1)
PAIR = _suspect(("Q1", "short C-E"), ("F1", "open"), odds=0.3)
OTHER = _suspect(("Q1", "short C-E"), ("F1", "missing"), odds=0.2)
BRIDGED = _suspect(("", "bridge A B"), ("F1", "open"), odds=0.4)
ADVICE = Advice((BRIDGED, PAIR, OTHER, SOUND), (), None, (), False, frozenset(), ())


@pytest.mark.parametrize(("conditions", "said"), [
    ((1, 2), "100.0 to 200.0 Ω: Q1 short C-E and F1 open/missing (50 %)"),
    ((0,), "100.0 to 200.0 Ω: bridge A B and F1 open (40 %)"),
    ((3, 1), "100.0 to 200.0 Ω: as healthy or Q1 short C-E and F1 open (40 %)"),
])
def test_outcomes_name_pairs_as_pairs(conditions: tuple[int, ...], said: str) -> None:
    outcome = Outcome(100.0, 200.0, conditions)
    assert meaning_words(meaning(ADVICE, Act(PROBE, 1.0, 10.0, (outcome,)), outcome, METER)) == said


def test_where_things_stand() -> None:
    assert stands(ADVICE) == ("Now: bridge A B and F1 open 40 %, Q1 short C-E and F1 open 30 %, "
                              "Q1 short C-E and F1 missing 20 %, healthy 10 %.")
    done = replace(ADVICE, stop=True, replace=frozenset({"Q1"}), again=(PROBE,), look=("bridge A B",))
    assert stands(done) == "The verdict is reached: look for a bridge A B; where there is none, replace Q1."
    assert again(done) == "After the repair read A R1.1 ohms again."
    unlisted = replace(done, suspects=(), replace=frozenset())
    assert "Nothing listed explains" in stands(unlisted)
    assert again(unlisted).startswith("Read A R1.1 ohms again")
    fitted = replace(done, replace=frozenset(), done=frozenset({"Q1"}))
    assert "is replaced since" in stands(fitted)
    assert again(fitted) == ""


def test_a_lead_to_lift_says_what_each_reading_would_mean() -> None:
    lift = Lift("R1", (("R1", "1"),), PROBE, 167.0, 1.0, 10.0, float("inf"))
    told = replace(ADVICE, lift=lift, between=(PAIR, SOUND))
    assert lift_words(told, METER) == (
        "No reading in place tells Q1 short C-E and F1 open from healthy. The cheapest way: lift R1.1 "
        "(167 s), then read A R1.1 ohms. About OL: Q1 short C-E and F1 open; about 10.0 Ω: healthy.")
    assert lift_words(ADVICE, METER) == ""
