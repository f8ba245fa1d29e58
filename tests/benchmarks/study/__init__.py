"""How good is the advice? Whole jobs on machines of many kinds, against the truth."""
