"""What to do next: the telling reading, the lead to lift, the shortest list.

`costs` says what an act costs, `probes` what can be touched, `outcomes` what every reading would show
under every fault, `survey` what can be judged in place, `worksheet` the shortest list that shows it,
`gain` and `following` the next act worth its cost.
"""
