"""Recognisers of the tests of devices share their models."""

from tests.one_model import _one_model

__all__ = ["_one_model"]
