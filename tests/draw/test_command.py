"""`incircuit draw` and `incircuit report` as a technician types them, mistakes included."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from tests.cli.helpers import ROOT, run

GATE = "boards/pump-drive/gate-drive.board"


def test_a_reading_is_drawn_with_probes_and_suspects(tmp_path: Path) -> None:
    out = tmp_path / "a b" / "gate.svg"
    out.parent.mkdir()
    done = run("draw", GATE, "--reading", "SW", "RTN", "diode", "--shown", "0.001", "-o", str(out))
    assert (done.returncode, done.stderr) == (0, "")
    svg = out.read_text(encoding="utf-8")
    ET.fromstring(svg)
    assert {'data-probe="red"', 'data-probe="black"'} <= set(re.findall(r'data-probe="\w+"', svg))
    assert re.search(r'class="part[^"]*marked" data-part="Q1"', svg)
    assert "short C-E" in svg


@pytest.mark.parametrize("picture", ["circuit", "blocks", "bands", "course"])
def test_every_picture_as_png(picture: str, tmp_path: Path) -> None:
    pytest.importorskip("resvg_py")
    out = tmp_path / f"{picture}.png"
    done = run("draw", GATE, "--reading", "GATE", "RTN", "ohms", "--picture", picture, "-o", str(out))
    assert done.returncode == 0, done.stderr
    assert out.read_bytes()[:4] == b"\x89PNG"


@pytest.mark.parametrize(("words", "said"), [
    (["-o", "x.gif"], "write FILE.svg or FILE.png"),
    (["-o", "no/such/folder/x.svg"], "cannot be written"),
    (["--around", "Q11", "-o", "x.svg"], "Q1"),
    (["--mark", "R99", "-o", "x.svg"], 'no part "R99"'),
    (["--shown", "0.1", "-o", "x.svg"], "--shown needs --reading"),
    (["--picture", "bands", "-o", "x.svg"], "--picture bands needs --reading"),
    (["--reading", "GATE", "DVR", "diode", "-o", "x.svg"], "DRV"),
    (["--reading", "GATE", "GATE", "diode", "-o", "x.svg"], "different pads"),
    (["--reading", "GATE", "DRV", "dioed", "-o", "x.svg"], "diode"),
    (["--lift", "D3.Z", "-o", "x.svg"], "D3.A"),
    (["--meter", "nonesuch", "--reading", "GATE", "DRV", "ohms", "-o", "x.svg"], "nonesuch"),
])
def test_mistakes_are_told_in_one_line(words: list[str], said: str, tmp_path: Path) -> None:
    done = run("draw", GATE, *(str(tmp_path / w) if w.startswith("x.") else w for w in words))
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_whole_board_becomes_a_map_of_its_stages(tmp_path: Path) -> None:
    out = tmp_path / "all.svg"
    done = run("draw", "boards/pump-drive/pump-drive.board", "-o", str(out))
    assert done.returncode == 0
    assert "--around PART" in done.stderr
    assert 'data-stage="inverter"' in out.read_text(encoding="utf-8")


def test_a_reading_on_a_whole_board_draws_who_matters(tmp_path: Path) -> None:
    out = tmp_path / "near.svg"
    done = run(
        "draw", "boards/pump-drive/pump-drive.board", "--reading", "RTN", "BUS", "diode", "-o", str(out)
    )
    assert done.returncode == 0
    parts = set(re.findall(r'data-part="([^"]+)"', out.read_text(encoding="utf-8")))
    assert len(parts) <= 30
    assert {"D5", "M1"} <= parts  # the two ways from link minus to link plus


def test_a_job_record_has_everything(tmp_path: Path) -> None:
    out = tmp_path / "job.html"
    done = run("report", GATE, "examples/gate-drive.readings", "--device", "drive no. 7", "--complaint",
               "dead", "-o", str(out))
    assert done.returncode == 0, done.stderr
    assert "discharge" in done.stdout
    text = re.sub(r"\s+", " ", out.read_text(encoding="utf-8"))
    for said in (
        "drive no. 7",
        "<p>dead</p>",
        "FAILED: Q1 (the old one, replaced since)",
        "D3.K lifted",
        "<li>Q1: new, same type</li>",
        "RTN to SW, diode: 0.431, as healthy",
        "handheld",
        "incircuit ",
    ):
        assert said in text


def test_a_report_on_a_broken_story_says_where(tmp_path: Path) -> None:
    story = tmp_path / "bad.readings"
    story.write_text("GATE DVR diode 0.011\n", encoding="utf-8")
    done = run("report", GATE, str(story), "-o", str(tmp_path / "job.html"))
    assert done.returncode == 2
    assert "bad.readings:1:6" in done.stderr
    assert not (tmp_path / "job.html").exists()


def test_a_worksheet_on_paper_excludes_the_other_forms(tmp_path: Path) -> None:
    done = run("worksheet", GATE, "--html", "--csv", "-o", str(tmp_path / "x"))
    assert done.returncode == 2
    assert "exclude each other" in done.stderr


def test_colour_only_on_a_terminal_that_wants_it(monkeypatch: pytest.MonkeyPatch) -> None:
    from incircuit.cli import text

    monkeypatch.setattr(text.sys.stdout, "isatty", lambda: True, raising=False)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert text._colours()
    monkeypatch.setenv("NO_COLOR", "1")
    assert not text._colours()
    monkeypatch.delenv("NO_COLOR")
    monkeypatch.setenv("TERM", "dumb")
    assert not text._colours()


def test_the_picture_in_the_readme_is_the_one_it_says(tmp_path: Path) -> None:
    """To renew it, run the command of the README's section on pictures with -o examples/gate-drive.svg."""
    out = tmp_path / "gate.svg"
    run("draw", GATE, "--reading", "SW", "RTN", "diode", "--shown", "0.001", "-o", str(out))
    assert out.read_text(encoding="utf-8") == (ROOT / "examples/gate-drive.svg").read_text(encoding="utf-8")
