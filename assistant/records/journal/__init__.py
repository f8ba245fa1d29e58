"""The record: every event of every job in SQLite, opened, rescued, taken up again."""
