"""Bands, courses, block maps and flags: what is in the picture is what was asked for."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from incircuit.board import make_state, read_board
from incircuit.compare.compare import compare
from incircuit.draw.axis import axis_for
from incircuit.draw.band import BandRow, band_picture, bands_of
from incircuit.draw.blocks import block_picture, stages_of
from incircuit.draw.course import course_picture, sparkline
from incircuit.draw.svg import CURRENT, INK, MARK, MUTED, PAPER, RED
from incircuit.meter.profile import load_meter
from incircuit.meter.typed import last_digit, parse_shown
from incircuit.predict.course import course_of
from incircuit.predict.measure import Ask
from incircuit.predict.question import ask_about

ROOT = Path(__file__).resolve().parents[2]
GATE = str(ROOT / "boards/pump-drive/gate-drive.board")


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb (WCAG 2.1)."""
    parts = [int(colour[k:k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.published
@pytest.mark.parametrize("ink", [INK, MUTED, RED, CURRENT, MARK])
def test_contrast_is_enough(ink: str) -> None:
    """WCAG 2.1, success criterion 1.4.3: 4.5 to 1 for text."""
    light, dark = luminance(PAPER), luminance(ink)
    assert (light + 0.05) / (dark + 0.05) >= 4.5


def bar(svg: str, kind: str) -> tuple[float, float]:
    """Left and right end of the first band of a kind."""
    found = re.search(rf'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"[^>]*class="band band-{kind}"', svg)
    assert found is not None
    return float(found[1]), float(found[1]) + float(found[2])


def test_a_reading_stands_inside_the_healthy_band_and_outside_the_faults() -> None:
    board = read_board(GATE)
    question = ask_about(board, make_state(board), "GATE", "RTN")
    meter = load_meter("handheld")
    found = compare(question, meter, Ask("ohms"), parse_shown("9.99k", "ohms"), last_digit("9.99k", "ohms"))
    svg = bands_of(found.explanation, meter, found, "D4")
    needle = re.search(r'data-reading="[^"]+"><title>[^<]*</title><rect x="([\d.]+)"', svg)
    assert needle is not None
    left, right = bar(svg, "healthy")
    assert left <= float(needle[1]) <= right
    assert ">inside<" in svg
    assert "one digit here: 10 Ω" in svg
    ET.fromstring(svg)


@pytest.mark.parametrize(
    "rows",
    [
        (),
        (BandRow("x", None, None),),
        (BandRow("x", 0.0, 0.0),),
        (BandRow("x", -0.002, 0.001), BandRow("y", 0.5, None)),
        (BandRow("x", 1e-3, 4e7), BandRow("<&>", 0.0, 1.0)),
    ],
)
@pytest.mark.parametrize("unit", ["V", "Ω"])
@pytest.mark.parametrize("reading", [None, 0.0, 1e9])
def test_any_band_can_be_drawn(rows: tuple[BandRow, ...], unit: str, reading: float | None) -> None:
    svg = band_picture(rows, unit, reading=reading, shown="OL" if reading is None else "1", resolution=0.001)
    assert "nan" not in svg
    ET.fromstring(svg)


def test_axis_ticks_are_round_and_on_the_axis() -> None:
    assert axis_for([0.0, 0.65], 0, 100, 0.001, False).ticks()[:3] == (0.0, 0.2, 0.4)
    ohms = axis_for([0.5, 2e6], 0, 100, 0.1, True)
    assert ohms.log
    assert all(ohms.low <= t <= ohms.high for t in ohms.ticks())


def test_a_course_is_drawn_to_where_it_stands_still() -> None:
    board = read_board(str(ROOT / "boards/pump-drive/boost-stage.board"))
    question = ask_about(board, make_state(board), "RTN", "BUS")
    course = course_of(question, load_meter("handheld"), Ask("diode"), 16)
    svg = course_picture(course)
    ET.fromstring(svg)
    assert "stands still after" in svg
    assert 'class="band band-healthy"' in svg
    line = sparkline(course)
    assert len(line) == 20
    assert line[0] == "▁"
    assert line[-1] == "█"


def test_the_block_map_has_every_part_once_and_every_shared_net() -> None:
    for file in sorted((ROOT / "boards").glob("*/*.board")):
        board = read_board(str(file))
        stages = stages_of(board)
        assert sorted(ref for s in stages for ref in s.refs) == sorted(p.ref for p in board.parts)
        svg = block_picture(board)
        ET.fromstring(svg)
        nets = [{net for ref in s.refs for _, net in board.part(ref).pins} for s in stages]
        shared = {n for n in board.net_names() if sum(n in mine for mine in nets) > 1}
        assert set(re.findall(r'data-net="([^"]*)"', svg)) == shared


def test_png_has_the_size_it_should() -> None:
    pytest.importorskip("resvg_py")
    from incircuit.draw.png import png_of

    svg = band_picture((BandRow("x", 0.1, 0.2),), "V")
    size = re.search(r'width="([\d.]+)" height="([\d.]+)"', svg)
    assert size is not None
    data = png_of(svg, 2)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert abs(int.from_bytes(data[16:20], "big") - 2 * float(size[1])) <= 2
