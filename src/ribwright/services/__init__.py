"""One function is one thing that a builder does, in one transaction."""
