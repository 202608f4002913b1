"""The printable test card, and the sheets to fill in that `gearfit report` reads."""

from gearfit.report.card.write import write_card

__all__ = ["write_card"]
