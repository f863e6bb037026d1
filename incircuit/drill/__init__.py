"""Drills: a bench with a hidden fault, or none, that answers like a meter; afterwards the shortest way.

`deal` draws the bench of a level and a seed, `hidden` reads it, `bench` is the exercise as a pure state
machine (a line in, an answer out, no terminal), `named` what may be named as the fault, `way` the shortest
way and `review` the lesson afterwards, `results` keeps what was reached, `sheet` prints exercises.
"""
