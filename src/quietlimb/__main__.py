"""`python -m quietlimb`: the command line, also where no command was installed."""

from quietlimb.cli.main import main

if __name__ == "__main__":
    main()
