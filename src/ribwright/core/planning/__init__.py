"""What to do next, what to order by when, when it flies and how sure, and whether the cash is there."""
