"""What is kept: readings files, the journal, reports and machine profiles."""
