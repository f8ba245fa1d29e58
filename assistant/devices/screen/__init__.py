"""The screen: a view drawn as rows of text, and the terminal that shows them."""
