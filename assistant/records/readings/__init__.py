"""Readings files for `sweepsay solve`, and its answer as lines."""
