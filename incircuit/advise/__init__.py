"""What to do next: the telling reading, the lead to lift, the shortest list.

`costs` says what an act costs, `outcomes` what every reading would show under every fault (`conditions`),
`survey` what can be judged in place, `lifts` what must be lifted, `worksheet` the shortest list of
readings that shows it (`cover`), `suspects` what may be the case after some readings, `meanings` what each
outcome of one more would say, `following` the next act worth its cost, `pads` where to put the probes.
"""
