"""The outside world, one module for each thing in it: sound, ears, voice, keypad, screen."""
