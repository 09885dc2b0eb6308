"""Fitting on many machines; loaded only when asked for."""
