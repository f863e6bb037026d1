"""More neighbourhoods of the trade, invented, on which nothing was tuned: for the large runs."""

from __future__ import annotations

from collections.abc import Sequence

from incircuit.board import Board, parse_board
from tests.compare import circuits

MORE = {
    "paralleled": """
R1 resistor DRV G1 10R 5%
R2 resistor DRV G2 10R 5%
R3 resistor DRV RTN 22k 5%
Q1 igbt G=G1 C=SW E=RTN
Q2 igbt G=G2 C=SW E=RTN
D1 diode A=SW K=BUS fast
D2 diode A=SW K=BUS fast
alike Q1 Q2
alike D1 D2
""",
    "leg": """
R1 resistor HI GH 4R7 5%
R2 resistor LO GL 4R7 5%
R3 resistor GH MID 10k 5%
R4 resistor GL RTN 10k 5%
Q1 nmos G=GH D=BUS S=MID power
Q2 nmos G=GL D=MID S=RTN power
R5 resistor MID SN 22R 5%
C1 capacitor SN RTN 1n film
C2 capacitor BUS RTN 470n film
""",
    "opto-feedback": """
U1 optocoupler A=LA K=LK C=FB E=GNDP
R1 resistor OUT LA 1k 5%
R2 resistor LA LK 4k7 5%
U2 shunt-regulator A=GND K=LK REF=REF
R3 resistor OUT REF 12k 1%
R4 resistor REF GND 10k 1%
C1 capacitor OUT GND 100u 25V electrolytic
R5 resistor VCC FB 10k 5%
""",
    "charger-input": """
F1 fuse L LF 2A
RT1 thermistor LF LN 8R ntc 20%
C1 capacitor LN N 220n film
R1 resistor LN N 1M 5%
BR1 bridge AC1=LN AC2=N +=BUS -=RTN
C2 capacitor BUS RTN 47u 400V electrolytic
R2 resistor BUS RTN 330k 5%
""",
    "current-sense": """
R1 shunt RTN SRC 10m 1%
R2 resistor SRC IP 1k 1%
R3 resistor RTN IM 1k 1%
R4 resistor IM OUT 20k 1%
R5 resistor IP RTN 20k 1%
U1 chip P=IP M=IM OUT=OUT VCC=VCC GND=RTN supply=VCC ground=GND load=4k7
R6 resistor OUT ADC 100R 1%
C1 capacitor ADC RTN 10n ceramic
D1 diode A=ADC K=VCC schottky
""",
    "three-legs": """
Q1 igbt G=G1 C=U E=RTN
Q2 igbt G=G2 C=V E=RTN
Q3 igbt G=G3 C=W E=RTN
R1 resistor G1 RTN 10k 5%
R2 resistor G2 RTN 10k 5%
R3 resistor G3 RTN 10k 5%
D1 diode A=U K=BUS fast
D2 diode A=V K=BUS fast
D3 diode A=W K=BUS fast
R4 resistor BUS RTN 220k 5%
M1 motor-winding U=U V=V W=W dcr=2R1
alike Q1 Q2 Q3
alike D1 D2 D3
""",
    "trio": """
Q1 igbt G=G1 C=U E=RTN
Q2 igbt G=G2 C=V E=RTN
Q3 igbt G=G3 C=W E=RTN
R1 resistor G1 RTN 10k 5%
R2 resistor G2 RTN 10k 5%
R3 resistor G3 RTN 10k 5%
alike Q1 Q2 Q3
""",
}


def board(name: str) -> Board:
    """A circuit by name: one of these, a small one, a shipped one."""
    return parse_board(f'board "{name}"\n{MORE[name]}', name) if name in MORE else circuits.board(name)


def named(words: Sequence[str]) -> list[str]:
    """Names of circuits; `small`, `more` and `shipped` stand for all of them, none for small and shipped."""
    sets = {"small": circuits.SMALL, "more": MORE, "shipped": circuits.SHIPPED}
    return [name for word in words or ("small", "shipped") for name in sets.get(word, (word,))]
