"""The record: canonical text, the chain of entries, and the pure fold into projections.

What is hashed and chained here is the only truth of a project; every table is a projection of it.
"""
