"""Proves 24 V heating and cooling control wiring."""
