"""Recorded speech for demo and tests: FLAC files and the manifest made by ``make_fixtures``."""
