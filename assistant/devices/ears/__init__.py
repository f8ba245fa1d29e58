"""Sound to meanings: endpointing, the recognisers, and what is accepted, asked or rejected."""
