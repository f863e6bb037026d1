"""The exercise as a state machine: what is dealt, how it answers, what is refused, what comes after."""

from __future__ import annotations

import dataclasses
import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from incircuit.board import HEALTHY, parse_board
from incircuit.drill.bench import Bench, act, start, state_now
from incircuit.drill.case import Case, Hidden
from incircuit.drill.deal import deal
from incircuit.drill.hidden import see
from incircuit.drill.levels import LEVELS
from incircuit.drill.named import is_right, named_faults
from incircuit.drill.results import Result, keep, kept, progress_of
from incircuit.drill.review import WRONG, review
from incircuit.drill.sheet import sheet_of
from incircuit.errors import DrillError
from incircuit.meter.profile import load_meter
from incircuit.predict.prediction import predict
from incircuit.predict.question import ask_about
from incircuit.story import parse_story

BOARD = parse_board("""board "Link and switch"
R1   resistor   BUS MID      100k 1%
R2   resistor   MID RTN      100k 1%
D1   diode      A=SW K=BUS   fast
Q1   igbt       G=G C=SW E=RTN
R3   resistor   G RTN        10k 1%
C1   capacitor  BUS RTN      22u 450V electrolytic
""")


def bench_of(*faults: Hidden, seed: int = 1) -> Bench:
    return start(Case(BOARD, load_meter("handheld"), "handheld", "test", 3, "", seed, faults))


def after(bench: Bench, *lines: str) -> tuple[Bench, list[str]]:
    said = []
    for line in lines:
        bench, answer = act(bench, line)
        said.append(answer.text)
    return bench, said


def test_the_same_seed_deals_the_same_bench_and_answers_the_same() -> None:
    for level in (1, 2):
        first, second = deal(level, 11), deal(level, 11)
        assert first == second
        nets = first.board.net_names()[:2]
        lines = (f"{nets[0]} {nets[1]} diode", f"{nets[1]} {nets[0]} ohms")
        assert after(start(first), *lines) == after(start(second), *lines)


def test_levels_deal_what_they_say() -> None:
    for level in LEVELS:
        cases = [deal(level.number, seed) for seed in range(60)]
        words = {h.word for c in cases for h in c.faults[:1]}
        hands = {"reversed", "missing", "wrong-value", "bridge"}
        assert words <= set(level.words) | (hands if level.hands else set())
        assert max(len(c.faults) for c in cases) == level.faults
        assert any(not c.faults for c in cases)
        assert sum(not c.faults for c in cases) < 25
        assert ("worked-on" in cases[0].board.flags) is level.hands
        if level.boards:
            assert len({c.source for c in cases}) == len(level.boards)


def test_a_healthy_bench_reads_within_the_healthy_bands() -> None:
    """Reference: the bands of `predict`, drawn otherwise; 99 of 100 boards stay within."""
    outside = count = 0
    for seed in range(12):
        bench = bench_of(seed=seed)
        for red, black in (("MID", "RTN"), ("SW", "BUS"), ("RTN", "SW"), ("G", "RTN")):
            for mode in ("diode", "ohms"):
                seen = act(bench, f"{red} {black} {mode}")[1].seen
                assert seen is not None
                band = predict(ask_about(BOARD, HEALTHY, red, black), bench.case.meter, [mode], [False])[
                    0
                ].band
                outside += not band.holds(seen.shown.value)
                count += 1
    assert outside <= 0.04 * count


def test_readings_scatter_from_board_to_board_and_from_reading_to_reading() -> None:
    texts = {act(bench_of(seed=seed), "G RTN ohms")[1].text for seed in range(8)}
    assert len(texts) > 3
    bench, said = after(bench_of(), *["G RTN ohms"] * 8)
    assert len(set(said)) > 1
    assert len(bench.lines) == 8


def test_faults_show_and_go_with_the_part() -> None:
    bench, said = after(
        bench_of(Hidden("Q1", "short C-E", 0.01)),
        "RTN SW diode",
        "remove Q1",
        "RTN SW diode",
        "fit Q1",
        "RTN SW diode",
        "SW RTN diode",
    )
    assert said[0] == "0.000 V"
    assert said[2].startswith("OL")
    assert said[4].startswith("0.4")
    assert state_now(bench)[1] == {"Q1"}


def test_a_bridge_is_between_its_nets() -> None:
    assert after(bench_of(Hidden("", "bridge", 0.05, ("G", "RTN"))), "G RTN ohms")[1][0].split()[0] in (
        "0.1",
        "0.2",
        "0.3",
        "0.4",
    )


def test_a_capacitor_answers_with_its_course() -> None:
    seen = act(bench_of(), "BUS RTN ohms")[1].seen
    assert seen is not None
    assert seen.first is not None  # short at first, then it climbs to the bleeder
    assert seen.first.value is not None
    assert seen.first.value < 100.0
    assert seen.shown.value == pytest.approx(200e3, rel=0.05)
    assert "at first" in seen.text


def test_what_was_done_is_a_readings_file() -> None:
    bench, _ = after(
        bench_of(), "G RTN ohms", "lift D1.K", "D1.A D1.K diode", "resolder D1.K", "BUS RTN ohms"
    )
    story = parse_story("\n".join(bench.lines) + "\n", board=BOARD)
    assert len(story.readings) == 3
    assert len(story.statements) == 2
    assert story.readings[2].when == "settled"


def test_work_is_counted() -> None:
    bench, _ = after(bench_of(), "G RTN ohms")
    assert bench.spent == bench.costs.reading(2, True)
    bench, _ = after(bench, "SW RTN ohms")
    assert bench.spent == bench.costs.reading(2, True) + bench.costs.reading(1, False)
    more, _ = after(bench, "lift R3.1", "resolder R3.1")
    assert more.spent - bench.spent == bench.costs.lift(BOARD.part("R3"))
    more, _ = after(bench, "fit Q1")
    assert more.spent - bench.spent == bench.costs.remove(BOARD.part("Q1"))
    more, _ = after(bench, "remove Q1", "fit Q1")
    assert more.spent - bench.spent == bench.costs.remove(BOARD.part("Q1"))


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("", "write one of"),
        ("x", "write one of"),
        ("G RTN", "write one of"),
        ("G RTN ohms now", "write one of"),
        ("G RTN beep", "not a mode"),
        ("G XX ohms", "no net"),
        ("G G ohms", "two different"),
        ("lift R9.1", "R9"),
        ("lift R1", "R1"),
        ("resolder R1.1", "R1.1"),
        ("remove R9", "R9"),
        ("short G RTN", "not a mode"),
        ("fault", "name part and fault"),
        ("fault R1", "R1"),
        ("fault R1 shrt", "short"),
        ("fault Q9 short", "Q"),
        ("fault bridge G", "two pads"),
        ("fault bridge G XX", "no net"),
        ("fault R1 reversed", "cannot be"),
        ("G RTN ohms\x00", "write one of"),
        ("R1.1 G volts", "not a mode"),
        ("a" * 600, "write one of"),
    ],
)
def test_what_cannot_be_done_is_told_and_changes_nothing(line: str, told: str) -> None:
    bench = bench_of()
    with pytest.raises(DrillError, match=told) as error:
        act(bench, line)
    assert len(str(error.value).splitlines()) == 1
    assert bench == bench_of()


def test_after_the_end_nothing_more_is_done() -> None:
    bench, _ = after(bench_of(), "healthy")
    assert bench.over
    with pytest.raises(DrillError, match="over"):
        act(bench, "G RTN ohms")
    with pytest.raises(DrillError, match="name the fault first"):
        review(bench_of())


@settings(deadline=None, derandomize=True, max_examples=60)
@given(
    st.lists(
        st.sampled_from(
            [
                "G",
                "RTN",
                "SW",
                "D1.K",
                "Q1",
                "R1.1",
                "ohms",
                "diode",
                "lift",
                "remove",
                "fit",
                "resolder",
                "fault",
                "open",
                "short",
                "healthy",
                ",",
                "bridge",
                '"',
                "#",
                "0.5",
                "OL",
                "x",
            ]
        ),
        max_size=6,
    ),
    st.text(max_size=8),
)
def test_whatever_is_typed_it_is_done_or_refused(words: list[str], junk: str) -> None:
    bench = bench_of()
    for line in (" ".join(words), " ".join(words) + junk, junk):
        try:
            bench, answer = act(bench, line)
        except DrillError as error:
            told = str(error)
        else:
            told = answer.text
        assert told
        assert "\n" not in told


@pytest.mark.parametrize(
    ("truth", "said", "right"),
    [
        (["Q1 short C-E"], "Q1 short", True),
        (["Q1 short C-E"], "Q1 open G", False),
        (["Q1 short C-E"], "D1 short", False),
        (["R1 missing"], "R1 open", True),
        (["R1 open"], "R1 missing", True),
        (["R1 drifted"], "R1 wrong-value", False),
        (["R1 open", "D1 short"], "D1 short, R1 open", True),
        (["R1 open", "D1 short"], "R1 open", False),
    ],
)
def test_what_counts_as_right(truth: list[str], said: str, right: bool) -> None:
    hidden = [Hidden(part, fault) for part, fault in (text.split(" ", 1) for text in truth)]
    assert is_right(hidden, named_faults(BOARD, said)) is right


def test_a_bridge_is_named_by_its_nets_either_way() -> None:
    assert is_right([Hidden("", "bridge", 0.1, ("G", "RTN"))], named_faults(BOARD, "bridge RTN G"))


def test_the_review_of_a_good_and_of_a_bad_exercise() -> None:
    hidden = Hidden("R3", "open")
    good = review(after(bench_of(hidden), "G RTN ohms", "fault R3 open")[0])
    assert (good.right, good.blind, good.needless) == (True, (), ())
    assert good.points > 30
    bad = review(
        after(bench_of(hidden), "SW BUS diode", "lift D1.K", "D1.A D1.K diode", "fault D1 short")[0]
    )
    assert not bad.right
    assert bad.points == 0
    assert bad.cost == bad.spent + WRONG
    assert bad.blind == (1, 3)
    assert bad.needless == (2,)
    assert bad.truth == (hidden,)
    assert good.way.seconds < bad.spent


def test_a_lift_that_was_needed_is_not_needless() -> None:
    """A short of one of two parts between the same pads: only a lead in the air can tell."""
    board = parse_board(
        "R1 resistor A B 10R 1%\nD1 diode A=A K=B signal\nR2 resistor B C 1k\nR3 resistor A C 1k\n"
    )
    case = Case(board, load_meter("handheld"), "handheld", "test", 1, "", 5, (Hidden("D1", "open"),))
    bench, said = after(start(case), "A B diode", "lift R1.1", "A B diode", "fault D1 open")
    assert said[0].startswith("0.01")
    found = review(bench)
    assert (found.right, found.blind, found.needless) == (True, (1,), ())
    assert found.way.lifts  # nor can the shortest way do without
    assert found.way.left == ()


def test_a_guess_earns_nothing() -> None:
    assert review(after(bench_of(Hidden("R3", "open")), "fault R3 open")[0]).points == 0


def test_results_are_kept_and_a_torn_line_costs_only_itself(tmp_path: Path) -> None:
    file = tmp_path / "new folder" / "drill.jsonl"
    assert kept(file) == ()
    results = [
        Result("2026-01-01T00:00:00+00:00", "x", k % 2 + 1, k, k % 3 > 0, 100.0, 50.0, 50 * (k % 3), "l")
        for k in range(6)
    ]
    for result in results[:3]:
        keep(file, result)
    with open(file, "ab") as torn:
        torn.write(b'{"when": "2026')
    for result in results[3:]:
        keep(file, result)
    assert kept(file) == tuple(results)
    first, second = progress_of(kept(file))
    assert (first.level, first.played, first.right) == (1, 3, 2)
    assert second.points == pytest.approx((50 + 0 + 100) / 3)
    with pytest.raises(DrillError, match="cannot be written"):
        keep(tmp_path, results[0])
    with pytest.raises(DrillError, match="cannot be read"):
        kept(tmp_path)


def test_junk_among_results_is_passed_over(tmp_path: Path) -> None:
    file = tmp_path / "r.jsonl"
    rng = random.Random(3)
    file.write_bytes(
        b"\n".join(bytes(rng.randrange(256) for _ in range(30)) for _ in range(50)) + b"\n[]\n1\nnull\n"
        b'{"when": 1, "level": "x"}\n'
    )
    assert kept(file) == ()


def test_a_sheet_shows_what_the_bench_shows() -> None:
    case = deal(2, 3)
    sheet = sheet_of(case, bench_of().costs)
    needed = [step.text for step in sheet.way.steps]
    assert [text for text, _ in sheet.readings if text in needed] != []
    bench = start(case)
    for text, shown in sheet.readings:
        bench, answer = act(bench, text)
        assert shown == (answer.text if answer.seen else "")


def test_a_case_is_plain_data() -> None:
    case = deal(1, 1)
    with pytest.raises(dataclasses.FrozenInstanceError):
        case.seed = 2  # type: ignore[misc]
    seen = see(case, HEALTHY, frozenset(), "IN", "OUT", "ohms", 0)
    assert seen == see(case, HEALTHY, frozenset(), "IN", "OUT", "ohms", 0)
