"""What a reader has to know that the file itself does not say."""

from __future__ import annotations

from dataclasses import dataclass, field

from gearfit.machine.bike import Bike, ColumnNames, Engine


@dataclass(frozen=True)
class ReadOptions:
    """Choices of the rider and facts of the machine that importers use.

    Attributes
    ----------
    accept_bad_checksums : bool
        Whether NMEA sentences with a wrong or missing checksum are used.
    columns : ColumnNames
        Headers in words of the rider's own, from bike.toml.
    engine : Engine
        What the firing frequency in a sound recording depends on, from bike.toml.
    """

    accept_bad_checksums: bool = False
    columns: ColumnNames = field(default_factory=ColumnNames)
    engine: Engine = field(default_factory=Engine)

    @classmethod
    def of(cls, bike: Bike, *, accept_bad_checksums: bool = False) -> ReadOptions:
        """Return the options that a machine's bike.toml leads to."""
        return cls(accept_bad_checksums, bike.columns, bike.engine)
