"""What to do next: the telling reading, the lead to lift, the shortest list.

`costs` says what an act costs, `pairs` between which pads to read, `limits` what a reading may show under
every fault (`conditions`), `patches` the same on a board of any size, neighbourhood by neighbourhood on all
processors (`crew`), `outcomes` in one table. `survey` tells what can be judged in place, `lifts`, `jumpers`
and `laid_bare` what must be done by hand where it cannot, `worksheet` the shortest list of readings that
shows it (`cover`), `suspects` what may be the case after some readings, `meanings` what each outcome of one
more would say, `following` the next act worth its cost, `pads` where to put the probes.
"""
