"""`python -m bandwright` does what `bandwright` does."""

from bandwright.entry import main

if __name__ == "__main__":
    main()
