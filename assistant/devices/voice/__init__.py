"""Text to sound: the voices, how loud and how clear they speak, and the tones before them."""
