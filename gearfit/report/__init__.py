"""Figures, page, picture and tables: draws what others computed."""

from __future__ import annotations

from gearfit.report.files.write import write_report

__all__ = ["write_report"]
