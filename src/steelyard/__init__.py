"""Steelyard: an evidence workbook for weighing training studies."""

__version__ = "0.1.0"
