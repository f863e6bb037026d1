"""Small circuits of the trade for the tests of the verdicts, and the shipped neighbourhoods."""

from __future__ import annotations

from pathlib import Path

from incircuit.board import Board, parse_board, read_board

BOARDS = Path(__file__).resolve().parents[2] / "boards"

SHIPPED = ("pump-drive/gate-drive", "pump-drive/mains-input", "pump-drive/boost-stage", "pump-drive/inverter",
           "pump-drive/auxiliary-supply", "pump-drive/control", "lamp-driver/lamp-driver",
           "battery-charger/battery-charger", "audio-amp/audio-amp")

SMALL = {
    "gate-drive": """
R1 resistor DRV GATE 22R 5%
D1 diode A=GATE K=DRV signal
R2 resistor GATE RTN 10k 5%
Q1 igbt G=GATE C=SW E=RTN freewheel=none
""",
    "bridge-link": """
BR1 bridge AC1=L AC2=N +=BUS -=RTN
C1 capacitor BUS RTN 220u 400V electrolytic
R1 resistor BUS RTN 150k 5%
""",
    "half-bridge": """
Q1 nmos G=G1 D=BUS S=OUT power
Q2 nmos G=G2 D=OUT S=RTN power
R1 resistor G1 OUT 10k 5%
R2 resistor G2 RTN 10k 5%
R3 resistor BUS RTN 220k 5%
""",
    "dual-boost": """
L1 inductor IN SW 300u power dcr=60m
Q1 igbt G=G C=SW E=RTN
R1 resistor G RTN 10k 5%
D1 dual-diode A1=SW A2=SW K=BUS common-cathode fast
C1 capacitor BUS RTN 330u 450V electrolytic
R2 resistor BUS RTN 220k 5%
D2 diode A=IN K=BUS rectifier
""",
    "switch-transistor": """
R1 resistor IN B 4k7 5%
R2 resistor B E 10k 5%
Q1 npn B=B C=C E=E small
R3 resistor C VCC 1k 5%
""",
    "led": """
R1 resistor VCC A 680R 5%
D1 led A=A K=K red
R2 resistor A K 10k 5%
""",
    "clamp": """
R1 resistor IN OUT 1k 1%
D1 zener A=GND K=OUT 5V1
C1 capacitor OUT GND 100n ceramic
R2 resistor OUT GND 47k 1%
""",
    "divider": """
R1 resistor BUS A 470k 1%
R2 resistor A B 470k 1%
R3 resistor B GND 10k 1%
C1 capacitor B GND 10n ceramic
""",
    "relay": """
K1 relay A1=VCC A2=DRV COM=COM NO=NO dcr=320
D1 diode A=DRV K=VCC rectifier
Q1 npn B=B C=DRV E=GND small
R1 resistor IN B 2k2 5%
R2 resistor B GND 10k 5%
""",
}


def small(name: str) -> Board:
    """One of the small circuits."""
    return parse_board(f'board "{name}"\n{SMALL[name]}', name)


def shipped(name: str) -> Board:
    """One of the shipped neighbourhoods."""
    return read_board(str(BOARDS / f"{name}.board"))


def board(name: str) -> Board:
    """A circuit by name, small ones first."""
    return small(name) if name in SMALL else shipped(name)
