"""Sound in and out: microphone, speaker, the library under them, and our own voice coming back."""
