"""The examples in docstrings."""

import doctest
from types import ModuleType

import pytest

from assistant.metrology import dial, lean, lengths


@pytest.mark.parametrize("module", [dial, lean, lengths])
def test_examples_hold(module: ModuleType) -> None:
    found = doctest.testmod(module)
    assert found.attempted
    assert not found.failed
