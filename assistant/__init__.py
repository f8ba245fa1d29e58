"""sweepsay: square a machine's table to its spindle by voice."""
