"""Figures, page, picture and tables: draws what others computed."""
