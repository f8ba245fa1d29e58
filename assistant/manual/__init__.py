"""The manual: what can be said and pressed, ways of measuring, trouble; as text or a page."""
