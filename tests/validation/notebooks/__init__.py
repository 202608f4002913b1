"""Study of ride folders written by hand: what people note, and what the report makes of it.

Run by hand: ``python -m tests.validation.notebooks --folders 500 --first-seed 0`` (a few minutes on one core). Bikes,
riders and rides are invented. The folders are made without any knowledge of how gearfit estimates: `bikes` draws the
machine, `choices` what the person does, `rides` what was ridden and read, `slips` what went wrong, `papers` bike.toml,
`writing` the sheets, `stopwatch` the timed runs, `folders` puts them together with their `truth`.
`printed` runs gearfit, `judge` and `rows` compare, `table` and `cells` count.
"""
