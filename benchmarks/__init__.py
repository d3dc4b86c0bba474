"""Measuring: converters, generators, baselines and the runner. Not part of what is installed."""
