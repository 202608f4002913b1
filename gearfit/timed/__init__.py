"""Standing starts and roll-ons, found in the speed trace of a ride and timed with their errors.

`asked` says which spans are asked for, `trace` cleans a recording, `noise` finds how much its speeds scatter,
`candidates` finds what might be a run, `smooth` and `start` time its end and its start, `gears`, `throttle` and `slope`
say how it was ridden, `air` refers its time to another state of the air, and `find` puts all of it together.
"""
