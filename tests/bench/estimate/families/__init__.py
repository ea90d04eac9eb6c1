"""Families of banks that share no equations, on one common layer of chargers, households and hazards.

`priors` draws a round, a family (`FAMILIES`) makes the cells, `world` lets them live with a charger and people, `truth`
says with hindsight what each minute was, `meters` what a household sees of it, `door` what the rules say when they are
told that much, `marks` how right they were and `targets` prints the table. `fit` takes numbers from some families, to
be judged on another one.
"""
