"""`python -m ribwright` and the `ribwright` command."""

from __future__ import annotations


def main() -> None:
    """Run the command line."""
    from ribwright.cli.app import run

    run()


if __name__ == "__main__":
    main()
