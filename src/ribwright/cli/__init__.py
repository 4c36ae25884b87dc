"""The command line: a noun, then a verb; results on stdout, talk on stderr, ``--json`` everywhere."""
