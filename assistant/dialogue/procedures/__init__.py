"""The procedures of a job, each in a file: its phases, words, rows and what they do."""
