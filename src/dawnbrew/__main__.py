"""Runs the command line as `python -m dawnbrew`."""

from dawnbrew.cli.main import main

if __name__ == "__main__":
    main()
