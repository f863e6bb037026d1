"""One small board for these tests; its values are invented."""

from __future__ import annotations

from incircuit.board import parse_board

TEXT = '''board "Gate drive"
net DRV "driver output" pad=TP3
net short "a net with the name of a state word"
R7 resistor DRV GATE 10R
R8 resistor GATE RTN 10k
R9 resistor short RTN 1k
D3 diode A=GATE K=DRV signal
Q1 igbt G=GATE C=SW E=RTN
C9 capacitor SW RTN 470u
'''
BOARD = parse_board(TEXT)
