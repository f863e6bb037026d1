"""A bench meter asked over SCPI, simulated by pyvisa-sim: its readings, its overload, its silence."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from incircuit.errors import MeterError
from incircuit.meter.typed import parse_shown
from incircuit.web.instrument import open_instrument
from tests.web.serving import Page
from tests.web.technician import complaints_of, judged, tab_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser

LIBRARY = f"{Path(__file__).with_name('meter.yaml')}@sim"
METER, ODD = "TCPIP::192.0.2.20::INSTR", "TCPIP::192.0.2.21::INSTR"


def test_readings_as_they_would_be_typed() -> None:
    meter = open_instrument(METER, LIBRARY)
    assert meter.name == "Simulated Bench"
    assert meter.read("diode") == "0.5863"
    assert parse_shown(meter.read("ohms"), "ohms").value == 10012.3
    assert parse_shown(meter.read("continuity"), "continuity").overload
    meter.close()


def test_what_is_no_reading_is_told() -> None:
    meter = open_instrument(ODD, LIBRARY)
    with pytest.raises(MeterError, match="no reading in diode"):
        meter.read("diode")
    with pytest.raises(MeterError, match="no number"):
        meter.read("ohms")
    assert meter.read("continuity") == "OL"
    with pytest.raises(MeterError, match="not asked"):
        meter.read("farads")
    meter.close()


@pytest.mark.parametrize("resource", ["TCPIP::192.0.2.99::INSTR", "nonsense"])
def test_a_meter_that_is_not_there_is_told(resource: str) -> None:
    with pytest.raises(MeterError, match="--instrument"):
        open_instrument(resource, LIBRARY)


def test_a_button_takes_the_reading(browser: Browser, bench: Callable[..., Page]) -> None:
    page = bench(f"--instrument={METER}", f"--visa={LIBRARY}")
    tab = tab_of(browser, page, "read")
    tab.locator("#pads option").first.wait_for(state="attached")
    tab.fill("#red", "+12V")
    tab.fill("#black", "COIL")
    tab.click("#ask-meter")
    judged(tab, 1)
    tab.check("#mode-ohms", force=True)
    tab.focus("#reading")
    tab.keyboard.press("Enter")  # in the empty field
    judged(tab, 2)
    lines = (page.folder / "stage.readings").read_text(encoding="utf-8").splitlines()[1:]
    assert [line.partition(" @")[0] for line in lines] == ["+12V COIL diode 0.5863", "+12V COIL ohms 10012.3"]
    assert complaints_of(tab) == []
