"""An invented machine for tests of predictions."""

from __future__ import annotations

from gearfit.machine.bike import Balance, Bike, Engine, FinalDrive, Gearbox, Setup, Tyre

DRIVE = FinalDrive(
    front=14,
    rear=43,
    chain="520",
    pitch_mm=15.875,
    links=112,
    slack_mm=(35.0, 45.0),
    adjuster_mm=(0.0, 25.0),
    axle_at_mm=11.0,
)
TYRE = Tyre(rolling_circumference_mm=1950.0)
BIKE = Bike(
    name="Tarn 350",
    engine=Engine(cylinders=2, strokes=4, limit_rpm=10500, torque_nm=32.0),
    gearbox=Gearbox(74 / 25, (35 / 13, 31 / 17, 28 / 20, 26 / 22, 24 / 24, 23 / 26)),
    final_drive=DRIVE,
    tyre=TYRE,
    total_kg=255.0,
    balance=Balance(1410.0, 640.0, 690.0),
)
SETUP = Setup("", DRIVE, TYRE)
