"""A bench meter that can be asked for its reading: SCPI over LAN, USB or a serial line, through pyvisa.

Commands and the number for overload are those of SCPI-99 (volume 2, MEASure; volume 1, 7.2.1: infinity is
9.9E37, not a number 9.91E37); DIODe and CONTinuity are not in it, but common practice.
"""

from __future__ import annotations

import contextlib
import math
import threading
from dataclasses import dataclass, field
from typing import Any

from incircuit.errors import MeterError

ASK = {"diode": "MEAS:DIOD?", "ohms": "MEAS:RES?", "continuity": "MEAS:CONT?"}
OVERLOAD = 9.9e37
SLOWEST = 8.0
"""[s] An autoranging meter may take so long over megohms."""
DIGITS = 6


@dataclass(slots=True)
class Instrument:
    """An opened meter. One question at a time."""

    resource: str
    name: str
    link: Any
    lock: threading.Lock = field(default_factory=threading.Lock)

    def read(self, mode: str) -> str:
        """The display in a mode, as it is typed: ``0.5863``, ``10012.3``, ``OL``. Raises MeterError."""
        if mode not in ASK:
            raise MeterError(f"the meter is not asked in mode {mode[:20]}")
        with self.lock:
            answer = _asked(self, ASK[mode])
        try:
            value = float(answer.split(",")[0])
        except ValueError:
            raise MeterError(f"{self.name} answered {answer[:40]!r}, which is no number") from None
        if math.isnan(value) or value >= 9.905e37:
            raise MeterError(f"{self.name} has no reading in {mode}")
        return "OL" if abs(value) >= 0.999 * OVERLOAD else f"{value:.{DIGITS}g}"

    def close(self) -> None:
        """Let the meter go."""
        with contextlib.suppress(Exception):
            self.link.close()


def open_instrument(resource: str, library: str = "@py") -> Instrument:
    """Open a VISA resource such as ``TCPIP::192.168.1.20::INSTR`` and ask who it is (IEEE 488.2 ``*IDN?``).

    `library` is what pyvisa takes: ``@py``, or the path of a VISA library. Raises MeterError.
    """
    try:
        import pyvisa
    except ImportError:
        raise MeterError("--instrument needs pyvisa: pip install 'incircuit[instrument]'") from None
    try:
        link = pyvisa.ResourceManager(library).open_resource(resource)
        if not isinstance(link, pyvisa.resources.MessageBasedResource):
            raise ValueError("no such meter, or not one that can be asked")
        link.timeout = int(SLOWEST * 1000)
        link.write_termination = "\n"
        if "SOCKET" in resource.upper() or resource.upper().startswith("ASRL"):
            link.read_termination = "\n"  # elsewhere the bus itself says where a message ends
        found = Instrument(resource, resource, link)
        found.name = " ".join(_asked(found, "*IDN?").replace(",", " ").split()[:2])
        if not found.name:
            raise ValueError("nobody says who is there")
    except (OSError, ValueError, pyvisa.Error) as error:
        reason = (str(error).strip() or type(error).__name__).splitlines()[0]
        raise MeterError(f"--instrument {resource}: {reason}") from None
    return found


def _asked(meter: Instrument, question: str) -> str:
    import pyvisa

    try:
        return str(meter.link.query(question)).strip()
    except (OSError, ValueError, pyvisa.Error) as error:
        reason = (str(error).strip() or type(error).__name__).splitlines()[0]
        raise MeterError(f"{meter.name} does not answer {question}: {reason}") from None
