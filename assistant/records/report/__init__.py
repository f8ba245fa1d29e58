"""What is printed of a job: report, sheet for the wall and trend, as HTML and PDF."""
