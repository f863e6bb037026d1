"""Netlists of other programs: brought in as board files, and one reading taken out as a SPICE deck.

`deck`, `scopes`, `flat`, `models`, `devices` read a SPICE deck; `sexpr`, `schematic`, `guess` a schematic
editor's netlist; `overrides` and `assemble` make the board of either; `bring` is the way in, `deckout` the
way out.
"""
