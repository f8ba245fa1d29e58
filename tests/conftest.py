"""Loaded before every test: the program's own settings come before numpy does."""

import assistant  # noqa: F401  it limits the threads of linear algebra, which numpy reads once
