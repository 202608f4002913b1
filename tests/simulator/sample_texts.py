"""The words in the sample folders: bike.toml files and README."""

from __future__ import annotations

from typing import Final

TRAIL_BIKE_TOML: Final = """\
# An invented bike: no such machine exists, and nobody rode these rides. They were simulated for gearfit.
name = "Fellside 300"

[engine]
cylinders = 1
strokes = 4
limit_rpm = 9500

[gearbox]
primary = "72/24"
gears = ["32/13", "30/17", "28/20", "26/22", "24/24", "22/26"]

[final_drive]
kind = "chain"
front = 14
rear = 48
chain = "520"
links = 108
slack_mm = [35, 45]
adjuster_mm = [0, 40]
axle_at_mm = 22

[tyre]
size = "120/80-18"

[speedometer]
driven_from = "front wheel"
regulation = "UNECE R39"

[mass]
total_kg = 235

[setups.before]
rear = 48

[setups.after]
rear = 50
"""

MOTORWAY_COMMUTER_TOML: Final = """\
# An invented bike: no such machine exists, and nobody rode these rides. They were simulated for gearfit.
name = "Tidemill 500"

[engine]
cylinders = 2
strokes = 4
limit_rpm = 9000

[gearbox]
primary = "70/30"
gears = ["37/14", "34/19", "31/22", "28/24", "26/26", "25/29"]

[final_drive]
kind = "chain"
front = 15
rear = 43
chain = "520"

[tyre]
size = "150/70-17"

[speedometer]
driven_from = "unknown"

[mass]
total_kg = 285

[setups.before]
front = 15

[setups.after]
front = 16
"""

README: Final = """\
# Sample rides

All of this is invented: the bikes, their names and tooth counts, the riders and the rides. Nothing was recorded on a
road. `python -m tests.simulator` writes every file in this folder anew, byte for byte the same, from fixed seeds;
the tracks lie in the open sea off the Gulf of Guinea, where nobody rides.

What is true of each ride is known, so a report can be checked against it (`tests.simulator.samples.SAMPLE_TRUTHS`).

| folder | what the rider did | what lies in it | what is true |
|---|---|---|---|
| `trail-bike` | Fellside 300, for steeper hills: rear sprocket from 48 to 50 teeth | in each setup a ten-minute \
track with the receiver's speed at 5 Hz, an engine-speed log of a second recorder at 10 Hz, five hand-timed runs \
from 0 to 80 km/h | every gear 4.00 % lower at the same engine speed; rolling circumference 1.987 m; the engine-speed \
log leads the receiver by 0.20 s |
| `motorway-commuter` | Tidemill 500, for calmer motorway riding: front sprocket from 15 to 16 teeth | in each setup a \
sheet of speeds read from a satellite receiver to 1 mph at held engine speeds, three times in each gear at 4000 and \
5000 rev/min, and one hand-timed run | every gear 6.67 % higher; rolling circumference 1.972 m; one reading in \
`after/holds.csv` was written down 10 mph too high |
| `no-papers` | a five-speed of unknown history, front sprocket one tooth smaller; no `bike.toml` | in each setup \
a ten-minute log of time, engine speed and speed at 10 Hz | every gear 6.67 % lower |

Ride such tests only where it is lawful and safe: a closed road or a quiet one within its limits, with somebody else or
a recorder to note the readings, never with your eyes on the dash. Local law and the machine's manual come first.
"""
