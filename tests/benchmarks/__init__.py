"""What measures and fits: commands that print tables, and no part of what is installed."""
