"""A known-good board of the same batch narrows what is healthy."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
from click.testing import CliRunner

from incircuit.board import parse_board
from incircuit.cli.main import cli
from incircuit.errors import StoryError
from incircuit.judge.judge import judge
from incircuit.judge.observed import Observed
from incircuit.judge.reference import BATCH, good_of, narrowed
from incircuit.story import parse_story

TEXT = """
board "Output"
D1 diode A=RTN K=U fast
D2 diode A=U K=BUS fast
R1 resistor BUS RTN 100k 10%
R2 resistor U RTN 10k 10%
"""
BOARD = parse_board(TEXT, "output.board")
GOOD = "meter handheld\nRTN U diode 0.450\nU BUS diode 0.456\nU RTN ohms 8.95k\n"
BAD = "meter handheld\nRTN U diode 0.448\nU BUS diode 0.456\nU RTN ohms 10.75k\n"


def test_conditioning_is_the_closed_form() -> None:
    """One parameter, read on a good board: mean moved by ρ·s²/(s² + e²), variance less by ρ²s²/(s² + e²)
    (conditional normal distribution)."""
    u = np.concatenate([[0.0], np.random.default_rng(1).permutation(np.linspace(-1, 1, 4000))])
    healthy = (0.5 + 0.03 * u)[None, :]
    seen = [Observed(0.52, "diode", 0.003, 0.001, 2.0)]
    good = good_of(seen, healthy)
    after = narrowed(healthy[:, None, :], seen, good)[0, 0]
    s2, e2 = 0.03**2 / 3.0, (0.003**2 + 0.001**2) / 3.0
    assert abs(after[0] - (0.5 + BATCH * 0.02 * s2 / (s2 + e2))) < 1e-4
    left = s2 - BATCH**2 * s2 * s2 / (s2 + e2)
    assert abs(after[1:].var() - left) < 0.08 * left


def test_a_good_board_makes_a_drifted_resistor_more_suspect() -> None:
    bad, good = (parse_story(text, board=BOARD) for text in (BAD, GOOD))

    def odds(reference: bool) -> float:
        found = judge(BOARD, bad, reference=good if reference else None)
        return next(p.probability for p in found.ruling.parts if p.part == "R2")

    assert odds(False) < 0.1
    assert odds(True) > 3.0 * odds(False)


def test_where_the_boards_differ_is_said(tmp_path: Path) -> None:
    for name, text in (("output.board", TEXT), ("bad.readings", BAD), ("good.readings", GOOD)):
        (tmp_path / name).write_text(text)
    files = [str(tmp_path / name) for name in ("output.board", "bad.readings")]
    good = ["--reference", str(tmp_path / "good.readings")]
    out = CliRunner().invoke(cli, ["judge", *files, *good])
    assert out.exit_code == 0
    assert "differs in reading 3 (good board 8.95k)" in " ".join(out.output.split())
    said = json.loads(CliRunner().invoke(cli, ["judge", *files, *good, "--json"]).output)
    assert [b["differs"] for b in said["reference"]] == [False, False, True]
    assert "known-good" not in CliRunner().invoke(cli, ["judge", *files]).output


def test_a_faulty_reference_file_is_said_by_line(tmp_path: Path) -> None:
    wrong = "RTN XX diode 0.4\n"
    for name, text in (("output.board", TEXT), ("bad.readings", BAD), ("good.readings", wrong)):
        (tmp_path / name).write_text(text)
    out = CliRunner().invoke(cli, ["judge", *(str(tmp_path / n) for n in ("output.board", "bad.readings")),
                                   "--reference", str(tmp_path / "good.readings")])
    assert isinstance(out.exception, StoryError)
    assert "good.readings:1:5" in str(out.exception)
