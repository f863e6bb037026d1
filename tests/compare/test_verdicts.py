"""Verdicts on readings the trade knows, their JSON, and what is always true of them."""

from __future__ import annotations

import json
import random

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import HEALTHY, Board, make_state, parse_board
from incircuit.cli.main import cli
from incircuit.compare.compare import Comparison, compare, seen_on
from incircuit.compare.unlisted import unlisted_path
from incircuit.compare.why import why
from incircuit.meter.profile import load_meter
from incircuit.meter.typed import Typed, last_digit, parse_shown
from incircuit.parts.elements import Resistance
from incircuit.predict.measure import Ask
from incircuit.predict.question import ask_about
from tests.compare.bench import drawn, read
from tests.compare.circuits import BOARDS, SMALL, shipped, small

WORDS = {"healthy", "explained", "failed", "undecided", "unlisted"}
METER = load_meter("handheld")


def judge(board: Board, red: str, black: str, shown: str, mode: str = "diode", *, part: str | None = None,
          swapped: bool = False, lift: tuple[str, ...] = ()) -> tuple[Comparison, str]:
    """Verdict and sentence."""
    state = make_state(board, lift=lift) if lift else HEALTHY
    question = ask_about(board, state, red, black, part)
    found = compare(question, METER, Ask(mode, swapped), parse_shown(shown, mode), last_digit(shown, mode))
    return found, why(question, found)


BOOST = """
board "Boost stage and output module"
BR1 bridge    AC1=L AC2=N +=RECT -=RTN
L1  inductor  RECT SW 330u power dcr=45m
Q1  igbt      G=GATE C=SW E=RTN freewheel=none
R1  resistor  GATE RTN 10k 5%
D5  diode     A=SW K=BUS fast vf=0.38@1mA
C1  capacitor BUS RTN 470u 450V electrolytic
R2  resistor  BUS RTN 220k 5%
M1  three-phase-inverter +=BUS -=RTN U=U V=V W=W igbt freewheel.vf=0.48@1mA
"""


@pytest.mark.practice
def test_good_gate_diode_beside_its_resistor_is_explained() -> None:
    """10 Ω across a good diode reads like a short."""
    found, text = judge(shipped("pump-drive/gate-drive"), "GATE", "DRV", "0.011", part="D3")
    assert (found.verdict.word, found.verdict.part) == ("explained", "D3")
    assert "0.011 V" in text
    assert "R7 carries" in text
    assert found.verdict.hidden == ("open",)  # the reading cannot see whether D3 is open


@pytest.mark.practice
def test_lifted_diode_is_judged_as_itself() -> None:
    board = shipped("pump-drive/gate-drive")
    assert judge(board, "D3.A", "D3.K", "0.586", lift=("D3.K",))[0].verdict.word == "healthy"
    shorted = judge(board, "D3.A", "D3.K", "0.002", lift=("D3.K",))[0].verdict
    assert (shorted.word, shorted.part, shorted.fault) == ("failed", "D3", "short")
    opened = judge(board, "D3.A", "D3.K", "OL", lift=("D3.K",))[0].verdict
    assert (opened.word, opened.part, opened.fault) == ("failed", "D3", "open")
    reverse = judge(board, "D3.A", "D3.K", "OL", lift=("D3.K",), swapped=True)[0].verdict
    assert reverse.word == "undecided"  # an open diode blocks in reverse as well


@pytest.mark.practice
def test_shorted_boost_switch_drags_down_the_good_output_module() -> None:
    """RTN to BUS reads one diode instead of two in a row: the switch is shorted, its diode in series."""
    board = parse_board(BOOST)
    healthy, _ = judge(board, "RTN", "BUS", "0.92", part="M1")
    assert healthy.prediction.band.low is not None
    assert healthy.prediction.band.low > 0.7
    found, text = judge(board, "RTN", "BUS", "0.375", part="M1")
    assert not found.verdict.healthy_fits
    assert found.verdict.candidates[0].part == "Q1"
    assert found.verdict.candidates[0].fault == "short C-E"
    assert not (found.verdict.word == "failed" and found.verdict.part == "M1")
    assert "Q1 shorted C-E" in text


@pytest.mark.practice
def test_short_between_two_nodes_names_all_that_could_be_it() -> None:
    found, text = judge(small("bridge-link"), "BUS", "RTN", "0.001")
    named = {found.verdict.part, *found.verdict.twins}
    assert found.verdict.word == "failed"
    assert {"BR1", "C1"} <= named
    assert "no reading in place" in text


def test_opens_in_a_row_over_a_hidden_joint_are_twins() -> None:
    text = ('board "x"\nnet M hidden\nR1 resistor A M 10k 1%\nR2 resistor M B 10k 1%\n'
            "R3 resistor A B 100k 1%\n")
    found, _ = judge(parse_board(text), "A", "B", "100.0k", "ohms", part="R1")
    assert found.verdict.word == "failed"
    assert {found.verdict.part, *found.verdict.twins} == {"R1", "R2"}
    reachable = parse_board(text.replace(" hidden", ' "joint"'))
    open_joint, _ = judge(reachable, "A", "B", "100.0k", "ohms", part="R1")
    assert open_joint.verdict.word == "undecided"  # a probe on M tells them apart


def test_faults_that_change_nothing_are_no_suspicion() -> None:
    """In the text no odds where the reading is healthy, in the JSON every fault that fits."""
    runner = CliRunner()
    arguments = ["compare", str(BOARDS / "pump-drive/gate-drive.board"), "GATE", "DRV", "0.011"]
    text = runner.invoke(cli, arguments).output
    assert "odds" not in text
    found = json.loads(runner.invoke(cli, [*arguments, "--json"]).output)
    assert {"part": "D3", "fault": "open"} in found["blind_to"]
    assert any(c["part"] == "D3" and c["fault"] == "open" for c in found["candidates"])


def test_json_has_the_promised_keys() -> None:
    for shown in ("0.011", "0.3", "OL", "0.004"):
        board = str(BOARDS / "pump-drive/gate-drive.board")
        output = CliRunner().invoke(cli, ["compare", board, "GATE", "DRV", shown, "--json"]).output
        found = json.loads(output)
        assert {"schema", "verdict", "part", "fault", "candidates", "healthy", "alone", "reading",
                "carried_by", "blind_to", "why"} <= set(found)
        assert {"low", "high", "overload"} <= set(found["healthy"])
        assert {"low", "high", "overload"} <= set(found["alone"])
        assert all({"part", "fault", "probability", "fits"} <= set(c) for c in found["candidates"])
        assert all(set(c) == {"part", "share"} for c in found["carried_by"])
        assert all(set(c) == {"part", "fault"} for c in found["blind_to"])


@pytest.mark.usefixtures("ngspice")
@pytest.mark.parametrize("mode", ["diode", "ohms"])
def test_unlisted_path_is_the_resistor_that_was_put_there(mode: str) -> None:
    """47 Ω across, simulated with ngspice on drawn boards: 47 Ω is proposed within its band."""
    board = small("gate-drive")
    question = ask_about(board, HEALTHY, "GATE", "RTN")
    rng = random.Random(3)
    for _ in range(3):
        elements = [*drawn(question.circuit.elements, rng), Resistance("X1 r", "X1", "GATE", "RTN", 47.0)]
        shown = read(elements, question.red_node, question.black_node, METER, mode, False, rng)
        seen = seen_on(METER, mode, Typed(shown.value, False), shown.resolution)
        path = unlisted_path(question, METER, Ask(mode), seen)
        assert path.low is not None
        assert path.high is not None
        assert path.low <= 47.0 <= path.high
        assert path.ohms == pytest.approx(47.0, rel=0.06)


def test_unlisted_says_so_where_more_is_read_than_any_path_can_do() -> None:
    """R7 is 10 Ω; no listed fault of it makes 300 mV, and nothing across it can."""
    found, text = judge(shipped("pump-drive/gate-drive"), "GATE", "DRV", "0.300")
    assert found.verdict.word == "unlisted"
    assert found.unlisted is not None
    assert found.unlisted.ohms is None
    assert "more than the healthy board" in text


def test_below_zero_is_a_charge_and_no_path() -> None:
    found, text = judge(shipped("pump-drive/gate-drive"), "GATE", "RTN", "-0.2")
    assert found.verdict.word == "unlisted"
    assert found.unlisted is not None
    assert found.unlisted.ohms is None
    assert "charged" in text


@pytest.mark.parametrize(("shown", "mode", "text"), [
    ("0.011", "diode", "0.011 V"), ("11mV", "diode", "0.011 V"), ("10.1", "ohms", "10.1 Ω"),
    ("5k01", "ohms", "5.01 kΩ"), ("OL", "ohms", "OL"), ("beep", "continuity", "A beep")])
def test_the_sentence_reads_like_the_display(shown: str, mode: str, text: str) -> None:
    _, sentence = judge(shipped("pump-drive/gate-drive"), "GATE", "DRV", shown, mode)
    assert sentence.startswith(f"{text} ")


@settings(deadline=None, derandomize=True, max_examples=60)
@given(st.sampled_from(sorted(SMALL)), st.randoms(use_true_random=False),
       st.sampled_from(["diode", "ohms", "continuity"]), st.floats(-3.0, 6.5), st.booleans())
def test_verdicts_are_words_and_probabilities(name: str, rng: random.Random, mode: str, exponent: float,
                                              swapped: bool) -> None:
    board = small(name)
    nets = sorted({net for part in board.parts for _, net in part.pins})
    red, black = rng.sample(nets, 2)
    shown = f"{10.0 ** exponent:.4g}" if mode != "diode" else f"{min(10.0 ** exponent, 1.999):.3f}"
    if rng.random() < 0.2:
        shown = rng.choice(["OL", "beep", "silent"] if mode == "continuity" else ["OL"])
    found, text = judge(board, red, black, shown, mode, swapped=swapped)
    verdict = found.verdict
    assert verdict.word in WORDS
    assert text.endswith(".")
    probabilities = [c.probability for c in verdict.candidates]
    assert all(0.0 <= p <= 1.0 for p in probabilities)
    assert sum(probabilities) + verdict.healthy_probability <= 1.0 + 1e-9
    assert probabilities == sorted(probabilities, reverse=True)
    assert (verdict.word == "unlisted") == (found.unlisted is not None)
    if verdict.word in ("failed", "unlisted"):
        assert not verdict.healthy_fits
    if verdict.word == "healthy":
        assert verdict.healthy_fits
    if verdict.word == "failed":
        assert verdict.part not in verdict.twins
        assert any((c.part, c.fault) == (verdict.part, verdict.fault) for c in verdict.candidates)


def test_same_answer_whatever_the_order_of_the_file() -> None:
    lines = SMALL["gate-drive"].strip().splitlines()
    answers = []
    for order in (lines, lines[::-1]):
        text = 'board "x"\n' + "\n".join(order)
        found, _ = judge(parse_board(text), "GATE", "RTN", "5.01k", "ohms", part="R2")
        answers.append((found.verdict.word, found.verdict.part,
                        {(c.part, c.fault): round(c.probability, 9) for c in found.verdict.candidates}))
    assert answers[0] == answers[1]
