"""The keypad and the keyboard: what a key says, told from bouncing and from a key held down."""
