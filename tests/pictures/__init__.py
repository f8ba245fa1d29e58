"""The pictures of README, and what makes them."""
