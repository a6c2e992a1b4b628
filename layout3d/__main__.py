"""Run the command as ``python -m layout3d``."""

from layout3d.cli import main

if __name__ == "__main__":
    main()
