"""Invented machines. None of them exists; their numbers were made up for this project."""

from __future__ import annotations

from gearfit.machine.bike import Bike, Engine, FinalDrive, Gearbox, Setup, Tyre
from tests.simulator.machine import Machine


def _two_setups(name: str, engine: Engine, gearbox: Gearbox, drives: tuple[FinalDrive, FinalDrive], tyre: Tyre) -> Bike:
    before, after = drives
    setups = (Setup("before", before, tyre), Setup("after", after, tyre))
    return Bike(name=name, engine=engine, gearbox=gearbox, final_drive=before, tyre=tyre, setups=setups)


def trail_bike(setup: str = "before") -> Machine:
    """Return a 300 cm3 six-speed single; rear sprocket 48 teeth before, 50 after."""
    bike = _two_setups(
        "Fellside 300",
        Engine(cylinders=1, strokes=4, limit_rpm=9500),
        Gearbox(72 / 24, (32 / 13, 30 / 17, 28 / 20, 26 / 22, 24 / 24, 22 / 26)),
        (FinalDrive(front=14, rear=48), FinalDrive(front=14, rear=50)),
        Tyre(size="120/80-18"),
    )
    return Machine(
        bike=bike,
        setup=setup,
        circumference_m=1.987,
        mass_kg=235.0,
        torque_rpm=(0, 1500, 3000, 5000, 6800, 8200, 9500),
        torque_nm=(8, 15, 21, 25, 27, 25.5, 20),
        idle_rpm=1450.0,
        limit_rpm=9500.0,
        launch_rpm=4800.0,
        closed_torque_nm=7.0,
        drag_area_m2=0.58,
    )


def commuter_twin(setup: str = "before") -> Machine:
    """Return a 500 cm3 six-speed twin; front sprocket 15 teeth before, 16 after."""
    bike = _two_setups(
        "Tidemill 500",
        Engine(cylinders=2, strokes=4, limit_rpm=9000),
        Gearbox(70 / 30, (37 / 14, 34 / 19, 31 / 22, 28 / 24, 26 / 26, 25 / 29)),
        (FinalDrive(front=15, rear=43), FinalDrive(front=16, rear=43)),
        Tyre(size="150/70-17"),
    )
    return Machine(
        bike=bike,
        setup=setup,
        circumference_m=1.972,
        mass_kg=285.0,
        torque_rpm=(0, 1500, 3000, 5000, 6500, 8000, 9000),
        torque_nm=(15, 30, 38, 42, 43, 39, 32),
        idle_rpm=1300.0,
        limit_rpm=9000.0,
        launch_rpm=4000.0,
        closed_torque_nm=12.0,
        drag_area_m2=0.62,
        engine_inertia_kgm2=0.012,
    )


def close_ratio_single(setup: str = "before") -> Machine:
    """Return a 450 cm3 six-speed sport single with upper steps of 1.09 to 1.12; front sprocket 16 before, 15 after."""
    bike = _two_setups(
        "Larkrise 450 C",
        Engine(cylinders=1, strokes=4, limit_rpm=10500),
        Gearbox(74 / 28, (31 / 14, 32 / 18, 30 / 20, 30 / 22, 26 / 21, 26 / 23)),
        (FinalDrive(front=16, rear=42), FinalDrive(front=15, rear=42)),
        Tyre(size="140/70-17"),
    )
    return Machine(
        bike=bike,
        setup=setup,
        circumference_m=1.932,
        mass_kg=225.0,
        torque_rpm=(0, 1800, 3500, 5500, 7500, 9000, 10500),
        torque_nm=(10, 22, 32, 38, 41, 39, 31),
        idle_rpm=1700.0,
        limit_rpm=10500.0,
        launch_rpm=5000.0,
        closed_torque_nm=10.0,
        drag_area_m2=0.45,
    )


def old_five_speed(setup: str = "before") -> Machine:
    """Return a 400 cm3 five-speed twin; front sprocket 15 teeth before, 14 after."""
    bike = _two_setups(
        "Saltings 400",
        Engine(cylinders=2, strokes=4, limit_rpm=9000),
        Gearbox(66 / 26, (36 / 14, 33 / 19, 29 / 22, 26 / 25, 24 / 28)),
        (FinalDrive(front=15, rear=40), FinalDrive(front=14, rear=40)),
        Tyre(rolling_circumference_mm=1965.0),
    )
    return Machine(
        bike=bike,
        setup=setup,
        circumference_m=1.958,
        mass_kg=262.0,
        torque_rpm=(0, 1500, 3000, 5000, 7000, 8200, 9000),
        torque_nm=(12, 24, 30, 33, 34, 31, 26),
        idle_rpm=1300.0,
        limit_rpm=9000.0,
        launch_rpm=4200.0,
        closed_torque_nm=10.0,
        shift_time_s=0.45,
    )
