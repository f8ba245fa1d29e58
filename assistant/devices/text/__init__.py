"""Lines of text in place of ears and voice, and the standard streams that carry them."""
