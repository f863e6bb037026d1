"""Elements on nodes: operating points, one or thousands at a time, by the own engine or ngspice."""
