"""Formulas, each with its source: no clock, no file, no unit registry. Floats and numpy arrays in SI; temperatures in °C."""
