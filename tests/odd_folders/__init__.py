"""Whole ride folders, odd ones, from reading to the written report: `python -m tests.odd_folders`.

`machines` draws an invented machine and what its rides show; `sheets` and `logs` write these down in the ways people
and recorders do; `papers` writes bike.toml, odd ones included; `oddities` cuts, repeats and empties; `folders` puts a
folder together from its seed. `outcome` reports on a folder and says what came of it. `spellings` writes one and the
same ride in two ways, and `alike` compares what the reports say of both.
"""
