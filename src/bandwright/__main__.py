"""`python -m bandwright` does what `bandwright` does."""

from bandwright.cli import main

if __name__ == "__main__":
    main()
