"""Measuring: exact lengths, plane, uncertainty, shims, verdict. Pure: imports numpy only."""
