"""Study of rides as they are recorded: physics, instruments and files, and what results.json makes of them.

Run by hand: ``python -m tests.validation.recorded --rides 20 --first-seed 1000`` (one row with ``--row``). Machines,
roads and riders are invented, and the whole is made without any knowledge of how gearfit estimates: `machines`,
`roads` and `riders` draw, `ride` and `variator` move, `receivers` measure, `writing` writes files, `scenarios` lists
the rows and `pairs` puts a pair of rides together with its truth. `answer` runs gearfit, `judge` compares (times with
those of `launches`), `table` counts.
"""
