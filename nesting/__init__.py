"""Rollwright: from measured rooms to the least roll, seams and checked cut maps."""

__version__ = "0.1.0"
