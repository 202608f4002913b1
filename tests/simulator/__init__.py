"""Invented rides with known truth, for demonstration and validation.

`machine` and `machines` say what is ridden, `road` where, `manoeuvres` and `scripts` how; `ride` (with `motion` and
`rider`) does it, `stepless` on a machine without gears. `instruments`, `recorder` and `sheets` turn a true ride into
what a rider would have recorded, `files` writes that down, and `samples` makes the sample folders
(`python -m tests.simulator`). Everything random comes from the generator passed in.
"""
