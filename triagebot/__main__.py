"""`python -m triagebot`."""

from triagebot.cli import main

if __name__ == "__main__":
    main()
